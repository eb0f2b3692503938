"""What would be right where a rule cannot be read: an answer to common slips, else what may stand there."""

import re
from collections.abc import Collection
from typing import Final

_SAID: Final = {
    "DURATION": "a duration such as 90s, 10min or 3h",
    "CLOCK": "a time such as 22:00",
    "SUN": "sunrise or sunset",
    "NAME": "a name",
    "COUNT": "a number",
    "LIMIT": "limit and the name of a table of limits",
    "DAY": "a day (mon, tue, wed, thu, fri, sat, sun)",
    "COMPARISON": "a comparison (<, <=, >, >=)",
    "SWITCH": "on or off",
    "UNIT": "a unit (C, %, ppm, ug/m3, W, lx)",
    "NUMBER": "a number",
    "QUANTITY": "a number with its unit, as in 16C",
    "SHIFT": "a shift such as +30min",
    "LPAR": "(",
    "RPAR": ")",
    "COMMA": "a comma",
    "MINUS": "-",
    "$END": "the end of the rule",
}

_UNIT_OF: Final = {
    word: unit
    for unit, words in {
        "ms": "ms",
        "s": "s sec secs second seconds",
        "min": "m min mins minute minutes",
        "h": "h hr hrs hour hours",
        "d": "d day days",
    }.items()
    for word in words.split()
}


def hint(text: str, position: int, allowed: Collection[str]) -> str:
    """Return what would be right at a position of a rule; ``allowed`` are the grammar's terminals that fit there."""
    before, rest = text[:position].rstrip(), text[position:]
    return _of_figures(before, rest) or _of_words(before, rest, allowed) or _what_fits(allowed)


def _of_figures(before: str, rest: str) -> str:
    if re.match(r"\d{1,2}(:\d\d)?\s*(am|pm)\b", rest):
        return "Write times as 08:00 or 20:00."
    amount = re.match(r"(\d+(?:\.\d+)?)\s*([a-z]*)", rest)
    if amount and re.search(r"\b(for|within)$", before):
        number, word = amount.groups()
        if word in _UNIT_OF:
            return f"Write it as {number}{_UNIT_OF[word]}."
        return f"A duration needs its unit: {number}s, {number}min or {number}h."
    return ""


def _of_words(before: str, rest: str, allowed: Collection[str]) -> str:
    if rest.startswith(("=", "!")):
        return "Say `is` for a state (holiday is off) and < or > for a number."
    if rest.startswith("&"):
        return "Say `and`."
    if rest.startswith("|"):
        return "Say `or`."
    if rest.startswith(")"):
        return "No bracket is open here."
    if rest[:1].isupper():
        return "Names and words are written in small letters."
    if not rest and re.search(r"\bno\b", before) and not re.search(r"\bfor\b", before):
        return "Say for how long: `no hall_pir.movement for 3h`."
    switched = re.match(r"(on|off)\b", rest)
    name = re.search(r"\b[a-z][a-z0-9_]*$", before)
    if switched and name and "COMPARISON" in allowed:
        level = f"{name.group()}.on" if switched.group() == "on" else f"not {name.group()}.on"
        return f"Say `{name.group()} is {switched.group()}` of a state, `{level}` of a part."
    return ""


def _what_fits(allowed: Collection[str]) -> str:
    words = sorted({_SAID.get(name, name.lower()) for name in allowed if not name.startswith("__")})
    return "Here may stand: " + ", ".join(words) + "." if words else ""

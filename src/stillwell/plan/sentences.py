"""What pydantic found wrong, in plain sentences of our own."""

from collections.abc import Mapping
from difflib import get_close_matches
from typing import Any, Final

from pydantic_core import ErrorDetails

from stillwell.plan.fault import Fault, Path
from stillwell.plan.fields import is_list_of_tables, is_table_of_tables, keys_at, words_at
from stillwell.plan.kinds import ALSO_CALLED
from stillwell.plan.naming import met, nearest, short
from stillwell.plan.texts import RuleFault

SAMPLES: Final[Mapping[tuple[str, str], str]] = {
    ("home", "name"): 'name = "Cottage on the hill"',
    ("home", "timezone"): 'timezone = "Europe/London"',
    ("resident", "name"): 'name = "Ada"',
    ("rooms", "outline"): "outline = [[0, 0], [4, 0], [4, 3], [0, 3]]",
    ("openings", "kind"): 'kind = "door"',
    ("openings", "rooms"): 'rooms = ["hall", "outside"]',
    ("parts", "kind"): 'kind = "movement"',
    ("parts", "topic"): 'topic = "hall/pir/state"',
    ("parts", "signal"): 'signal = "movement"',
    ("states", "values"): 'values = ["off", "on"]',
    ("states", "initial"): 'initial = "off"',
    ("limits", "longest"): 'longest = "12h"',
    ("limits", "limit"): 'limit = "2h"',
    ("people", "name"): 'name = "Ben"',
    ("people", "channels"): 'channels = { call = "30s", text = "1min" }',
    ("calls", "steps"): 'steps = [{ whom = ["ben"], by = "call", wait = "5min" }]',
    ("calls", "whom"): 'whom = ["ben"]',
    ("calls", "by"): 'by = "call"',
    ("calls", "wait"): 'wait = "5min"',
    ("hazard", "name"): 'name = "collapse"',
    ("hazard", "kind"): 'kind = "collapse"',
    ("hazard", "deadline"): 'deadline = { day = "4h", night = "10h" }',
    ("hazard", "day"): 'day = "4h"',
    ("hazard", "night"): 'night = "10h"',
    ("alarm", "name"): 'name = "No sign of life"',
    ("alarm", "hazard"): 'hazard = "collapse"',
    ("alarm", "when"): 'when = "no sign_of_life for 3h"',
    ("alarm", "call"): 'call = "family"',
    ("aid", "name"): 'name = "Lamp at night"',
    ("aid", "when"): 'when = "hall_pir.movement"',
    ("aid", "do"): 'do = ["hall_lamp on for 5min"]',
    ("never", "claim"): 'claim = "camera.on and house is occupied"',
    ("upkeep", "call"): 'call = "family"',
}
"""For each key that must be there, a line that would be right."""

_WANTED: Final[Mapping[str, str]] = {
    "string_type": "text in quotes",
    "is_instance_of": "text in quotes",
    "int_type": "a whole number",
    "int_from_float": "a whole number",
    "int_parsing": "a whole number",
    "float_type": "a number",
    "bool_type": "true or false",
    "tuple_type": "a list in square brackets",
    "dict_type": "a table",
    "mapping_type": "a table",
    "model_type": "a table",
    "model_attributes_type": "a table",
}


def fault_of(error: ErrorDetails) -> Fault:
    """Turn one of pydantic's errors into a fault of the plan."""
    path: Path = tuple(error["loc"])
    kind, value = error["type"], error["input"]
    context: Mapping[str, Any] = error.get("ctx", {})
    if kind == "missing":
        return _missing(path)
    if kind == "extra_forbidden":
        return _unknown_key(path)
    if kind == "literal_error":
        return _not_allowed(path, value)
    if kind == "value_error" and isinstance(context.get("error"), RuleFault):
        return _unreadable(path, context["error"])
    if kind == "string_pattern_mismatch" or (kind == "string_too_long" and path[-1:] == ("[key]",)):
        return _bad_text(path, str(value))
    if kind in _WANTED:
        return Fault(path, "wrong-type", f"{met(value)} does not fit here", _type_remedy(path, kind))
    return _out_of_range(path, kind, value, context)


def _missing(path: Path) -> Fault:
    table, key = str(path[0]), path[-1]
    if isinstance(key, int):
        return Fault(path[:-1], "too-few", "this list is too short", f"Give {key + 1} values or more.")
    if len(path) == 1:
        return Fault(path, "missing-key", f"there is no [{table}]", f"Write [{table}] with its keys below it.")
    sample = SAMPLES.get((table, key))
    return Fault(path, "missing-key", f"{key} is missing", f"Add a line such as: {sample}" if sample else "")


def _unknown_key(path: Path) -> Fault:
    key, known = str(path[-1]), keys_at(path[:-1])
    hint = nearest(key, known, "Keys here" if len(path) > 1 else "Tables")
    thing = "key" if len(path) > 1 else "table"
    return Fault(path, "unknown-key", f'there is no {thing} "{short(key)}" here', hint, at_key=True)


def _not_allowed(path: Path, value: object) -> Fault:
    words = words_at(path)
    what, hint = f"{met(value)} does not fit here", ""
    if isinstance(value, str):
        what = f'"{short(value)}" is not known here'
        meant = ALSO_CALLED.get(value.casefold())
        near = get_close_matches(value.casefold(), words, n=1, cutoff=0.6) if meant not in words else [meant]
        hint = f"Did you mean {near[0]}? " if near else ""
    return Fault(path, "not-allowed", what, f"{hint}It is one of: {', '.join(words)}.")


def _unreadable(path: Path, fault: RuleFault) -> Fault:
    stretch = None if fault.code in {"bad-duration", "bad-time", "bad-days"} else fault.mistake.at
    return Fault(path, fault.code, short_lines(fault.mistake.what), fault.mistake.hint, stretch)


def short_lines(text: str) -> str:
    """Keep a sentence that quotes what was met on one line."""
    return "".join(character if character.isprintable() else " " for character in text)[:200]


def _bad_text(path: Path, value: str) -> Fault:
    if path[-1] == "[key]":
        what = f'"{short(value)}" cannot be a name'
        return Fault(path[:-1], "bad-name", what, _NAME_RULE, at_key=True)
    if len(path) > 1 and path[0] == "states":
        return Fault(path, "bad-name", f'"{short(value)}" cannot be a name', _NAME_RULE)
    if len(path) > 3 and path[0] == "parts" and path[-1] in _WIRING:
        return Fault(path, "bad-text", f'"{short(value)}" is no {path[-1]}', _WIRING[str(path[-1])])
    if not value.strip():
        return Fault(path, "empty", "there is no text here", "Write what people call it.")
    return Fault(
        path, "bad-text", "this text has a blank at its end or several lines", "Write one line, no blanks around it."
    )


_POINTER_RULE: Final = 'Write where the value stands in the payload, as in "/battery/percent".'
_WIRING: Final[Mapping[str, str]] = {
    "topic": "Write one whole topic, without + and #.",
    "signal": "Write the word after the dot, as in movement or battery.",
    "pointer": _POINTER_RULE,
    "sequence": _POINTER_RULE,
    "stamped": _POINTER_RULE,
}

_NAME_RULE: Final = "Names are small letters, digits and _, and begin with a letter; at most 60 characters."


def _type_remedy(path: Path, kind: str) -> str:
    if len(path) == 1 and is_list_of_tables(str(path[0])):
        return f"Write [[{path[0]}]] in double brackets, once for each."
    if len(path) == 1 and is_table_of_tables(str(path[0])):
        inner = f"{path[0]}.name" if path[0] != "signals" else str(path[0])
        return f"Write [{inner}] in single brackets."
    if len(path) == 2 and is_table_of_tables(str(path[0])) and path[0] != "signals":
        return f"Write [{path[0]}.{path[1]}] and its keys below it."
    return f"Write {_WANTED[kind]}."


def _out_of_range(path: Path, kind: str, value: object, context: Mapping[str, Any]) -> Fault:
    match kind:
        case "greater_than_equal":
            return Fault(path, "out-of-range", f"{met(value)} is too small", f"The least is {context['ge']:g}.")
        case "less_than_equal":
            return Fault(path, "out-of-range", f"{met(value)} is too large", f"The most is {context['le']:g}.")
        case "too_short" if context["actual_length"] == 0:
            return Fault(path, "too-few", "there is nothing here", f"Give at least {context['min_length']}.")
        case "too_short":
            return Fault(path, "too-few", "this list is too short", f"Give at least {context['min_length']}.")
        case "too_long":
            return Fault(path, "too-many", "this list is too long", f"Give at most {context['max_length']}.")
        case "string_too_long":
            return Fault(path, "too-long", "this text is too long", f"{context['max_length']} letters are the most.")
        case "finite_number":
            return Fault(path, "out-of-range", "this is no finite number", "Write an ordinary number.")
        case _:
            return Fault(
                path, "unfit", f"{met(value)} does not fit here", "See the table of keys in docs/home-file.md."
            )

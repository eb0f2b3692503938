"""Text to formula and action; a mistake says where it stands and what would be right."""

import math
import re
from functools import lru_cache
from importlib.resources import files
from typing import cast

from lark import Lark, Token, Transformer_NonRecursive, Tree, v_args
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken, VisitError
from lark.tree import Meta

from stillwell.civiltime import ClockTime, SunTime, TimeOfDay
from stillwell.rules.formula import (
    Action,
    And,
    At,
    Between,
    Compare,
    CountWithin,
    EndOf,
    Formula,
    HeldFor,
    NoneFor,
    NoneForLimit,
    Not,
    OnDays,
    Or,
    SetState,
    Signal,
    StartOf,
    StateIs,
    Stretch,
    Switch,
    Then,
    Without,
)
from stillwell.rules.hints import hint
from stillwell.rules.kinds import Mistake, RuleMistake

LONGEST_RULE = 1000
DEEPEST_RULE = 30
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
UNITS_MS = {"ms": 1, "s": 1000, "min": 60_000, "h": 3_600_000, "d": 86_400_000}
LONGEST_MS = 400 * UNITS_MS["d"]
_PIECE = re.compile(r"(\d+(?:\.\d+)?)(ms|min|s|h|d)")
_DURATION = re.compile(r"(?:\d+(?:\.\d+)?(?:ms|min|s|h|d))+")


def parse_formula(text: str) -> Formula:
    """Read a formula. Raises RuleMistake with the place in the text and a hint."""
    return cast("Formula", _parse(text, "formula"))


def parse_action(text: str) -> Action:
    """Read an action such as ``lounge_lamp on for 2h``. Raises RuleMistake."""
    return cast("Action", _parse(text, "action"))


def parse_duration_ms(text: str) -> int:
    """Read ``90s``, ``2h30min``, ``1.5h`` as milliseconds. Raises RuleMistake."""
    return _duration_ms(text.strip(), (0, len(text)))


def _duration_ms(text: str, at: Stretch) -> int:
    if not _DURATION.fullmatch(text):
        raise RuleMistake(Mistake(f"{text!r} is no duration", at, "Say 90s, 10min, 3h, 2d or 2h30min."))
    total = 0.0
    for amount, unit in _PIECE.findall(text):
        if len(amount) > 15:
            total = float("inf")
            break
        total += float(amount) * UNITS_MS[unit]
    if not 1 <= total <= LONGEST_MS:
        raise RuleMistake(Mistake(f"{text} is out of range", at, "A duration lies between 1ms and 400d."))
    return round(total)


def _parse(text: str, start: str) -> Formula | Action:
    if len(text) > LONGEST_RULE:
        raise RuleMistake(
            Mistake(
                f"this rule is {len(text)} characters long; {LONGEST_RULE} is the most",
                (LONGEST_RULE, len(text)),
                "Give parts of it a name under [signals].",
            )
        )
    if not text.strip():
        raise RuleMistake(Mistake("there is nothing here", (0, 1), "Say what must hold, or leave the key out."))
    try:
        tree = _parser().parse(text, start=start)
        _refuse_depth(text, tree)
        return cast("Formula | Action", _BUILDER.transform(tree))
    except VisitError as error:
        if isinstance(error.orig_exc, RuleMistake):
            raise error.orig_exc from error
        raise
    except UnexpectedInput as error:
        raise RuleMistake(_unexpected(text, error)) from error


def _refuse_depth(text: str, tree: Tree[Token]) -> None:
    level: list[Tree[Token]] = [tree]
    for _ in range(DEEPEST_RULE):
        level = [child for one in level for child in one.children if isinstance(child, Tree)]
        if not level:
            return
    hint = "Give parts of it a name under [signals]."
    raise RuleMistake(Mistake(f"this rule is nested more than {DEEPEST_RULE} deep", (0, len(text)), hint))


@lru_cache(maxsize=1)
def _parser() -> Lark:
    grammar = files("stillwell.rules").joinpath("grammar.lark").read_text("utf-8")
    return Lark(grammar, parser="lalr", start=["formula", "action"], propagate_positions=True, maybe_placeholders=False)


def _unexpected(text: str, error: UnexpectedInput) -> Mistake:
    if isinstance(error, UnexpectedCharacters):
        at = (error.pos_in_stream or 0, (error.pos_in_stream or 0) + 1)
        word = re.match(r"[\w.:%°-]+|.", text[at[0] :], re.DOTALL)
        met = word.group() if word else text[at[0]]
        allowed = error.allowed or set()
        at = (at[0], at[0] + len(met))
    elif isinstance(error, UnexpectedToken):
        if error.token.type == "$END":
            at, met = (len(text), len(text) + 1), ""
        else:
            at, met = (error.token.start_pos or 0, error.token.end_pos or 0), str(error.token)
        allowed = set(error.accepts or error.expected)
    else:  # lark has no third kind; say the least that is true
        return Mistake("this cannot be read as a rule", (0, len(text)))
    what = f"{met!r} does not fit here" if met else "the rule stops too early"
    return Mistake(what, at, hint(text, at[0], allowed))


def _clock(token: Token) -> ClockTime:
    hours, minutes = (int(piece) for piece in token.split(":"))
    if hours > 23 or minutes > 59:
        hint = "Midnight is 00:00." if hours == 24 else "Times run from 00:00 to 23:59."
        raise RuleMistake(Mistake(f"{token} is no time of day", _of(token), hint))
    return ClockTime(hours * 60 + minutes)


def _of(token: Token) -> Stretch:
    return token.start_pos or 0, token.end_pos or 0


def _span(meta: Meta) -> Stretch:
    return (meta.start_pos, meta.end_pos) if not meta.empty else (0, 0)


def _ms(token: Token) -> int:
    return _duration_ms(str(token), _of(token))


@v_args(inline=True, meta=True)
class _Builder(Transformer_NonRecursive):  # type: ignore[type-arg]
    """Builds the nodes from the tree."""

    def signal(self, meta: Meta, name: Token) -> Formula:
        return Signal(str(name), at=_span(meta))

    def state_is(self, meta: Meta, state: Token, value: Token) -> Formula:
        return StateIs(str(state), str(value), at=_span(meta))

    def state_is_not(self, meta: Meta, state: Token, value: Token) -> Formula:
        return Not(StateIs(str(state), str(value), at=_span(meta)), at=_span(meta))

    def compare(self, meta: Meta, name: Token, sign: Token, quantity: tuple[float, str]) -> Formula:
        if math.isinf(quantity[0]):
            raise RuleMistake(Mistake("this figure is out of range", _span(meta), "Write an ordinary number."))
        return Compare(str(name), str(sign), *quantity, at=_span(meta))

    def quantity(self, _meta: Meta, number: Token, unit: Token) -> tuple[float, str]:
        return float(number), str(unit).replace("°", "")

    def quantity_joined(self, _meta: Meta, token: Token) -> tuple[float, str]:
        number = re.match(r"-?\d+(\.\d+)?", token)
        assert number is not None
        return float(number.group()), str(token)[number.end() :].replace("°", "")

    def clock(self, _meta: Meta, token: Token) -> TimeOfDay:
        return _clock(token)

    def sun(self, _meta: Meta, event: Token, shift: Token | None = None) -> TimeOfDay:
        if shift is None:
            return SunTime("sunrise" if event == "sunrise" else "sunset")
        sign = -1 if shift[0] == "-" else 1
        text = str(shift)[1:].strip()
        offset_ms = sign * _duration_ms(text, _of(shift))
        if abs(offset_ms) > 6 * UNITS_MS["h"]:
            raise RuleMistake(Mistake(f"{shift} is out of range", _of(shift), "Shift the sun by at most 6h."))
        return SunTime("sunrise" if event == "sunrise" else "sunset", offset_ms)

    def between(self, meta: Meta, start: TimeOfDay, end: TimeOfDay) -> Formula:
        return Between(start, end, at=_span(meta))

    def at(self, meta: Meta, time: TimeOfDay) -> Formula:
        return At(time, at=_span(meta))

    def one_day(self, _meta: Meta, day: Token) -> frozenset[int]:
        return frozenset({DAYS.index(day)})

    def day_range(self, _meta: Meta, first: Token, last: Token) -> frozenset[int]:
        start, stop = DAYS.index(first), DAYS.index(last)
        return frozenset((start + step) % 7 for step in range((stop - start) % 7 + 1))

    def on_days(self, meta: Meta, *days: frozenset[int]) -> Formula:
        return OnDays(frozenset().union(*days), at=_span(meta))

    def start_of(self, meta: Meta, body: Formula) -> Formula:
        return StartOf(body, at=_span(meta))

    def end_of(self, meta: Meta, body: Formula) -> Formula:
        return EndOf(body, at=_span(meta))

    def held_for(self, meta: Meta, body: Formula, duration: Token) -> Formula:
        return HeldFor(body, _ms(duration), at=_span(meta))

    def none_for(self, meta: Meta, body: Formula, duration: Token) -> Formula:
        return NoneFor(body, _ms(duration), at=_span(meta))

    def none_for_limit(self, meta: Meta, body: Formula, limit: Token) -> Formula:
        if "." in limit:
            raise RuleMistake(Mistake(f"{limit} is no table of limits", _of(limit), "Say its name, as in limit quiet."))
        return NoneForLimit(body, str(limit), at=_span(meta))

    def count_within(self, meta: Meta, count: Token, body: Formula, duration: Token) -> Formula:
        number = int(count) if len(count) < 6 else 0
        if not 1 <= number <= 1000:
            raise RuleMistake(Mistake(f"{count} is out of range", _of(count), "Count from 1 to 1000."))
        return CountWithin(number, body, _ms(duration), at=_span(meta))

    def then(self, meta: Meta, first: Formula, second: Formula, duration: Token) -> Formula:
        return Then(first, second, _ms(duration), at=_span(meta))

    def without(self, meta: Meta, first: Formula, second: Formula, duration: Token) -> Formula:
        return Without(first, second, _ms(duration), at=_span(meta))

    def negated(self, meta: Meta, body: Formula) -> Formula:
        return Not(body, at=_span(meta))

    def all_of(self, meta: Meta, *parts: Formula) -> Formula:
        return And(parts, at=_span(meta))

    def either(self, meta: Meta, *parts: Formula) -> Formula:
        return Or(parts, at=_span(meta))

    def switch(self, meta: Meta, part: Token, way: Token, duration: Token | None = None) -> Action:
        for_ms = None if duration is None else _ms(duration)
        if way == "off" and for_ms is not None:
            raise RuleMistake(
                Mistake("`off for` is not possible", _span(meta), f"Say `{part} off`, and a second rule for on.")
            )
        return Switch(str(part), way == "on", for_ms, at=_span(meta))

    def set_state(self, meta: Meta, state: Token, value: Token) -> Action:
        return SetState(str(state), str(value), at=_span(meta))


_BUILDER = _Builder()

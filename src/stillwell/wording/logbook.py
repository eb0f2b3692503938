"""What happened at a home, an entry each, as one would write it into a book."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from stillwell.plan.model import Plan
from stillwell.wording.durations import rounded
from stillwell.wording.rules import name_alone
from stillwell.wording.vocabulary import spaced

About = Literal["alarm", "drill", "person", "sight", "watch", "aid"]

_DRILL: Final = "drill: "
_WORTH_TELLING_MS: Final = 60_000
_AWAY: Final = re.compile(r"it left off (\d+) s ago")
_ANSWERS: Final = {
    "answered looking": "{by} is looking after {what}",
    "answered well": "{by} answered {what}: all is well",
    "answered cannot": "{by} cannot look after {what}",
    "shelved": "{by} set {what} aside{why}",
    "unshelved": "{by} put {what} back{why}",
    "takenout": "{by} took {what} out of service{why}",
    "putback": "{by} put {what} back in service{why}",
    "drill begun": "{by} began a drill of {what}",
    "drill answered": "{by} answered the drill of {what}",
}
_WATCH: Final = {
    "paused": "{by} paused the watch{why}",
    "pause ended": "The pause ended{by_whom}",
    "plan changed": "Another plan was taken into use{by_whom}",
    "watch begun": "The watch began",
    "watch started": "The watch started again{after}",
    "watch ended": "The watch was ended",
}


@dataclass(frozen=True, slots=True)
class Entered:
    """An entry and what it is about."""

    about: About
    sentence: str


def entry(what: str, subject: str, by: str, why: str, plan: Plan, parts: Mapping[str, str]) -> Entered | None:
    """Put a fact of the store into words; None for one that another entry says better.

    ``parts`` says of each alarm that tells of a lost part which part it is, in words.
    """
    drill = subject.startswith(_DRILL)
    name = subject.removeprefix(_DRILL)
    words = {
        "by": _name(by, plan) if by else "Somebody",
        "by_whom": f", by {_name(by, plan)}" if by else "",
        "what": f"{parts[name]}, out of touch" if name in parts else f"“{name}”",
        "why": f": {why}" if why else "",
        "after": f", after {rounded(away_ms)}" if (away_ms := _away_ms(why)) >= _WORTH_TELLING_MS else "",
    }
    if what in _ANSWERS:
        if not by:  # the state that a deed led to has the same word; the deed tells more
            return None
        return Entered("drill" if drill or what.startswith("drill") else "person", _ANSWERS[what].format(**words) + ".")
    if subject == "watch":
        text = _WATCH.get(what, what + "{why}").format(**words)
        return Entered("watch", f"{text[:1].upper()}{text[1:]}.")
    if what.startswith("set to "):
        return Entered("person", f"{words['by']} set {spaced(name)} to {spaced(what.removeprefix('set to '))}.")
    if what == "raised" and not drill:
        if name in parts:
            return Entered("sight", f"{_begun(parts[name])} is out of touch.")
        return Entered("alarm", f"“{name}” was raised.")
    if what == "returned to normal" and not drill:
        if name in parts:
            return Entered("sight", f"{_begun(parts[name])} is back.")
        return Entered("alarm", f"“{name}” is over.")
    if what.startswith(("told ", "could not tell ")):
        return Entered("drill" if drill else "person", _telling(what, words, plan))
    return Entered("aid", f"“{name}” acted.") if what == "acted" else None


def _away_ms(why: str) -> int:
    found = _AWAY.search(why)
    return int(found[1]) * 1000 if found is not None else 0


def _telling(what: str, words: Mapping[str, str], plan: Plan) -> str:
    failed = what.startswith("could")
    person, _, channel = what.removeprefix("could not tell " if failed else "told ").rpartition(" by ")
    if failed:
        return f"{_name(person, plan)} could not be told by {channel} of {words['what']}{words['why']}."
    return f"{_name(person, plan)} was told by {channel} of {words['what']}."


def _name(person: str, plan: Plan) -> str:
    known = plan.people.get(person)
    return name_alone(known.name) if known is not None else person


def _begun(text: str) -> str:
    return text[:1].upper() + text[1:]

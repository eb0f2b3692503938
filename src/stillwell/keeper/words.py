"""What the keeper says, in plain sentences."""

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from stillwell.keeper.dark import Seen
from stillwell.wording.counting import listed
from stillwell.wording.durations import rounded
from stillwell.wording.instants import moment


class Said(NamedTuple):
    """A message: one line that says it all, and the whole of it."""

    subject: str
    text: str


def dark_message(name: str, state: Seen, at_ms: int, others: Sequence[str], zone: ZoneInfo) -> Said:
    """Say that a home is dark, since when, what is asked, and who else was told; ``at_ms`` is when it is said."""
    since = moment(zone, state.alive_ms)
    asked_at_ms, raised_at_ms = state.alarm.life.asked_at_ms, state.alarm.life.raised_at_ms
    again = asked_at_ms is not None and raised_at_ms is not None and asked_at_ms > raised_at_ms
    if not state.is_dark:
        subject = f"{name} was dark and is heard again"
        first = f"{name} went dark and is heard again; nobody has answered yet. Please say that you know."
    else:
        subject = f"{name} is {'still ' if again else ''}dark since {since}"
        first = (
            f"Nothing has been heard of the watch at {name} since {since} ({rounded(at_ms - state.alive_ms)}), and "
            "until it is back no alarm there reaches anybody: please look whether all is well there, and say that "
            "you do."
        )
    told = f"Also told: {listed(list(others))}." if others else "Nobody else has been told yet."
    return Said(subject, " ".join([first, *_last_words(state), told]))


def _last_words(state: Seen) -> list[str]:
    beat = state.beat
    if beat is None or not state.is_dark:
        return []
    said = [f"The last alarms it told of: {listed(list(beat.alarms))}."] if beat.alarms else []
    return [*said, *([f"It last said of itself: {listed(list(beat.remarks))}."] if beat.remarks else [])]


def ahead_sentence(ahead_ms: int, than: str) -> str:
    """Say how far a clock is off."""
    return f"{rounded(abs(ahead_ms))} {'ahead of' if ahead_ms > 0 else 'behind'} {than}"

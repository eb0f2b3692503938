"""What a night's learning came to, a sentence for a table."""

from stillwell.limits.proposal import FEW_DAYS
from stillwell.limits.realised import Judged
from stillwell.limits.relearn import Night
from stillwell.wording.counting import counted
from stillwell.wording.durations import at_most, exact


def night_sentence(night: Night) -> str:
    """Say what became of a table of limits, and why."""
    match night.verdict:
        case "changed":
            return f"{_moved(night)} {_compared(night)}"
        case "as it was":
            return f"Learned anew from {counted(night.days, 'day')}: nothing differs."
        case "too few days":
            return f"{counted(night.days, 'day')} count, and {FEW_DAYS} are needed."
        case "too many false alarms":
            return f"{_moved(night)} {_compared(night)} That is more than is allowed, so nothing was changed."


def unproved_sentence(night: Night) -> str:
    """Say that a change was not taken because the proof is worse."""
    return f"{_moved(night)} By the proof somebody would be told in time less often, so nothing was changed."


def _moved(night: Night) -> str:
    moved = f"{counted(night.changed, 'limit')} moved by {exact(night.most_ms)} at most"
    return f"Learned anew from {counted(night.days, 'day')}: {moved} (one for each part and half-hour of the week)."


def _compared(night: Night) -> str:
    before, after = night.before, night.after
    if before is None or after is None:
        return ""
    return f"On the last {counted(after.days, 'day')}: {_did(after)}, rather than {_did(before)}."


def _did(judged: Judged) -> str:
    median = judged.whole.median
    noticed = "never noticed" if median is None else f"silence noticed after {at_most(median * 1000)} half the time"
    return f"{counted(judged.false.count, 'false alarm')} and {noticed}"

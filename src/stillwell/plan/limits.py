"""A table of limits: how long silence may last after a sign of life, by where and when that sign was."""

from typing import Annotated

from pydantic import ConfigDict, Field

from stillwell.civiltime import ClockTime
from stillwell.plan.base import Model, Name
from stillwell.plan.texts import EVERY_DAY, ClockText, DaysText, DurationMs


class LimitRow(Model):
    """How long it may be quiet after a sign to which all that is said here applies. What is left out applies to all."""

    room: str | None = None
    """The sign came from this room: from a part in it, or on one of its doors and windows."""
    last: str | None = None
    """The sign was this one of the signals that the table's signal is made of, as in front_contact.opened."""
    from_: Annotated[ClockText | None, Field(alias="from")] = None
    """The sign came at or after this time of day, as in 22:00; with `to`."""
    to: ClockText | None = None
    """The sign came before this time of day; over midnight where it is the earlier."""
    days: DaysText = EVERY_DAY
    """The local day of the sign: all, weekdays, weekends, or days as in "mon-thu, sun"."""
    after_door: DurationMs | None = None
    """A door to the outside was opened or shut at most so long before the sign, or is the sign itself."""
    limit: DurationMs
    """How long silence may last then."""

    model_config = ConfigDict(populate_by_name=True)

    @property
    def hours(self) -> tuple[ClockTime, ClockTime] | None:
        """Return when in the day the row applies; None: all day."""
        return None if self.from_ is None or self.to is None else (self.from_, self.to)


class LimitTable(Model):
    """How long silence may last. Of the rows that apply to the last sign the first counts."""

    signal: Name = "sign_of_life"
    """The signal whose silence is meant."""
    longest: DurationMs
    """No limit is longer than this; it is the limit where no row applies."""
    rows: Annotated[tuple[LimitRow, ...], Field(max_length=500)] = ()
    why: str = ""
    """Where the figures come from."""
    one_false_in: DurationMs | None = None
    """What the figures are learned for: at most one false alarm in so long."""
    relearn: DurationMs | None = None
    """By how much the watch may change a limit in one night, learning anew from what it heard. Without it: never."""
    shortest: DurationMs | None = None
    """No limit becomes shorter than this at night."""

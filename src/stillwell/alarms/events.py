"""What can happen to one alarm. Times are milliseconds UTC."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Raised:
    """The condition of the alarm has become true."""


@dataclass(frozen=True, slots=True)
class Returned:
    """The condition of the alarm is no longer true."""


@dataclass(frozen=True, slots=True)
class Acknowledged:
    """`by` knows of the alarm and is looking after it.

    `asked_at_ms` names the asking that was answered, as `Life.asked_at_ms` had it when the person
    was told. An answer to another asking came late and changes nothing. None answers whatever
    is being asked now: for a page that shows the present state.
    """

    by: str
    asked_at_ms: int | None = None


@dataclass(frozen=True, slots=True)
class Cannot:
    """`by` was asked and says that they cannot look after it, at once or after having acknowledged.

    `asked_at_ms` as in `Acknowledged`.
    """

    by: str
    asked_at_ms: int | None = None


@dataclass(frozen=True, slots=True)
class ReAlarmed:
    """The alarm asks again although it was acknowledged (the standard's re-alarm)."""


@dataclass(frozen=True, slots=True)
class Shelved:
    """`by` sets the alarm aside until `until_ms`, and no longer: shelving always ends by itself."""

    by: str
    until_ms: int


@dataclass(frozen=True, slots=True)
class Unshelved:
    """The alarm is taken from the shelf, by hand or because its time is up."""


@dataclass(frozen=True, slots=True)
class TakenOut:
    """`by` takes the alarm out of service until it is put back by hand."""

    by: str


@dataclass(frozen=True, slots=True)
class PutBack:
    """The alarm is put back in service."""

"""What a running watch says of itself. Times are milliseconds UTC; what ends in ``sentence`` is for people to read."""

from dataclasses import dataclass
from typing import Any, Final, Literal, TypeAlias

from pydantic import TypeAdapter

Do: TypeAlias = Literal["acknowledge", "cannot", "shelve", "clear", "out", "back"]
"""What a person does with an alarm. ``acknowledge``: somebody looks after it. ``cannot``: whoever looked after it, or
was asked, cannot. ``shelve``: set aside until an instant. ``clear``: all is well. ``out``: out of service until put
back. ``back``: off the shelf, or back in service."""

DEEDS: Final[tuple[Do, ...]] = ("acknowledge", "cannot", "shelve", "clear", "out", "back")


@dataclass(frozen=True, slots=True)
class Told:
    """A person by one channel in the present asking.

    ``at_ms``: when the newest message was due. ``sent_ms``: when one was last handed over, ``first_ms`` when the first
    was, ``times`` how many were (None, None and 0: none was). ``why``: why the newest was not, empty where it was.
    """

    person: str
    name: str
    channel: str
    at_ms: int
    sent_ms: int | None
    attempts: int
    why: str
    first_ms: int | None = None
    times: int = 1


@dataclass(frozen=True, slots=True)
class Said:
    """What a person answered in the present asking: looking, well or cannot."""

    person: str
    name: str
    word: str
    at_ms: int


@dataclass(frozen=True, slots=True)
class Next:
    """Whom the call list turns to next, if nobody answers by then."""

    at_ms: int
    names: tuple[str, ...]
    channel: str


@dataclass(frozen=True, slots=True)
class Alarm:
    """An alarm that is not normal.

    ``state`` is that of ISA-18.2: unacknowledged, acknowledged, returned to normal unacknowledged, shelved, out of
    service. ``what`` is its name as people read it, ``kind`` the kind of hazard, ``part`` the lost part it is about.
    ``true_now``: whether what it watches for is true. ``by`` has acknowledged it, or set it aside ``until_ms``.
    """

    name: str
    what: str
    kind: str
    part: str | None
    drill: bool
    state: str
    true_now: bool
    raised_ms: int | None
    asked_ms: int | None
    acknowledged_ms: int | None
    by: str | None
    by_name: str | None
    until_ms: int | None
    sentence: str
    told: tuple[Told, ...]
    said: tuple[Said, ...]
    next: Next | None


@dataclass(frozen=True, slots=True)
class Known:
    """An alarm that the plan has, whatever its state; ``part`` for one that tells of a lost part."""

    name: str
    what: str
    kind: str
    hazard: str
    part: str | None
    call: str


@dataclass(frozen=True, slots=True)
class Part:
    """A part of the home: when it was last heard (None: never), since when it counts as lost (None: it does not)."""

    name: str
    kind: str
    room: str | None
    heard_ms: int | None
    lost_ms: int | None
    sentence: str


@dataclass(frozen=True, slots=True)
class Pause:
    """A pause of the alarms that watch the resident."""

    since_ms: int
    until_ms: int
    by: str
    why: str


@dataclass(frozen=True, slots=True)
class Sign:
    """The last sign of life."""

    at_ms: int
    signal: str
    part: str
    room: str | None


@dataclass(frozen=True, slots=True)
class StateNow:
    """A state of the home, as in holiday is off. ``settable``: whether a person may set it."""

    name: str
    value: str
    values: tuple[str, ...]
    settable: bool


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that ails the watch itself."""

    what: str
    since_ms: int


@dataclass(frozen=True, slots=True)
class Unread:
    """Messages that could not be used, counted."""

    reason: str
    source: str
    times: int
    first_ms: int
    last_ms: int
    sentence: str


@dataclass(frozen=True, slots=True)
class Keeper:
    """The keeper outside: whether it answers, and when it last did (None: never since the watch started)."""

    answers: bool
    answered_ms: int | None


@dataclass(frozen=True, slots=True)
class Drill:
    """A drill: when the first message was handed over and to whom, when and by whom it was answered."""

    alarm: str
    begun_ms: int
    by: str
    told_ms: int | None
    told: tuple[str, ...]
    answered_ms: int | None
    answered_by: str | None


@dataclass(frozen=True, slots=True)
class Status:
    """One home under watch at one instant.

    ``version`` is another one whenever anything here changes, also over a restart. ``plan`` is the fingerprint of the
    plan's text. ``headline`` is the one sentence that matters most. ``remarks`` are what was found wanting in the
    settings at the start. Counts of reports are since this process began.
    """

    version: int
    now_ms: int
    home: str
    resident: str
    timezone: str
    plan: str
    started_ms: int
    decided_ms: int
    headline: str
    alarms: tuple[Alarm, ...]
    known: tuple[Known, ...]
    parts: tuple[Part, ...]
    pause: Pause | None
    last_sign: Sign | None
    states: tuple[StateNow, ...]
    trouble: tuple[Trouble, ...]
    unread: tuple[Unread, ...]
    keeper: Keeper | None
    drills: tuple[Drill, ...]
    remarks: tuple[str, ...]
    messages_waiting: int
    commands_waiting: int
    kept_in_memory: int
    reports: int
    duplicates: int
    late: int
    clock_ahead_ms: int

    @property
    def lost_parts(self) -> tuple[Part, ...]:
        """Return the parts that count as lost."""
        return tuple(part for part in self.parts if part.lost_ms is not None)


@dataclass(frozen=True, slots=True)
class Compared:
    """One difference that a changed plan makes to the proof; ``hazard`` is empty for what concerns the whole home."""

    hazard: str
    sentence: str


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """What became of a changed plan; one that is ``worse`` than the running one is taken only if that is accepted."""

    taken: bool
    same: bool
    plan: str
    worse: tuple[Compared, ...]
    better: tuple[Compared, ...]


@dataclass(frozen=True, slots=True)
class Done:
    """What became of a request: one sentence. ``until_ms`` where something lasts until then."""

    sentence: str
    until_ms: int | None = None


_STATUS: Final = TypeAdapter(Status)
_PLAN: Final = TypeAdapter(PlanAnswer)
_DONE: Final = TypeAdapter(Done)


def plain(shape: Status | PlanAnswer | Done) -> dict[str, Any]:
    """Return a shape as plain values, for JSON."""
    adapter: TypeAdapter[Any] = TypeAdapter(type(shape))
    found: dict[str, Any] = adapter.dump_python(shape, mode="json")
    return found


def status_of(data: bytes) -> Status:
    """Read a status; ValueError for anything else."""
    return _STATUS.validate_json(data)


def plan_answer_of(data: bytes) -> PlanAnswer:
    """Read what became of a changed plan; ValueError for anything else."""
    return _PLAN.validate_json(data)


def done_of(data: bytes) -> Done:
    """Read what became of a request; ValueError for anything else."""
    return _DONE.validate_json(data)

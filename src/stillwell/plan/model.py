"""The plan: one home as checked, frozen values.

The models are the shape of ``home.toml`` as well: what pydantic refuses here is a mistake in the file, and the text
below a key is what an editor shows for it. Durations and rules are written as text (``3h``) and held as more.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import ConfigDict, Field, StringConstraints, model_validator

from stillwell.civiltime import ClockTime
from stillwell.plan.base import Metres, Model, Name, Number, Point, Title, Whole, Yes
from stillwell.plan.limits import LimitRow, LimitTable
from stillwell.plan.texts import Deed, DeedText, DurationMs, Rule, RuleFault, RuleText
from stillwell.rules.formula import Between

__all__ = [
    "Aid", "Alarm", "Call", "Commands", "Deadline", "Deed", "DeedText", "DurationMs", "Figures", "Hazard", "HazardKind",
    "Home", "LimitRow", "LimitTable", "Model", "Name", "Never", "Opening", "Part", "PartKind", "Person", "Plan",
    "PowerCuts", "Rate", "Read", "Resident", "Room", "Rule", "RuleFault", "RuleText", "Scale", "State", "Step",
    "Title", "Upkeep",
]  # fmt: skip

Topic = Annotated[str, StringConstraints(pattern=r"^[^+#\x00-\x1f]+$", max_length=200)]
"""A topic of the message broker, whole: no + and no #."""

Pointer = Annotated[str, StringConstraints(pattern=r"^(/([^~/\x00-\x1f]|~[01])*)+$", max_length=200)]
"""Where a value stands in a JSON payload (RFC 6901): "/battery/percent"."""

_NIGHT = Rule("between 22:00 and 07:00", Between(ClockTime(22 * 60), ClockTime(7 * 60)))


class Home(Model):
    """The place."""

    name: Title
    timezone: str
    """IANA time zone, as in Europe/London."""
    position: tuple[Annotated[Number, Field(ge=-90, le=90)], Annotated[Number, Field(ge=-180, le=180)]] | None = None
    """Degrees north and degrees east; needed where a rule speaks of sunrise or sunset."""
    night: RuleText = _NIGHT
    """When the night deadlines of hazards count: calendar words only. Without it, between 22:00 and 07:00."""
    storeys: Annotated[Whole, Field(ge=1, le=20)] = 1
    retention: DurationMs = 400 * 86_400_000
    """How long the watch keeps what was reported, raised and sent. Without it 400 days: a year, and its start again."""


class Resident(Model):
    """Who lives there."""

    name: Title
    born: Annotated[Whole, Field(ge=1900, le=2100)] | None = None
    """Year of birth."""
    sex: Literal["woman", "man"] | None = None
    """Only for hearing at a given age."""
    refuses: tuple[str, ...] = ()
    """What the resident will not have, in their own words."""
    notes: str = ""


class Room(Model):
    """A room, or a bounded place outside such as a porch."""

    outline: Annotated[tuple[tuple[Metres, Metres], ...], Field(min_length=3, max_length=40)]
    """Corners in metres [east, north], in order around the room."""
    use: str = ""
    """What happens there: sleeping, cooking, washing, way, store, outside."""
    storey: Annotated[Whole, Field(ge=0, le=19)] = 0
    """0 is the lowest storey."""


class Opening(Model):
    """A door or window between a room and another or the outside."""

    kind: Literal["door", "window"]
    rooms: tuple[str, str]
    """The two rooms it joins; one of them may be "outside"."""
    place: tuple[tuple[Metres, Metres], tuple[Metres, Metres]] | None = None
    """Its two edges in metres."""


PartKind = Literal[
    "movement",
    "contact",
    "vibration",
    "pressure",
    "water",
    "smoke",
    "carbon monoxide",
    "temperature",
    "air",
    "outlet",
    "lamp",
    "sounder",
    "push button",
    "camera",
    "radio hub",
    "controller",
    "wearable call button",
]

_ON_MAINS = frozenset({"outlet", "lamp", "camera", "radio hub", "controller"})


def usual_power(kind: object) -> str:
    """Return what feeds a part of this kind where the plan does not say."""
    return "mains" if isinstance(kind, str) and kind in _ON_MAINS else "battery"


class Scale(Model):
    """How a reported number becomes one in the signal's unit: number * times + plus."""

    times: Number = 1.0
    plus: Number = 0.0


class Read(Model):
    """Where one signal of a part comes in, and how to read it."""

    topic: Topic
    signal: Name
    """The signal after the dot: movement, open, battery, ...; alive: it is there; link_lost: its radio is gone."""
    pointer: Pointer | None = None
    """Where the value stands in a JSON payload (RFC 6901). Without it the payload is plain text."""
    values: Annotated[Mapping[str, Literal["yes", "no", "unknown", "nothing"]], Field(max_length=40)] = Field(
        default_factory=dict
    )
    """What the part's own words mean. nothing: it says no more than that it is there."""
    number: Scale | None = None
    """For a number in another unit."""
    sequence: Pointer | None = None
    """Where a number stands that the part never uses twice within a day: a report that comes twice is taken once."""
    stamped: Pointer | None = None
    """Where the report says when it was made (seconds or milliseconds since 1970, or ISO 8601). Trust is meant."""


class Commands(Model):
    """How a part is switched."""

    topic: Topic
    on: Annotated[str, StringConstraints(max_length=1000)] = "on"
    """What is sent to switch it on; JSON where the part wants that."""
    off: Annotated[str, StringConstraints(max_length=1000)] = "off"
    confirm: DurationMs | None = None
    """By when its own report of `on` must say so, or the command is sent again. Without it nothing is expected."""


class Part(Model):
    """One detector, sounder, lamp, button, hub or controller."""

    kind: PartKind
    room: str | None = None
    place: Point | None = None
    """Metres: east, north, height above the floor."""
    opening: str | None = None
    """The door or window that a contact or vibration detector sits on."""
    power: Literal["battery", "mains", "hub"] = "battery"
    """Without it: mains for outlets, lamps, cameras, hubs and controllers, else battery. hub: fed by its radio hub."""
    hold_up: DurationMs | None = None
    """How long a part on mains goes on when the mains fail."""
    reports: Literal["on change", "every report"] = "on change"
    """Whether it speaks only when something changes, or repeats itself."""
    heartbeat: DurationMs | None = None
    """How often it says that it is there when nothing happens."""
    supervision: DurationMs | None = None
    """The longest silence before it counts as lost."""
    hold: DurationMs | None = None
    """How long a movement or vibration detector keeps one report standing."""
    blind: DurationMs | None = None
    """How long it sees nothing new after a report."""
    hub: str | None = None
    """The radio hub or controller that hears it."""
    manual: Yes = True
    """Whether it can also be switched by hand, at the part or beside it."""
    reads: Annotated[tuple[Read, ...], Field(max_length=40)] = ()
    """Where its signals come in. Without it: stillwell/report/PART/SIGNAL, plain text."""
    commands: Commands | None = None
    """How it is switched. Without it: on or off to stillwell/command/PART."""
    notes: str = ""

    @model_validator(mode="before")
    @classmethod
    def _usual_power(cls, data: Any) -> Any:
        if isinstance(data, dict) and "power" not in data:
            return {**data, "power": usual_power(data.get("kind"))}
        return data


class State(Model):
    """A named variable of the home that rules read and set."""

    values: Annotated[tuple[Name, ...], Field(min_length=2, max_length=20)]
    initial: Name
    set_by: Literal["rules", "resident", "anyone"] = "rules"


class Person(Model):
    """Somebody who can be told."""

    name: Title
    channels: Annotated[Mapping[Name, DurationMs], Field(min_length=1, max_length=20)]
    """Each way to tell them (call, text, mail, push, ...) and how long it takes to arrive."""
    reachable: RuleText | None = None
    """When they can be reached; without it, always. Calendar words only."""
    minutes_to_door: Annotated[Number, Field(ge=0, le=100_000)] | None = None
    """How far they are; left out for somebody who cannot come."""
    answers_within: DurationMs = 120_000
    """How long they usually take to answer while they can be reached."""
    keeps_system: Yes = False
    """Whether they look after batteries, parts and rules."""


class Step(Model):
    """One step of a call list: whom, by what, and how long to wait for an answer."""

    whom: Annotated[tuple[str, ...], Field(min_length=1, max_length=20)]
    by: str
    wait: DurationMs


class Call(Model):
    """Who is told, in order, until somebody acknowledges."""

    steps: Annotated[tuple[Step, ...], Field(min_length=1, max_length=50)]
    then: Literal["repeat", "everyone"] = "everyone"
    """After the last step: begin again, or tell everybody at once."""


class Deadline(Model):
    """By when somebody must have been told, from the onset on."""

    day: DurationMs
    night: DurationMs


HazardKind = Literal[
    "collapse",
    "intrusion",
    "tampering",
    "water",
    "smoke",
    "carbon monoxide",
    "cold",
    "heat",
    "wandering",
    "call for help",
    "no power",
    "blind",
]


class Hazard(Model):
    """What must be noticed, and by when."""

    name: Title
    kind: HazardKind
    deadline: Deadline
    parts: Annotated[tuple[str, ...], Field(max_length=500)] = ()
    """Narrows it to these parts."""
    openings: Annotated[tuple[str, ...], Field(max_length=500)] = ()
    """Narrows it to these doors and windows."""
    delay: DurationMs = 0
    """From the onset until the first detector can tell: a pan that fills, a room that cools."""


class Alarm(Model):
    """A rule that raises an alarm for a hazard and works through a call list."""

    name: Title
    hazard: str
    """The name of the hazard it is there for."""
    when: RuleText
    """What raises it."""
    while_: Annotated[RuleText | None, Field(alias="while")] = None
    """What must hold at that moment too."""
    call: str
    """The call list."""
    do: Annotated[tuple[DeedText, ...], Field(max_length=50)] = ()
    """What the home itself does, as in "hall_sounder on for 3min"."""

    model_config = ConfigDict(populate_by_name=True)


class Aid(Model):
    """A rule that helps: it does something."""

    name: Title
    when: RuleText
    while_: Annotated[RuleText | None, Field(alias="while")] = None
    """What must hold at that moment too."""
    do: Annotated[tuple[DeedText, ...], Field(min_length=1, max_length=50)]

    model_config = ConfigDict(populate_by_name=True)


class Never(Model):
    """A claim of what must never hold."""

    claim: RuleText
    why: str = ""


class Upkeep(Model):
    """Who hears that a part has stopped reporting: the call list of the keeper of the system."""

    call: str


Share = Annotated[Number, Field(ge=0, le=1)]
"""A share of the whole: 0.02 is two in a hundred."""


class Rate(Model):
    """How often something fails, and how long it then takes until it works again. What is left out is as usual."""

    failures_per_year: Annotated[Number, Field(ge=0, le=10_000)] | None = None
    repair: DurationMs | None = None
    """From when the failure is noticed until it works again."""


class PowerCuts(Model):
    """How often and how long the mains fail here, on average over the years (SAIFI and SAIDI)."""

    per_year: Annotated[Number, Field(ge=0.001, le=10_000)] | None = None
    minutes_per_year: Annotated[Number, Field(ge=0, le=525_600)] | None = None


class Figures(Model):
    """How often things fail in this home, where more is known than the usual figures say."""

    parts: Annotated[Mapping[Name, Rate], Field(max_length=1000)] = Field(default_factory=dict)
    kinds: Annotated[Mapping[str, Rate], Field(max_length=100)] = Field(default_factory=dict)
    """By kind of part."""
    battery: Rate = Field(default_factory=Rate)
    """Of every part on batteries: how often one runs flat before it is changed."""
    broker: Rate = Field(default_factory=Rate)
    """The message broker."""
    ways_out: Annotated[Mapping[Name, Rate], Field(max_length=10)] = Field(default_factory=dict)
    """What carries messages out of the home, by the names under [ways_out]; without those there is one, internet."""
    power_cuts: PowerCuts = Field(default_factory=PowerCuts)
    unreachable: Share | None = None
    """The share of a person's own hours in which they do not notice a message."""
    people: Annotated[Mapping[Name, Share], Field(max_length=200)] = Field(default_factory=dict)
    """The same for one of them."""
    stuck_share: Share | None = None
    """The share of a part's failures after which it keeps reporting one thing."""
    late_share: Share | None = None
    """The share of a part's failures after which its reports come late."""
    walk_test_every: DurationMs | None = None
    """How often every part is tried out. What nobody notices otherwise is found then."""
    dark_noticed: DurationMs | None = None
    """How long until somebody outside notices that nothing comes from the home any more."""


class Plan(Model):
    """One home, whole: what ``home.toml`` says."""

    home: Home
    resident: Resident
    rooms: Annotated[Mapping[Name, Room], Field(max_length=100)] = Field(default_factory=dict)
    openings: Annotated[Mapping[Name, Opening], Field(max_length=400)] = Field(default_factory=dict)
    parts: Annotated[Mapping[Name, Part], Field(max_length=1000)] = Field(default_factory=dict)
    signals: Annotated[Mapping[Name, RuleText], Field(max_length=500)] = Field(default_factory=dict)
    """Signals of our own, by formula. sign_of_life is what only a living resident causes."""
    limits: Annotated[Mapping[Name, LimitTable], Field(max_length=50)] = Field(default_factory=dict)
    """How long silence may last, by room and hour of the last sign; for rules that say `for limit NAME`."""
    states: Annotated[Mapping[Name, State], Field(max_length=100)] = Field(default_factory=dict)
    people: Annotated[Mapping[Name, Person], Field(max_length=200)] = Field(default_factory=dict)
    calls: Annotated[Mapping[Name, Call], Field(max_length=100)] = Field(default_factory=dict)
    hazard: Annotated[tuple[Hazard, ...], Field(max_length=200)] = ()
    alarm: Annotated[tuple[Alarm, ...], Field(max_length=300)] = ()
    aid: Annotated[tuple[Aid, ...], Field(max_length=500)] = ()
    never: Annotated[tuple[Never, ...], Field(max_length=200)] = ()
    upkeep: Upkeep | None = None
    ways_out: Annotated[Mapping[Name, tuple[Name, ...]], Field(max_length=10)] = Field(default_factory=dict)
    """What carries messages out of the home (internet, telephone, mobile network), and which channels each carries."""
    figures: Figures = Field(default_factory=Figures)

"""Plans for the proof, invented by Hypothesis: alarms, guards, aids that set states, call lists with hours.

The shapes are those a fitter writes: limits by day and by night, checks at a time of day, states that the clock, a
door or a button sets, water and contact alarms that must hold, counts, and people who sleep.
"""

from hypothesis import strategies as st
from tests.smallest import plan_of

PARTS = {
    "hall": {"kind": "movement", "room": "hall", "supervision": "2h"},
    "bed": {"kind": "movement", "room": "bedroom", "supervision": "2h"},
    "kitchen": {"kind": "movement", "room": "kitchen", "supervision": "2h"},
    "front": {"kind": "contact", "opening": "front_door", "supervision": "2h"},
    "pane": {"kind": "contact", "opening": "window", "supervision": "2h"},
    "knock": {"kind": "vibration", "opening": "window"},
    "floor": {"kind": "water", "supervision": "2h"},
    "air": {"kind": "temperature", "supervision": "1h"},
    "pendant": {"kind": "wearable call button"},
    "out_button": {"kind": "push button"},
    "in_button": {"kind": "push button"},
}
PLACE = {
    "rooms": {
        name: {"outline": [[x, 0.0], [x + 3.0, 0.0], [x + 3.0, 3.0], [x, 3.0]]}
        for name, x in (("hall", 0.0), ("bedroom", 3.0), ("kitchen", 6.0))
    },
    "openings": {
        "front_door": {"kind": "door", "rooms": ["hall", "outside"]},
        "window": {"kind": "window", "rooms": ["bedroom", "outside"]},
    },
}
ZONES = ("Europe/London", "America/New_York", "Asia/Kolkata", "Australia/Lord_Howe")
DAYS = ("on mon-fri", "on sat, sun", "on tue, thu", "on sun")

clock = st.builds("{:02d}:{:02d}".format, st.integers(0, 23), st.sampled_from([0, 0, 15, 30, 47]))
minutes = st.integers(1, 45).map("{}min".format)
hours = st.one_of(st.integers(1, 14).map("{}h".format), st.sampled_from(["2h30min", "3h7min", "30h", "50min"]))


@st.composite
def windows(draw):
    start = draw(clock)
    return f"between {start} and {draw(clock.filter(lambda one: one != start))}"


silences = st.builds("no sign_of_life for {}".format, hours)


@st.composite
def limits(draw):
    """A limit on silence: one or two, by day, by night, on some days, looked at only now and then."""
    silence = draw(silences)
    match draw(st.sampled_from(["plain", "window", "two", "days", "daily", "room", "held"])):
        case "plain":
            return silence
        case "window":
            return f"{silence} and {draw(windows())}"
        case "two":
            window = draw(windows())
            return f"({silence} and {window}) or ({draw(silences)} and not {window})"
        case "days":
            return f"{silence} and {draw(st.sampled_from(DAYS))}"
        case "daily":
            return f"at {draw(clock)} and {silence}"
        case "held":
            return f"({silence} and {draw(windows())}) for {draw(minutes)}"
    return f"no (hall.movement or bed.movement) for {draw(hours)}"


LIFE = ("hall.movement", "bed.movement", "kitchen.movement", "front.opened", "pendant.pressed")


@st.composite
def tables(draw):
    """A table of limits: up to six rows, by room, hours, days, what gave the last sign, doors; none behind others."""
    longest = draw(st.integers(3, 14))
    rows = []
    for _ in range(draw(st.integers(1, 6))):
        row = {"limit": f"{60 * draw(st.integers(1, longest)) - draw(st.sampled_from([0, 0, 0, 13, 59]))}min"}
        if draw(st.booleans()):
            row["room"] = draw(st.sampled_from(["hall", "bedroom", "kitchen"]))
        if draw(st.integers(0, 3)) == 0:
            row["last"] = draw(st.sampled_from(LIFE[:3]))
        if draw(st.integers(0, 2)):
            row["from"], row["to"] = draw(clock), draw(clock)
        if draw(st.integers(0, 2)) == 0:
            row["days"] = draw(st.sampled_from(["weekdays", "weekends", "tue, thu", "sun"]))
        if draw(st.integers(0, 3)) == 0:
            row["after_door"] = draw(st.sampled_from(["5min", "15min", "2h"]))
        rows.append(row)
    return {"longest": f"{longest}h", "rows": rows}


@st.composite
def table_limits(draw):
    """What waits for a table, or for a plain silence beside one."""
    table = f"no sign_of_life for limit {draw(st.sampled_from(['quiet', 'quiet', 'far']))}"
    match draw(st.sampled_from(["plain", "window", "plain", "two", "daily", "silence", "either"])):
        case "plain":
            return table
        case "window":
            return f"{table} and {draw(windows())}"
        case "two":
            return f"({table} and {draw(windows())}) or {draw(silences)}"
        case "daily":
            return f"at {draw(clock)} and {table}"
        case "either":
            return f"{table} or no sign_of_life for limit far"
    return draw(silences)


guards = st.one_of(
    st.none(),
    windows(),
    st.sampled_from(
        [*DAYS, "away is off", "night is on", "night is off", "visit is off", "away is off and visit is off"]
    ),
)


@st.composite
def door_logic(draw):
    """Gone out: a door and then no movement; back: movement, or the door."""
    wait = draw(minutes)
    out = draw(
        st.sampled_from(
            [
                f"front.closed without hall.movement within {wait}",
                f"front.closed without (hall.movement or bed.movement) within {wait}",
                f"front.opened then front.closed within {wait}",
                f"front.open for {wait}",
            ]
        )
    )
    back = draw(st.sampled_from(["hall.movement", "hall.movement or bed.movement", "front.opened", "bed.movement"]))
    return [aid("gone out", out, "set away to on"), aid("back", back, "set away to off")]


@st.composite
def clock_logic(draw):
    """Night by the clock, on every day or not, and perhaps by what happens as well."""
    begin, end = draw(clock), draw(clock)
    aids = [aid("night falls", f"at {begin}", "set night to on"), aid("day breaks", f"at {end}", "set night to off")]
    if draw(st.booleans()):
        aids[0]["while"] = draw(st.sampled_from(DAYS))
    if draw(st.integers(0, 3)) == 0:
        aids.append(aid("up early", "kitchen.movement", "set night to off", **{"while": draw(windows())}))
    return aids


def aid(name, when, deed, **keys):
    """Return an aid that sets a state."""
    return {"name": name, "when": when, "do": [deed]} | keys


@st.composite
def people(draw):
    """Two or three people, some of whom sleep; and a call list of one to three steps."""
    names = ["ann", "ben", "cleo"][: draw(st.integers(1, 3))]
    found, steps = {}, []
    for number, name in enumerate(names):
        channels = {"text": f"{draw(st.integers(1, 90))}s"}
        if draw(st.booleans()):
            channels["call"] = "1ms"
        found[name] = {"name": name.title(), "channels": channels}
        if number and draw(st.booleans()):
            found[name]["reachable"] = draw(st.one_of(windows(), st.sampled_from(DAYS)))
        if not number and draw(st.integers(0, 2)) == 0:
            found[name]["reachable"] = f"{draw(windows())} or {draw(st.sampled_from(DAYS))}"
        steps.append({"whom": [name], "by": draw(st.sampled_from(sorted(channels))), "wait": draw(minutes)})
    if len(names) > 1 and draw(st.booleans()):
        steps.append({"whom": names[:2], "by": "text", "wait": draw(minutes)})
    return found, {"steps": steps, "then": draw(st.sampled_from(["repeat", "everyone"]))}


HAZARDS = {
    "collapse": {},
    "water": {"delay": "5min"},
    "intrusion": {"openings": ["front_door"]},
    "wandering": {"openings": ["front_door"]},
    "tampering": {},
    "call for help": {"parts": ["pendant"]},
    "cold": {"delay": "2h"},
}


@st.composite
def conditions(draw, kind, *, with_tables=False):
    """What raises an alarm for a hazard of the kind."""
    wait = draw(minutes)
    if with_tables:
        return draw(table_limits())
    match kind:
        case "collapse":
            return draw(limits())
        case "water":
            return draw(st.sampled_from(["floor.wet", f"floor.wet for {wait}", f"floor.wet and {draw(windows())}"]))
        case "intrusion":
            return draw(
                st.sampled_from(
                    ["front.opened or pane.opened", f"front.open for {wait} or pane.open for {wait}", "hall.movement"]
                )
            )
        case "wandering":
            return draw(
                st.sampled_from(
                    [
                        "front.opened",
                        f"front.opened without hall.movement within {wait}",
                        f"front.open for {wait}",
                        f"front.opened and no bed.movement for {wait}",
                        f"no sign_of_life for {wait} and {draw(windows())}",
                    ]
                )
            )
        case "tampering":
            return f"{draw(st.integers(1, 5))} knock.vibration within {wait}"
        case "call for help":
            return draw(st.sampled_from(["pendant.pressed", "pendant.pressed or out_button.pressed"]))
    return f"air.temperature < {draw(st.integers(8, 16))}C for {wait}"


@st.composite
def plans(draw, kinds=tuple(HAZARDS), *, with_tables=False):
    """Return a plan with one hazard of one of the kinds and one or two alarms for it."""
    kind = draw(st.sampled_from(kinds))
    alarms = []
    for number in range(draw(st.integers(1, 2))):
        when = draw(conditions(kind, with_tables=with_tables))
        alarm = {"name": f"alarm {number}", "hazard": "it", "call": "family", "when": when}
        guard = draw(guards)
        if guard is not None:
            alarm["while"] = guard
        alarms.append(alarm)
    found, call = draw(people())
    states = {
        "away": {"values": ["off", "on"], "initial": "off"},
        "night": {"values": ["off", "on"], "initial": "off"},
        "visit": {"values": ["off", "on"], "initial": "off"},
    }
    buttons = [
        aid("visit begins", "out_button.pressed", "set visit to on"),
        aid("visit ends", "in_button.pressed", "set visit to off"),
    ]
    life = draw(
        st.sampled_from(
            [
                "hall.movement or bed.movement or kitchen.movement",
                "hall.movement or bed.movement or kitchen.movement or front.opened or pendant.pressed",
            ]
        )
    )
    more = {"limits": {"quiet": draw(tables()), "far": draw(tables())}} if with_tables else {}
    hazard = {"name": "it", "kind": kind, "deadline": {"day": "4h", "night": "9h"}} | HAZARDS[kind]
    return plan_of(
        zone=draw(st.sampled_from(ZONES)),
        **PLACE,
        parts=PARTS,
        signals={"sign_of_life": life},
        states=states,
        people=found,
        calls={"family": call},
        hazard=[hazard],
        alarm=alarms,
        aid=[*draw(door_logic()), *draw(clock_logic()), *buttons],
        upkeep={"call": "family"},
        **more,
    )

"""An invented home's log, 2 January to 30 April 2026 in Paris, in which all goes wrong that can.

| when | what |
|---|---|
| 2 Jan 15:00 - 15:58 | fitting; then nothing until 25 Jan 12:00 |
| 4 Feb | the shower's detector reports last 07:30, the bathroom's first 09:40: renamed |
| 10 Feb 07:40 | the front door reports open, its link is lost 11:06, never back |
| 20 Feb 18:00 - 20 Mar 10:00 | empty but for six calls of twenty minutes |
| 29 Mar | the clocks go forward |
| 2 Apr | the bedroom's link comes and goes, thirty times |
| 10 Apr 20:15 | the kitchen's detector reports for the last time |
| 15 Apr 08:00 - 19 Apr 21:00 | the bedroom's detector sees nothing |
"""

from datetime import datetime, timedelta

import numpy as np

MAPPING = """
zone = "Europe/Paris"
origin = "an invented home"

[log]
separator = ";"

[columns]
time = 1
source = 2
value = 3

[time]
written_as = "%Y-%m-%dT%H:%M:%S.%f"

[parts]
bedroom_pir = "Move_B"
bathroom_pir = "Move_Ba"
kitchen_pir = "Move_K"
lounge_pir = "Move_L"
shower_pir = "Move_S"
front_door = "Door_F"

[[signal]]
parts = "*_pir"
kind = "pulse"
value = "1"
signal = "{part}.movement"

[[signal]]
parts = "*_pir"
kind = "pulse"
value = "0"
signal = "{part}.alive"

[[signal]]
parts = "front_door"
kind = "level"
true = "1"
false = "0"
signal = "{part}.open"

[[signal]]
source = "{part}.Battery"
kind = "number"
unit = "%"
signal = "{part}.battery"

[[signal]]
source = "{part}.Lost"
kind = "level"
true = "1"
false = "0"
signal = "{part}.link_lost"

[[ignore]]
source = "Clock"
why = "the recorder's own"
"""

at = datetime.fromisoformat
START = at("2026-01-02 15:00")
BACK = at("2026-01-25 12:00")
RENAMED, RENAMED_FIRST = at("2026-02-04 07:30"), at("2026-02-04 09:40")
DOOR_LAST, DOOR_LOST = at("2026-02-10 07:40"), at("2026-02-10 11:06")
LEFT, RETURNED = at("2026-02-20 18:00"), at("2026-03-20 10:00")
CALLS = [at("2026-02-23 10:00") + timedelta(days=4 * call, hours=3 * call) for call in range(6)]
KITCHEN_LAST = at("2026-04-10 20:15")
QUIET_FROM, QUIET_TO = at("2026-04-15 08:00"), at("2026-04-19 21:00")
END = at("2026-04-30 20:00")
FORWARD = at("2026-03-29 02:00")


def invented_rows():
    """Yield (local time, source, value), unsorted."""
    rng = np.random.default_rng(7)
    for minute in range(0, 60, 2):
        yield START + timedelta(minutes=minute), "Move_L", "1"
    yield from _lived(rng, BACK, LEFT)
    yield from _lived(rng, RETURNED, END)
    for call in CALLS:
        for minute in range(0, 21, 2):
            yield call + timedelta(minutes=minute), "Move_L", "1"
    day = BACK + timedelta(hours=4)
    while day < DOOR_LAST:
        yield day, "Door_F", "1"
        yield day + timedelta(seconds=8), "Door_F", "0"
        day += timedelta(hours=11)
    yield DOOR_LAST, "Door_F", "1"
    yield DOOR_LOST, "Door_F.Lost", "1"
    for loss in range(30):
        yield at("2026-04-02 00:00") + timedelta(hours=7 * loss), "Move_B.Lost", "1"
        yield at("2026-04-02 00:00") + timedelta(hours=7 * loss, minutes=50), "Move_B.Lost", "0"
    for week, percent in enumerate((90, 84, 78, 72)):
        yield at("2026-03-22 00:00") + timedelta(weeks=week), "Move_L.Battery", str(percent)


def _lived(rng, since, until):
    """A day from about seven to about half past ten, two walks at night; detectors as they were then."""
    day = since.replace(hour=0)
    while day < until:
        wakes = day + timedelta(hours=7, minutes=float(rng.normal(0, 10)))
        sleeps = day + timedelta(hours=22.5, minutes=float(rng.normal(0, 10)))
        times = [day + timedelta(hours=2), day + timedelta(hours=5)]
        now = wakes
        while now < sleeps:
            times.append(now)
            now += timedelta(minutes=float(rng.exponential(8)) + 0.5)
        for time in times:
            room = _room(rng, time)
            if since <= time <= until and room and not (FORWARD <= time < FORWARD + timedelta(hours=1)):
                yield time, f"Move_{room}", "1"
                yield time + timedelta(seconds=30), f"Move_{room}", "0"
        day += timedelta(days=1)
    wash = "S" if since == BACK else "Ba"
    for time, room in ((since, "L"), (until, "L"), (RENAMED, "S"), (RENAMED_FIRST, "Ba"), (KITCHEN_LAST, "K")):
        if since <= time <= until:
            yield time, f"Move_{wash if room == 'W' else room}", "1"
    for time in (QUIET_FROM, QUIET_TO):
        if since <= time <= until:
            yield time, "Move_B", "1"


def _room(rng, time):
    room = str(rng.choice(["B", "W", "K", "L"]))
    if room == "W":
        if RENAMED - timedelta(minutes=1) <= time <= RENAMED_FIRST:
            return ""
        return "S" if time < RENAMED else "Ba"
    if (room == "K" and time >= KITCHEN_LAST) or (room == "B" and QUIET_FROM <= time <= QUIET_TO):
        return ""
    return room


def log_lines(rows):
    return [f"{time.isoformat(timespec='milliseconds')};{source};{value}" for time, source, value in sorted(rows)]

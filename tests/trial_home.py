"""A home small enough that every consequence of a report can be counted by hand, and a watch over it."""

import asyncio
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from stillwell.plan.read import read_plan
from stillwell.watch.home import Work
from stillwell.watch.loop import Watch

PLAN = """
[home]
name = "Trial home"
timezone = "Europe/London"

[resident]
name = "Ada Hill"

[rooms.hall]
outline = [[0, 0], [4, 0], [4, 2], [0, 2]]

[parts.hall_pir]
kind = "movement"
room = "hall"
reads = [
    { topic = "radio/hall", signal = "movement", pointer = "/seen", sequence = "/n" },
    { topic = "radio/hall", signal = "battery", pointer = "/battery", sequence = "/n" },
]

[parts.tap]
kind = "water"
room = "hall"

[parts.lamp]
kind = "lamp"
commands = { topic = "lamps/set", on = "ON", off = "OFF", confirm = "2s" }

[parts.help]
kind = "wearable call button"

[signals]
sign_of_life = "hall_pir.movement or help.pressed"

[states.holiday]
values = ["off", "on"]
initial = "off"
set_by = "resident"

[people.ben]
name = "Ben"
channels = { text = "30s" }

[people.eve]
name = "Eve"
channels = { text = "30s" }

[calls.family]
steps = [
    { whom = ["ben"], by = "text", wait = "5min" },
    { whom = ["ben", "eve"], by = "text", wait = "5min" },
]
then = "repeat"

[upkeep]
call = "family"

[[hazard]]
name = "collapse"
kind = "collapse"
deadline = { day = "4h", night = "10h" }

[[hazard]]
name = "water"
kind = "water"
deadline = { day = "1h", night = "1h" }

[[alarm]]
name = "No sign of life"
hazard = "collapse"
when = "no sign_of_life for 3h"
while = "holiday is off"
call = "family"

[[alarm]]
name = "Water"
hazard = "water"
when = "tap.wet"
call = "family"

[[aid]]
name = "Lamp"
when = "help.pressed"
do = ["lamp on for 5min"]
"""

START_MS = 1_780_000_000_000
HOUR_MS = 3_600_000


@dataclass
class ManualClock:
    """A clock that the test moves; nothing waits for it."""

    ms: int = START_MS
    jumps_ms: list = field(default_factory=list)
    ahead: int = 0

    def now_ms(self):
        return self.ms

    def seconds_until(self, at_ms):
        return None

    def ahead_ms(self):
        return self.ahead


@asynccontextmanager
async def running(store, clock, text=PLAN, **options):
    """Run a watch; end it as SIGTERM would."""
    watch = Watch(store, read_plan(text, "home.toml"), text, clock, **options)
    task = asyncio.create_task(watch.run())
    await watch.ready.wait()
    try:
        yield watch
    finally:
        watch.end()
        await task


async def turn(watch, *, at_ms=None):
    """Let the loop go round once, at an instant."""
    if at_ms is not None:
        watch.clock.ms = at_ms
    await watch.order(lambda _now: Work())

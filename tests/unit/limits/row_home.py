"""A home of four rooms in a row, a movement detector in each: the one in which ``lived`` was lived."""

from itertools import pairwise

from tests.unit.limits.lived import ROOMS

TEXT = (
    """# A home for learning limits.
[home]
name = "Four rooms in a row"
timezone = "Europe/Paris"

[resident]
name = "Ada Row"

[openings.front_door]
kind = "door"
rooms = ["lounge", "outside"]
"""
    + "".join(
        f"""
[rooms.{room}]
outline = [[{x}.0, 0.0], [{x + 4}.0, 0.0], [{x + 4}.0, 3.0], [{x}.0, 3.0]]

[parts.{room}_pir]
kind = "movement"
room = "{room}"
"""
        for x, room in zip(range(0, 16, 4), ROOMS, strict=True)
    )
    + "".join(
        f"""
[openings.{one}_door]
kind = "door"
rooms = ["{one}", "{other}"]
"""
        for one, other in pairwise(ROOMS)
    )
    + """
[signals]
sign_of_life = "bedroom_pir.movement or bathroom_pir.movement or kitchen_pir.movement or lounge_pir.movement"

[people.ben]
name = "Ben Row"
channels = { call = "20s" }

[calls.family]
steps = [{ whom = ["ben"], by = "call", wait = "2min" }]

[[hazard]]
name = "Lies somewhere"
kind = "collapse"
deadline = { day = "12h", night = "13h" }

[[alarm]]
name = "No sign of life"
hazard = "Lies somewhere"
when = "no sign_of_life for 12h"   # as it was
call = "family"
"""
)

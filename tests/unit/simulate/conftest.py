import pytest

from stillwell.plan.model import Plan


def square(east_m, use):
    return {"outline": [(east_m, 0), (east_m + 3, 0), (east_m + 3, 3), (east_m, 3)], "use": use}


@pytest.fixture(scope="session")
def cabin():
    """Three rooms in a row, the kitchen in the middle with the door to the outside, and a shed apart."""
    return Plan.model_validate(
        {
            "home": {"name": "Cabin", "timezone": "Europe/London"},
            "resident": {"name": "Ida"},
            "rooms": {
                "back_room": square(0, "bedroom"),
                "kitchen": square(3, "kitchen"),
                "front_room": square(6, "living room"),
                "shed": square(20, "shed"),
            },
            "openings": {
                "back_door": {"kind": "door", "rooms": ("back_room", "kitchen")},
                "middle_door": {"kind": "door", "rooms": ("kitchen", "front_room")},
                "house_door": {"kind": "door", "rooms": ("kitchen", "outside")},
                "shed_door": {"kind": "door", "rooms": ("outside", "shed")},
                "front_window": {"kind": "window", "rooms": ("front_room", "outside")},
            },
            "parts": {
                "hub": {"kind": "radio hub", "room": "kitchen", "power": "mains", "heartbeat": "1h"},
                "back_pir": {"kind": "movement", "room": "back_room", "hold": "30s", "hub": "hub"},
                "kitchen_pir": {"kind": "movement", "room": "kitchen", "hold": "30s", "heartbeat": "1h"},
                "house_contact": {"kind": "contact", "opening": "house_door", "heartbeat": "1h"},
                "fridge": {"kind": "contact", "room": "kitchen"},
                "window_contact": {"kind": "contact", "opening": "front_window"},
                "bed": {"kind": "pressure", "room": "back_room"},
                "kettle": {"kind": "outlet", "room": "kitchen", "power": "mains"},
                "lamp": {"kind": "lamp", "room": "front_room", "power": "mains"},
                "fixed_lamp": {"kind": "lamp", "room": "front_room", "power": "mains", "manual": False},
                "call_button": {"kind": "push button", "room": "front_room"},
                "pendant": {"kind": "wearable call button"},
                "front_temp": {"kind": "temperature", "room": "front_room"},
                "front_air": {"kind": "air", "room": "front_room", "reports": "every report"},
                "sink_leak": {
                    "kind": "water",
                    "room": "kitchen",
                    "reports": "every report",
                    "heartbeat": "4h",
                },
                "smoke": {"kind": "smoke", "room": "front_room"},
                "co": {"kind": "carbon monoxide", "room": "front_room"},
                "panel": {"kind": "controller", "room": "kitchen", "power": "mains"},
            },
        }
    )

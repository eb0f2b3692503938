"""The kinds of part, in the trade's words, and the signals each gives."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from stillwell.rules.kinds import LEVEL, PULSE, Kind, SignalType

_CELSIUS = SignalType(Kind.NUMBER, "C")
_PERCENT = SignalType(Kind.NUMBER, "%")
_PPM = SignalType(Kind.NUMBER, "ppm")
_MICROGRAM = SignalType(Kind.NUMBER, "ug/m3")
_WATT = SignalType(Kind.NUMBER, "W")

SIGNALS_OF: Final[Mapping[str, Mapping[str, SignalType]]] = MappingProxyType(
    {
        "movement": {"movement": PULSE},
        "contact": {"open": LEVEL, "opened": PULSE, "closed": PULSE},
        "vibration": {"vibration": PULSE},
        "pressure": {"occupied": LEVEL},
        "water": {"wet": LEVEL},
        "smoke": {"smoke": LEVEL},
        "carbon monoxide": {"carbon_monoxide": LEVEL, "ppm": _PPM},
        "temperature": {"temperature": _CELSIUS},
        "air": {"co2": _PPM, "humidity": _PERCENT, "pm25": _MICROGRAM},
        "outlet": {"on": LEVEL, "power": _WATT},
        "lamp": {"on": LEVEL},
        "sounder": {"on": LEVEL},
        "push button": {"pressed": PULSE},
        "camera": {"on": LEVEL},
        "radio hub": {},
        "controller": {"mains": LEVEL},
        "wearable call button": {"pressed": PULSE},
    }
)

DERIVED_PULSES: Final = MappingProxyType({"opened": ("start", "open"), "closed": ("end", "open")})
"""Pulses that are no report of their own but the edge of a level of the same part."""

SWITCHED: Final = frozenset({"outlet", "lamp", "sounder", "camera"})
"""Kinds that take commands; their level ``on`` is what was last commanded or reported."""

EVERY_PART: Final[Mapping[str, SignalType]] = MappingProxyType({"lost": LEVEL})
BATTERY_PART: Final[Mapping[str, SignalType]] = MappingProxyType({"battery": _PERCENT})

CAUSED_BY_RESIDENT: Final = frozenset(
    {"movement", "contact", "vibration", "pressure", "push button", "wearable call button"}
)
"""Kinds whose signals stop changing when the resident lies still."""

OUTSIDE: Final = "outside"
"""What an opening joins a room with when it leads out; no room may be called so."""

ON_OPENINGS: Final = frozenset({"contact", "vibration"})
"""Kinds that sit on a door or window."""

HELD: Final = frozenset({"movement", "vibration"})
"""Kinds that keep a report standing for a while, and see nothing new for a while after it."""

HEARS_RADIO: Final = frozenset({"radio hub", "controller"})

HAZARD_PARTS: Final[Mapping[str, frozenset[str]]] = MappingProxyType(
    {
        "collapse": CAUSED_BY_RESIDENT | {"outlet"},
        "intrusion": frozenset({"contact", "vibration", "movement"}),
        "tampering": frozenset({"vibration", "contact", "movement"}),
        "water": frozenset({"water"}),
        "smoke": frozenset({"smoke"}),
        "carbon monoxide": frozenset({"carbon monoxide"}),
        "cold": frozenset({"temperature"}),
        "heat": frozenset({"temperature"}),
        "wandering": frozenset({"contact", "movement", "pressure"}),
        "call for help": frozenset({"push button", "wearable call button"}),
        "no power": frozenset({"controller"}),
        "blind": frozenset(SIGNALS_OF),
    }
)
"""Kinds of part that can tell of a hazard, and so the ones that a hazard may be narrowed to."""

HAZARDS_AT_OPENINGS: Final = frozenset({"intrusion", "tampering", "wandering"})

ALSO_CALLED: Final[Mapping[str, str]] = MappingProxyType(
    {
        "motion": "movement",
        "pir": "movement",
        "presence": "movement",
        "door": "contact",
        "reed": "contact",
        "mat": "pressure",
        "shock": "vibration",
        "leak": "water",
        "flood": "water",
        "fire": "smoke",
        "co": "carbon monoxide",
        "gas": "carbon monoxide",
        "thermometer": "temperature",
        "co2": "air",
        "plug": "outlet",
        "socket": "outlet",
        "switch": "outlet",
        "light": "lamp",
        "bulb": "lamp",
        "siren": "sounder",
        "bell": "sounder",
        "button": "push button",
        "pendant": "wearable call button",
        "hub": "radio hub",
        "gateway": "radio hub",
        "fall": "collapse",
        "burglary": "intrusion",
        "power cut": "no power",
        "female": "woman",
        "male": "man",
    }
)
"""Words people use for the same thing, for the hint where one of them is met."""

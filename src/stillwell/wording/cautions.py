"""What must be said once wherever alarms are shown."""

from typing import Final

CAUTION: Final = (
    "Stillwell is no certified social alarm, no smoke or carbon monoxide alarm and no medical device. "
    "In an emergency call the emergency number first."
)

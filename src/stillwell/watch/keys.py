"""Keys that nobody has to make up: what signs links, and what opens the control way, where the settings name none."""

import json
import secrets
from typing import Final

from stillwell.control.place import beside, write_private
from stillwell.files import read_bytes
from stillwell.problem import refuse
from stillwell.watch.settings import SHORTEST_KEY, Settings

_LARGEST: Final = 10_000


def link_key(settings: Settings, store: str) -> str:
    """Return what signs links: of the settings, else made once and kept beside the store, for its owner only.

    Raises Refusal where it can be neither read nor written.
    """
    if settings.link_key is not None:
        return settings.link_key.get_secret_value()
    if "://" in store:
        raise refuse("link_key is missing in the settings", "Take one as from: openssl rand -hex 32", name="link_key")
    place = beside(store, "keys")
    if place.exists():
        try:
            key = json.loads(read_bytes(place, _LARGEST))["link_key"]
        except (ValueError, KeyError, TypeError):
            key = ""
        if isinstance(key, str) and len(key) >= SHORTEST_KEY:
            return key
        raise refuse(
            "this file holds no key", "Take it away, and a new one is made; links sent before go dead.", file=str(place)
        )
    key = secrets.token_hex(32)
    write_private(place, json.dumps({"link_key": key}))
    return key


def control_key(settings: Settings) -> str:
    """Return what opens the control way: of the settings, else another at each start."""
    return secrets.token_hex(32) if settings.control_key is None else settings.control_key.get_secret_value()

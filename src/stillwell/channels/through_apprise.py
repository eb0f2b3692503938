"""Gateways for texts, push services, chats, webhooks: whatever the notification library has an address form for.

Each notice has an object of its own: one object spaces what it sends to one server seconds apart.
"""

import logging
import re
from typing import Any, Final

from stillwell.channels.notice import DELIVERED, Delivery, Notice, failed

PATIENCE_S: Final = 30.0

_KEY_HEADER: Final = "Idempotency-Key"
_TAKES_HEADERS: Final = ("json", "jsons", "form", "forms", "xml", "xmls")
_STATUS: Final = re.compile(r"\berror=(\d{3})\b")


def through_apprise(url: str, notice: Notice, patience_s: float = PATIENCE_S) -> Delivery:
    """Hand a notice to the library; webhooks get the key in the header Idempotency-Key."""
    import apprise  # noqa: PLC0415 - takes 0.1 s and some memory: only where somebody is told by it

    # It would print addresses; what it has to say comes back with the result.
    log = logging.getLogger("apprise")
    log.propagate = False
    if not log.handlers:
        log.addHandler(logging.NullHandler())
    try:
        sender = apprise.Apprise()
        if not sender.add(_with_key(url, notice.key)):
            return failed("the notification library does not know this form of address")
        result = sender.notify(
            notice.text,
            title=notice.subject,
            notify_type=apprise.NotifyType.WARNING,
            body_format=apprise.NotifyFormat.TEXT,
            interpret_escapes=False,
            timeout=patience_s,
        )
    except Exception as error:  # noqa: BLE001 - a hundred foreign services, each with its own troubles
        return failed(f"the notification library failed: {type(error).__name__}")
    return DELIVERED if result else failed(_reason(result))


def _with_key(url: str, key: str) -> str:
    if url.partition("://")[0].lower() not in _TAKES_HEADERS:
        return url
    return f"{url}{'&' if '?' in url else '?'}+{_KEY_HEADER}={key}"


def _reason(result: Any) -> str:
    """Say why, without the service's own words: those may hold an address."""
    if result.status.name == "TIMEOUT":
        return "the service does not answer in time"
    for entry in result.logs():
        if status := _STATUS.search(str(entry)):
            return f"the service refuses ({status[1]})"
    return "the service could not be reached, or refuses"

"""The log: one JSON object a line. No secret ever gets into it."""

import json
import sys
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime
from typing import Final, TextIO, TypeAlias

Say: TypeAlias = Callable[..., None]
"""``say(what, **about)``: write a line about something that happened."""

HIDDEN: Final = "(hidden)"
SHORTEST_SECRET: Final = 4


class Log:
    """Writes lines with the time, what happened, and about what; every known secret in them is hidden."""

    def __init__(self, now_ms: Callable[[], int], secrets: Iterable[str] = (), stream: TextIO | None = None) -> None:
        self._now_ms = now_ms
        self._secrets = sorted((each for each in secrets if len(each) >= SHORTEST_SECRET), key=len, reverse=True)
        self._stream = stream or sys.stderr

    def __call__(self, what: str, **about: object) -> None:
        """Write a line. ``what`` is a few words; values are written as JSON or else as text."""
        moment = datetime.fromtimestamp(self._now_ms() / 1000, UTC)
        fields = {name: self._plain(value) for name, value in about.items()}
        line = {"at": moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"), "what": what, **fields}
        with suppress(OSError, ValueError):  # a full disk, or nobody who reads: no reason to stop watching
            self._stream.write(json.dumps(line, ensure_ascii=False) + "\n")
            self._stream.flush()

    def _plain(self, value: object) -> object:
        if value is None or isinstance(value, bool | int | float):
            return value
        text = str(value)
        for secret in self._secrets:
            text = text.replace(secret, HIDDEN)
        return text[:2000]


def quiet(_what: str, **_about: object) -> None:
    """Write nothing."""

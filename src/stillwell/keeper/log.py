"""The keeper's log: one JSON object a line, and no secret in it."""

import json
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime
from typing import Final, TextIO

HIDDEN: Final = "(hidden)"


class Log:
    """Writes lines with the time, what happened, and about what; every known secret in them is hidden."""

    def __init__(self, now_ms: Callable[[], int], secrets: Iterable[str], stream: TextIO) -> None:
        self._now_ms = now_ms
        self._secrets = sorted(secrets, key=len, reverse=True)
        self._stream = stream

    def __call__(self, what: str, **about: object) -> None:
        moment = datetime.fromtimestamp(self._now_ms() / 1000, UTC)
        fields = {name: self._plain(value) for name, value in about.items() if value != ""}
        line = {"at": moment.isoformat(timespec="milliseconds").replace("+00:00", "Z"), "what": what, **fields}
        with suppress(OSError, ValueError):  # a full disk, or nobody who reads: no reason to stop watching
            self._stream.write(json.dumps(line, ensure_ascii=False) + "\n")
            self._stream.flush()

    def _plain(self, value: object) -> object:
        if not isinstance(value, str):
            return value
        for secret in self._secrets:
            value = value.replace(secret, HIDDEN)
        return value

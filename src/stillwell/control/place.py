"""Where a running watch says how to reach it: STORE.control beside its store, for its owner only to read.

A store in a database has no file to stand beside; then it is a file in the folder that systemd or the session names for
such things (RUNTIME_DIRECTORY, XDG_RUNTIME_DIR), else in one of the user's own under the folder for passing files.
"""

import hashlib
import json
import os
import tempfile
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from errno import EPERM
from pathlib import Path
from typing import Final

from stillwell.problem import refuse

_HOSTED: Final = ("postgresql://", "postgres://")
_LARGEST: Final = 10_000


@dataclass(frozen=True, slots=True)
class Address:
    """Where a watch listens, and what must be shown there."""

    url: str
    key: str


def beside(store: str, ending: str, environment: Mapping[str, str] = os.environ) -> Path:
    """Return the file ``STORE.ending`` of a store."""
    if not store.startswith(_HOSTED):
        file = Path(store).resolve()
        return file.with_name(f"{file.name}.{ending}")
    folder = environment.get("RUNTIME_DIRECTORY") or environment.get("XDG_RUNTIME_DIR")
    name = hashlib.sha256(store.encode()).hexdigest()[:16]
    own = Path(folder) if folder else Path(tempfile.gettempdir()) / f"stillwell-{os.getuid()}"
    return own / f"stillwell-{name}.{ending}"


def announce(store: str, address: Address) -> None:
    """Write how to reach the watch, whole or not at all, for the owner only. Raises Refusal where that cannot be."""
    write_private(beside(store, "control"), json.dumps({"url": address.url, "key": address.key}))


def withdraw(store: str) -> None:
    """Take it away again."""
    with suppress(OSError):
        beside(store, "control").unlink(missing_ok=True)


def announced(store: str) -> Address | None:
    """Return how to reach the watch of a store; None where none has said, or somebody else than we or root did."""
    place = beside(store, "control")
    try:
        if os.getuid() not in (place.stat().st_uid, 0) and place.stat().st_uid != 0:
            return None
        data = place.read_bytes()
        found = json.loads(data) if len(data) <= _LARGEST else {}
        return Address(str(found["url"]), str(found["key"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def write_private(path: Path, text: str) -> None:
    """Write a file that only its owner may read, whole or not at all."""
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if path.parent.name == f"stillwell-{os.getuid()}" and path.parent.stat().st_uid != os.getuid():
            raise PermissionError(EPERM, "that folder is somebody else's")
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")  # made with mode 0600
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as stream:
                stream.write(text)
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        raise refuse(f"cannot write: {error.strerror or error}", "Choose another place.", file=str(path)) from error

"""Open, and write whole or not at all."""

import gzip
import os
import stat
import tempfile
import zlib
from collections.abc import Iterator
from pathlib import Path

from stillwell.problem import refuse

LONGEST_LINE = 64 * 1024
LARGEST_PLAN = 4 * 1024 * 1024


def read_text(path: Path, largest: int = LARGEST_PLAN) -> str:
    """Return the whole file as text.

    Raises Refusal where there is none, where it is longer than ``largest`` bytes or is not UTF-8.
    """
    data = read_bytes(path, largest)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise refuse(
            "this file is not UTF-8 text", "Save it as UTF-8 (plain text).", file=str(path), line=line
        ) from error


def read_bytes(path: Path, largest: int) -> bytes:
    """Return the whole file; raise Refusal where it cannot be read or is longer than ``largest`` bytes."""
    try:
        with path.open("rb") as stream:
            data = stream.read(largest + 1)
    except OSError as error:
        raise unreadable(path, error) from error
    if len(data) > largest:
        raise refuse(
            f"this file is larger than {largest // (1024 * 1024)} MiB",
            "Name the right file, or split it.",
            file=str(path),
        )
    return data


def lines(path: Path, longest: int = LONGEST_LINE) -> Iterator[tuple[int, bytes | None, int]]:
    """Yield (line number from 1, line without its end, bytes of the file used so far, looked up now and then).

    A ``.gz`` file is unpacked on the way. A line longer than ``longest`` bytes comes as None and is never held
    in memory whole. Raises Refusal where the file cannot be read or its packing is broken.
    """
    try:
        with path.open("rb") as raw:
            stream = gzip.GzipFile(fileobj=raw) if path.suffix == ".gz" else raw
            number = used = 0
            while True:
                line = stream.readline(longest + 2)
                if not line:
                    return
                number += 1
                if number % 1024 == 1:
                    used = raw.tell()
                whole = line.endswith(b"\n") or len(line) < longest + 2
                while not whole:
                    rest = stream.readline(longest)
                    whole = not rest or rest.endswith(b"\n")
                    line = b""
                kept = line.rstrip(b"\r\n")
                yield number, (kept if line and len(kept) <= longest else None), used
    except (OSError, EOFError, zlib.error) as error:
        raise unreadable(path, error) from error


def write_whole(path: Path, data: str | bytes) -> None:
    """Write the file whole or not at all: a reader sees the old content or the new, never a part.

    Who may read it stays as it was; a new file may be read by all. Raises Refusal where the place cannot be written.
    """
    payload = data.encode("utf-8") if isinstance(data, str) else data
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
        try:
            with os.fdopen(handle, "wb") as stream:
                stream.write(payload)
                stream.flush()
                os.fsync(stream.fileno())
            Path(name).chmod(stat.S_IMODE(path.stat().st_mode) if path.exists() else 0o644)
            Path(name).replace(path)
        except BaseException:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise refuse(f"cannot write: {reason}", "Choose another place.", file=str(path)) from error


def unreadable(path: Path, error: Exception) -> Exception:
    """Turn what the operating system says into a refusal that names the file."""
    if isinstance(error, FileNotFoundError):
        return refuse("there is no such file", "Check the name.", file=str(path))
    if isinstance(error, IsADirectoryError):
        return refuse("this is a folder, not a file", "Name a file in it.", file=str(path))
    reason = getattr(error, "strerror", None) or str(error) or "it ends too early"
    return refuse(f"cannot read: {reason}", "Check the file.", file=str(path))

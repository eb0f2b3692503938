"""Records in files: Parquet, the text form, and foreign logs by a mapping."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from stillwell.cli.progress import progress
from stillwell.files import lines, read_bytes, read_text, unreadable, write_whole
from stillwell.problem import Place, Problem, Refusal, refuse

if TYPE_CHECKING:
    from stillwell.record.columns import Record
    from stillwell.record.importing import Imported
    from stillwell.record.mapping import LogMapping
    from stillwell.record.parquet import Stored
    from stillwell.record.report import About
    from stillwell.record.rows import NumberedLine

PARQUET: Final = ".parquet"
TEXT: Final = ".csv"
LARGEST_RECORD: Final = 2 * 1024**3
_MAGIC: Final = b"PAR1"


def read_record(name: str, mapping: str | None, *, shown: bool) -> "Stored":
    """Return a stored record, or one made of a foreign log where a mapping file is named.

    Raises Refusal where it cannot be read. ``shown``: whether a bar may be drawn.
    """
    if mapping is not None:
        made = import_logs([name], mapping, shown=shown)
        return _stored(made.record, made.about)
    path = Path(name)
    beginning = _beginning(path)
    if not beginning:
        raise refuse("this record is empty", "Import or copy it again.", file=name)
    if beginning.startswith(_MAGIC):
        from stillwell.record.parquet import read_parquet

        return read_parquet(read_bytes(path, LARGEST_RECORD), name)
    if path.suffix == PARQUET:
        raise refuse("this is no Parquet file", "Name a record that `stillwell import` wrote.", file=name)
    return _stored(_read_text_form(path, shown=shown), None)


def write_record(name: str, record: "Record", about: "About | None" = None) -> None:
    """Write a record, as Parquet or as text by the ending of the name."""
    if Path(name).suffix == PARQUET:
        from stillwell.record.parquet import write_parquet

        write_whole(Path(name), write_parquet(record, about))
    else:
        from stillwell.record.text import write_text

        write_whole(Path(name), "\n".join(write_text(record)) + "\n")


def check_out(name: str, sources: list[str]) -> None:
    """Raise Refusal, before any work is done, where a record cannot be written under this name."""
    path = Path(name)
    if path.suffix not in (PARQUET, TEXT):
        raise refuse("a record is written as Parquet or as text", f"End the name in {PARQUET} or {TEXT}.", file=name)
    if any(path.resolve() == Path(source).resolve() for source in sources):
        raise refuse("this file is read; it is not written over", "Choose another name.", file=name)
    if path.suffix == PARQUET:
        try:
            import arro3.io  # noqa: F401
        except ImportError as error:
            remedy = f"Run `make install` in Stillwell's folder, or end the name in {TEXT}."
            raise refuse("Parquet files need a further package", remedy, file=name) from error


def import_logs(logs: list[str], mapping: str, *, shown: bool) -> "Imported":
    """Make one record of the logs, read one after the other as if they were one file.

    Each begins with its own header lines. Raises Refusal where a file cannot be read or no line can be used.
    """
    from stillwell.record.importing import import_lines
    from stillwell.record.mapping import read_mapping

    told = read_mapping(read_text(Path(mapping)), mapping)
    sizes = [_size(log) for log in logs]
    headers = [0]
    with progress("Reading", sum(sizes), shown=shown) as done:
        made = import_lines(_chained(logs, sizes, told, headers), told, done, file=logs[0])
    report = replace(made.report, lines=made.report.lines + headers[0], header=made.report.header + headers[0])
    return replace(made, report=report, about=replace(made.about, report=report))


def _chained(logs: list[str], sizes: list[int], mapping: "LogMapping", headers: list[int]) -> "Iterator[NumberedLine]":
    """Yield the lines of all logs; those above the rows of all but the first are only counted, in ``headers``."""
    lines_before = bytes_before = 0
    for index, log in enumerate(logs):
        number = 0
        for number, raw, position in lines(Path(log)):
            if index and number <= mapping.log.header_lines:
                headers[0] += 1
            else:
                yield lines_before + number, raw, bytes_before + position
        lines_before += number
        bytes_before += sizes[index]


def _size(name: str) -> int:
    try:
        return Path(name).stat().st_size
    except OSError as error:
        raise unreadable(Path(name), error) from error


def _stored(record: "Record", about: "About | None") -> "Stored":
    from stillwell.record.parquet import Stored

    return Stored(record) if about is None else Stored(record, about)


def _beginning(path: Path) -> bytes:
    try:
        with path.open("rb") as stream:
            return stream.read(len(_MAGIC))
    except OSError as error:
        raise unreadable(path, error) from error


def _read_text_form(path: Path, *, shown: bool) -> "Record":
    from stillwell.record.text import read_text as read_text_form

    with progress("Reading", _size(str(path)), shown=shown) as done:

        def decoded() -> Iterator[str]:
            for number, raw, position in lines(path):
                if raw is None:
                    raise refuse("this line is longer than a line may be", file=str(path), line=number)
                try:
                    yield raw.decode("utf-8")
                except UnicodeDecodeError as error:
                    raise refuse("this line is not UTF-8 text", _IF_LOG, file=str(path), line=number) from error
                if not number % 8192:
                    done(position)

        try:
            return read_text_form(decoded(), str(path))
        except Refusal as refusal:
            raise _with_hint(refusal, str(path)) from refusal


_IF_LOG: Final = "Is this a log from elsewhere? Then name its mapping too: --mapping FILE."


def _with_hint(refusal: Refusal, file: str) -> Refusal:
    """Ask, where many lines make no sense, whether this is a foreign log."""
    if len(refusal.problems) < 5:
        return refusal
    return Refusal([*refusal.problems[:3], Problem("and so with further lines", Place(file), _IF_LOG)])

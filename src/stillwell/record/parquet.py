"""A record to and from the bytes of a Parquet file.

Three columns sorted by time: ``time_ms`` (int64, UTC), ``signal`` (names by dictionary), ``value`` (float64: of a
pulse 1, of a level 0 or 1, unknown NaN). What else a record knows is JSON under the key ``stillwell``.

The library that reads Parquet ends the whole process on some damaged files. So a file is sealed with a checksum of
all its other bytes, and only whole files get that far.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from io import BytesIO
from types import ModuleType
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic.dataclasses import dataclass as checked_dataclass

from stillwell.problem import Refusal, refuse
from stillwell.record.columns import (
    FALSE,
    TRUE,
    UNKNOWN,
    Column,
    Gap,
    Kind,
    Pulses,
    Record,
    Steps,
    kind_of,
)
from stillwell.record.report import About, ImportReport

FORMAT_VERSION: Final = 1
KEY: Final = "stillwell"
_SEAL: Final = "stillwell.sha256"
_BLANK: Final = "0" * 64
# A text of 64 bytes after its key, as the footer of a Parquet file writes it (Thrift compact protocol).
_SEALED: Final = re.compile(rb"\x10" + _SEAL.encode() + rb"\x18\x40([0-9a-f]{64})")
_MAGIC: Final = b"PAR1"
_TRUNCATED: Final = "It may have been cut off while copying: copy or import it again."


@checked_dataclass(frozen=True, config=ConfigDict(extra="forbid"))
class _Beside:
    """The JSON beside the columns."""

    format: int
    zone: str
    span: tuple[int, int]
    kinds: dict[str, Kind]
    units: dict[str, str]
    gaps: tuple[Gap, ...]
    events: int
    malformed: int
    late: int
    origin: str
    report: ImportReport | None


_BESIDE: Final = TypeAdapter(_Beside)


@dataclass(frozen=True, slots=True)
class Stored:
    """A record as it was stored, and what was kept beside it."""

    record: Record
    about: About = field(default_factory=About)


def write_parquet(record: Record, about: About | None = None) -> bytes:
    """Return the record as the bytes of a Parquet file."""
    core, io = _library()
    about = about or About()
    names = sorted(record.signals)
    times, codes, values = _flat(record, names)
    labels = core.Array(names, type=core.DataType.string())
    dictionary = core.DataType.dictionary(core.DataType.int32(), core.DataType.string())
    table = core.Table.from_pydict(
        {
            "time_ms": core.Array.from_numpy(times),
            "signal": labels.cast(dictionary).take(core.Array.from_numpy(codes)),
            "value": core.Array.from_numpy(values),
        }
    )
    beside = _Beside(
        format=FORMAT_VERSION,
        zone=record.zone,
        span=record.span,
        kinds={name: kind_of(record.signals[name]) for name in names},
        units=dict(about.units),
        gaps=record.gaps,
        events=record.events,
        malformed=record.malformed,
        late=record.late,
        origin=about.origin,
        report=about.report,
    )
    out = BytesIO()
    notes = {KEY: _BESIDE.dump_json(beside).decode(), _SEAL: _BLANK}
    io.write_parquet(table, out, compression="zstd(3)", key_value_metadata=notes)
    return _sealed(out.getvalue())


def read_parquet(data: bytes, file: str = "") -> Stored:
    """Read a record back. Raises Refusal where the bytes are no Parquet file, a damaged one or none of ours."""
    _check_seal(data, file)
    core, io = _library()
    table = io.read_parquet(BytesIO(data), batch_size=max(1, len(data))).read_all()
    try:
        beside = _BESIDE.validate_json(table.schema.metadata[KEY.encode()])
    except ValidationError as error:
        raise refuse(
            "this record was written by another version of this program", "Import the log again.", file=file
        ) from error
    if table.num_rows:
        coded = table.column("signal").combine_chunks()
        labels = core.dictionary_dictionary(coded).to_pylist()
        codes = core.dictionary_indices(coded).to_numpy()
        times = table.column("time_ms").combine_chunks().to_numpy()
        values = table.column("value").combine_chunks().to_numpy()
    else:
        labels, codes = [], np.empty(0, np.int32)
        times, values = np.empty(0, np.int64), np.empty(0, np.float64)
    signals = _columns(beside.kinds, labels, codes, times, values)
    record = Record(beside.zone, beside.span, signals, beside.gaps, beside.events, beside.malformed, beside.late)
    return Stored(record, About(beside.origin, beside.units, beside.report))


def _library() -> tuple[ModuleType | Any, ModuleType | Any]:
    """The one door to the Parquet library, which the base installation leaves out."""
    try:
        import arro3.core  # noqa: PLC0415
        import arro3.io  # noqa: PLC0415
    except ImportError as error:
        raise refuse("Parquet files need a further package", "Run `make install` in Stillwell's folder.") from error
    return arro3.core, arro3.io


def _flat(record: Record, names: list[str]) -> tuple[NDArray[np.int64], NDArray[np.int32], NDArray[np.float64]]:
    columns = [record.signals[name] for name in names]
    counts = [len(column.times) for column in columns]
    times = np.concatenate([np.empty(0, np.int64), *(column.times for column in columns)])
    values = np.concatenate([np.empty(0, np.float64), *(_values(column) for column in columns)])
    order = np.argsort(times, kind="stable")
    codes = np.repeat(np.arange(len(names), dtype=np.int32), counts)
    return times[order], codes[order], values[order]


def _values(column: Column) -> NDArray[np.float64]:
    if isinstance(column, Pulses):
        return np.ones(len(column.times))
    if column.values.dtype == np.int8:
        return np.array([0.0, np.nan, 1.0])[column.values]
    return column.values.astype(np.float64, copy=False)


def _columns(
    kinds: Mapping[str, Kind],
    labels: list[str],
    codes: NDArray[np.int32],
    times: NDArray[np.int64],
    values: NDArray[np.float64],
) -> dict[str, Column]:
    order = np.argsort(codes, kind="stable")
    edges = np.searchsorted(codes[order], np.arange(len(labels) + 1))
    place = {label: order[start:end] for label, start, end in zip(labels, edges[:-1], edges[1:], strict=True)}
    nowhere = np.empty(0, np.intp)
    columns: dict[str, Column] = {}
    for name, kind in kinds.items():
        rows = place.get(name, nowhere)
        match kind:
            case "pulse":
                columns[name] = Pulses(times[rows])
            case "level":
                found = values[rows]
                levels = np.where(np.isnan(found), UNKNOWN, np.where(found > 0, TRUE, FALSE))
                columns[name] = Steps(times[rows], levels.astype(np.int8))
            case "number":
                columns[name] = Steps(times[rows], values[rows])
    return columns


def _sealed(data: bytes) -> bytes:
    """Put the checksum in its place: that of the file in which the place holds noughts."""
    found = list(_SEALED.finditer(data))
    start = found[-1].start(1)
    return data[:start] + sha256(data).hexdigest().encode() + data[start + 64 :]


def _check_seal(data: bytes, file: str) -> None:
    if not data.startswith(_MAGIC):
        raise refuse("this is no Parquet file", "Give a record that `stillwell import` wrote.", file=file)
    if not data.endswith(_MAGIC) or len(data) < 12:
        raise refuse("this Parquet file ends too early", _TRUNCATED, file=file)
    found = list(_SEALED.finditer(data))
    if not found:
        raise _foreign(file)
    start, end = found[-1].span(1)
    if sha256(data[:start] + _BLANK.encode() + data[end:]).hexdigest().encode() != found[-1].group(1):
        raise refuse("this record is damaged: its checksum is wrong", _TRUNCATED, file=file)


def _foreign(file: str) -> Refusal:
    return refuse(
        "this Parquet file is no record of this program",
        "Export the log as delimited text and import it with a mapping.",
        file=file,
    )

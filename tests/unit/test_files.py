"""Files opened, and written whole or not at all; whatever the system says becomes one sentence with the file's name."""

import gzip
import os
import stat
from itertools import pairwise

import pytest

from stillwell.files import lines, read_bytes, read_text, write_whole
from stillwell.problem import Refusal

pytestmark = pytest.mark.base


def refusal(read, *arguments):
    with pytest.raises(Refusal) as caught:
        read(*arguments)
    (problem,) = caught.value.problems
    return problem


def read_all(path, longest=64 * 1024):
    return [line for _, line, _ in lines(path, longest)]


def test_text_comes_as_it_stands(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes("name = 'Łódź'\r\n".encode())
    assert read_text(path) == "name = 'Łódź'\r\n"


def test_what_is_not_utf8_is_refused_with_its_line(tmp_path):
    path = tmp_path / "a.toml"
    path.write_bytes(b"one\ntwo\nthr\xe9e\n")
    problem = refusal(read_text, path)
    assert (problem.place.file, problem.place.line) == (str(path), 3)
    assert "UTF-8" in problem.what


def test_the_largest_file_is_read_and_one_byte_more_is_not(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(bytes(1024 * 1024))
    assert len(read_bytes(path, 1024 * 1024)) == 1024 * 1024
    path.write_bytes(bytes(1024 * 1024 + 1))
    assert refusal(read_bytes, path, 1024 * 1024).what == "this file is larger than 1 MiB"


def test_no_file_and_a_folder_are_told_apart(tmp_path):
    missing = refusal(read_text, tmp_path / "a.toml")
    assert (missing.what, missing.place.file) == ("there is no such file", str(tmp_path / "a.toml"))
    assert "folder" in refusal(read_text, tmp_path).what
    assert "folder" in refusal(read_all, tmp_path).what
    assert "no such file" in refusal(read_all, tmp_path / "a.csv").what


@pytest.mark.parametrize(
    ("content", "found"),
    [
        (b"", []),
        (b"a\nb", [b"a", b"b"]),
        (b"a\r\n\r\nb\n", [b"a", b"", b"b"]),
        (b"\xff\x00\n", [b"\xff\x00"]),
    ],
)
@pytest.mark.parametrize("packed", [False, True])
def test_lines_come_without_their_ends(tmp_path, content, found, packed):
    path = tmp_path / ("a.csv.gz" if packed else "a.csv")
    path.write_bytes(gzip.compress(content) if packed else content)
    assert read_all(path) == found
    assert [number for number, _, _ in lines(path)] == list(range(1, len(found) + 1))


@pytest.mark.parametrize("end", [b"\n", b"\r\n"])
@pytest.mark.parametrize("length", range(8, 36))
def test_a_line_too_long_comes_as_none_and_the_next_is_whole(tmp_path, length, end):
    path = tmp_path / "a.csv"
    path.write_bytes(b"x" * length + end + b"next" + end + b"x" * length)
    whole = b"x" * length if length <= 10 else None
    assert read_all(path, 10) == [whole, b"next", whole]


def test_the_bytes_used_grow_to_no_more_than_the_file(tmp_path):
    path = tmp_path / "a.csv"
    path.write_bytes(b"some line\n" * 20_000)
    used = [number for _, _, number in lines(path)]
    assert all(before <= after for before, after in pairwise(used))
    assert used[0] > 0
    assert used[-1] <= 200_000
    assert used[-1] > 180_000


@pytest.mark.parametrize(
    "damage",
    [
        lambda packed: packed[:-9],
        lambda packed: packed[:-8] + bytes(8),
        lambda packed: packed[:40] + b"\xff" * 40 + packed[80:],
        lambda _: b"never packed",
    ],
    ids=["cut off", "wrong checksum", "garbled", "not packed at all"],
)
def test_a_damaged_packed_file_is_refused(tmp_path, damage):
    path = tmp_path / "a.csv.gz"
    content = b"".join(b"%d;%d\n" % (number, number * number % 7919) for number in range(5000))
    path.write_bytes(damage(gzip.compress(content)))
    problem = refusal(read_all, path)
    assert problem.what.startswith("cannot read: ")
    assert problem.place.file == str(path)


def test_what_is_written_is_there_whole_and_nothing_else(tmp_path):
    path = tmp_path / "new" / "a.toml"
    write_whole(path, "ä\n")
    assert path.read_bytes() == "ä\n".encode()
    write_whole(path, b"\x00")
    assert path.read_bytes() == b"\x00"
    assert list(path.parent.iterdir()) == [path]


def test_who_may_read_a_file_stays_as_it_was(tmp_path):
    path = tmp_path / "a.toml"
    write_whole(path, "new")
    assert stat.S_IMODE(path.stat().st_mode) == 0o644
    path.chmod(0o600)
    write_whole(path, "changed")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_a_failure_leaves_the_old_file_and_no_scraps(tmp_path, monkeypatch):
    path = tmp_path / "a.toml"
    path.write_text("old")

    def full(_descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    problem = refusal(write_whole, path, "new")
    assert problem.what == "cannot write: No space left on device"
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_place_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / "file").touch()
    assert "cannot write" in refusal(write_whole, tmp_path / "file" / "a.toml", "x").what
    (tmp_path / "folder").mkdir()
    assert "cannot write" in refusal(write_whole, tmp_path / "folder", "x").what
    assert sorted(tmp_path.iterdir()) == [tmp_path / "file", tmp_path / "folder"]

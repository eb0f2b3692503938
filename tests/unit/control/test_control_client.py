"""Finding a watch and asking it: its file is private, stale files and strangers are no watch, waiting blocks nobody."""

import asyncio
import socket
import stat
import threading
from contextlib import contextmanager

import pytest

from stillwell.control import asks
from stillwell.control.client import Control
from stillwell.control.place import Address, announce, announced, beside, withdraw, write_private
from stillwell.control.wire import NoWatch
from stillwell.problem import Refusal

pytestmark = pytest.mark.base

DONE = b'HTTP/1.1 200 OK\r\n\r\n{"sentence": "So it is.", "until_ms": null}'


@contextmanager
def answering(store, answer):
    """Somebody who gives one answer to whoever asks, in a thread of its own; yields what was asked."""
    asked = []
    listening = socket.create_server(("127.0.0.1", 0))
    announce(store, Address(f"http://127.0.0.1:{listening.getsockname()[1]}", "key"))

    def serve():
        while True:
            try:
                connection, _ = listening.accept()
            except OSError:
                return
            with connection:
                asked.append(connection.recv(65536))
                connection.sendall(answer)

    thread = threading.Thread(target=serve)
    thread.start()
    try:
        yield asked
    finally:
        listening.shutdown(socket.SHUT_RDWR)
        listening.close()
        thread.join()


def test_the_file_is_for_its_owner_only_and_goes_away(tmp_path):
    store = str(tmp_path / "home.db")
    announce(store, Address("http://127.0.0.1:1", "key"))
    file = tmp_path / "home.db.control"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert announced(store) == Address("http://127.0.0.1:1", "key")
    withdraw(store)
    withdraw(store)
    assert announced(store) is None
    assert list(tmp_path.iterdir()) == []


def test_a_store_in_a_database_has_its_place_elsewhere(tmp_path):
    one = beside("postgresql://host/db#mill", "control", {"XDG_RUNTIME_DIR": str(tmp_path)})
    other = beside("postgresql://host/db#lane", "control", {"XDG_RUNTIME_DIR": str(tmp_path)})
    assert one.parent == other.parent == tmp_path
    assert one != other
    assert "host" not in one.name
    assert beside("postgresql://h/d", "control", {"RUNTIME_DIRECTORY": "/run/x"}).parent.as_posix() == "/run/x"
    assert "stillwell" in str(beside("postgresql://h/d", "control", {}))


@pytest.mark.parametrize("text", ["", "{}", "[]", "null", '{"url": 1}', "\x00", '{"key": "x"}'])
def test_a_broken_file_is_none(tmp_path, text):
    (tmp_path / "home.db.control").write_text(text, "utf-8")
    assert announced(str(tmp_path / "home.db")) is None
    with pytest.raises(NoWatch):
        Control(str(tmp_path / "home.db")).ask(asks.status())


def test_a_store_is_the_same_by_whatever_way_it_is_named(tmp_path):
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    announce(str(tmp_path / "real" / "home.db"), Address("http://127.0.0.1:1", "key"))
    assert announced(str(tmp_path / "link" / "home.db")) == Address("http://127.0.0.1:1", "key")


def test_what_somebody_else_wrote_there_is_not_believed(tmp_path, monkeypatch):
    """As if we were another user than the one who owns the file: not root, and not its owner."""
    store = str(tmp_path / "home.db")
    announce(store, Address("http://127.0.0.1:1", "key"))
    owner = (tmp_path / "home.db.control").stat().st_uid
    monkeypatch.setattr("os.getuid", lambda: owner + 1)
    assert (announced(store) is None) is (owner != 0)  # what root wrote is believed
    monkeypatch.setattr("os.getuid", lambda: 0)
    assert announced(store) is not None
    monkeypatch.setattr("os.getuid", lambda: owner + 1)
    folder = tmp_path / f"stillwell-{owner + 1}"
    folder.mkdir()
    with pytest.raises(Refusal, match="somebody else's"):
        write_private(folder / "x", "key")


def test_a_place_that_cannot_be_written_is_refused(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(Refusal, match="cannot write"):
        write_private(tmp_path / "file" / "below", "x")


def test_asking_waiting_and_not_waiting(tmp_path):
    store = str(tmp_path / "home.db")
    with answering(store, DONE) as asked:
        assert Control(store).ask(asks.resume("ruth")).sentence == "So it is."
        assert asyncio.run(Control(store).asked(asks.resume("ruth"))).sentence == "So it is."
    assert len(asked) == 2
    assert asked[0] == asked[1]
    assert b"Authorization: Bearer key\r\n" in asked[0]


@pytest.mark.parametrize("answer", [b"", b"220 mail.example.org ESMTP\r\n", b"HTTP/1.1 200 OK\r\n\r\n{}"])
def test_a_stranger_at_the_address_is_no_watch(tmp_path, answer):
    store = str(tmp_path / "home.db")
    with answering(store, answer):
        with pytest.raises(NoWatch):
            Control(store).ask(asks.resume("ruth"))
        with pytest.raises(NoWatch):
            asyncio.run(Control(store).asked(asks.resume("ruth")))


def test_a_file_left_by_one_that_was_killed_is_no_watch(tmp_path):
    store = str(tmp_path / "home.db")
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        port = one.getsockname()[1]
    announce(store, Address(f"http://127.0.0.1:{port}", "key"))
    with pytest.raises(NoWatch, match="gone"):
        Control(store).ask(asks.status())
    with pytest.raises(NoWatch, match="gone"):
        asyncio.run(Control(store).asked(asks.status()))


def test_who_never_answers_is_no_watch(tmp_path):
    store = str(tmp_path / "home.db")
    patient = asks.Ask(asks.status().request, asks.status().read, patience_s=0.05)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        announce(store, Address(f"http://127.0.0.1:{silent.getsockname()[1]}", "key"))
        with pytest.raises(NoWatch, match="in time"):
            Control(store).ask(patient)
        with pytest.raises(NoWatch, match="in time"):
            asyncio.run(Control(store).asked(patient))

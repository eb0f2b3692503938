"""What systemd hears, by its protocol (sd_notify(3)): datagrams to NOTIFY_SOCKET, WATCHDOG=1 within WATCHDOG_USEC."""

import asyncio
import socket

from stillwell.watch.notify import Notify


class Going:
    """A loop that goes round, until it does not."""

    def __init__(self, *turns):
        self.left = list(turns)
        self.asked = asyncio.Event()

    async def turns(self, within_s):
        if not self.left:
            self.asked.set()
            await asyncio.Event().wait()
        return self.left.pop(0)


def heard(way):
    way.setblocking(False)
    found = []
    while True:
        try:
            found.append(way.recv(100))
        except BlockingIOError:
            return found


def test_a_line_is_a_datagram(tmp_path):
    path = str(tmp_path / "notify")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
        way.bind(path)
        Notify({"NOTIFY_SOCKET": path}).say("READY=1")
        assert heard(way) == [b"READY=1"]


def test_an_abstract_address_begins_with_an_at(tmp_path):
    """ "If the first character is @, the string is understood as Linux abstract namespace socket"."""
    name = f"stillwell-{tmp_path.name}-{id(tmp_path)}"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
        way.bind(f"\0{name}")
        Notify({"NOTIFY_SOCKET": f"@{name}"}).say("STOPPING=1")
        assert heard(way) == [b"STOPPING=1"]


def test_only_a_loop_that_goes_round_is_alive(tmp_path):
    path = str(tmp_path / "notify")

    async def play(way):
        going = Going(True, True, False, True)
        notify = Notify({"NOTIFY_SOCKET": path, "WATCHDOG_USEC": "3000"})
        alive = asyncio.create_task(notify.keep_alive(going))
        await going.asked.wait()
        alive.cancel()
        return heard(way)

    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as way:
        way.bind(path)
        assert asyncio.run(play(way)) == [b"WATCHDOG=1"] * 3


def test_without_systemd_nothing_is_sent_and_nothing_fails(tmp_path):
    gone = str(tmp_path / "gone")
    for environment in (
        {},
        {"NOTIFY_SOCKET": gone},
        {"NOTIFY_SOCKET": gone, "WATCHDOG_USEC": "x"},
        {"WATCHDOG_USEC": "9"},
    ):
        notify = Notify(environment)
        notify.say("READY=1")
        assert notify.every_s == 0

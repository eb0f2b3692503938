"""A server on loopback that somebody tries to hold up: slow heads, slow bodies, endless heads, many connections."""

import asyncio
import logging
import socket
import threading
import time
from contextlib import contextmanager

import pytest
from starlette.applications import Starlette
from starlette.requests import ClientDisconnect
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from stillwell.serving import server as serving
from stillwell.serving.server import LARGEST_HEAD_BYTES, Patient, Server, config

LIMIT_S = 0.4
REQUEST = b"GET /quick HTTP/1.1\r\nHost: x\r\n"


class Served:
    """The server in a thread of its own; ``said`` holds what it told, ``broke_off`` the bodies that never came."""

    def __init__(self):
        self.said, self.broke_off, self.release = [], threading.Event(), threading.Event()
        routes = [
            Route("/quick", self.quick),
            Route("/slow", self.slow),
            Route("/body", self.body, methods=["POST"]),
            Route("/fails", self.fails),
        ]
        listening = socket.create_server(("127.0.0.1", 0))
        self.address = listening.getsockname()
        self.server = Server(config(Starlette(routes=routes), lambda what, **about: self.said.append((what, about))))
        self.thread = threading.Thread(target=lambda: asyncio.run(self.server.serve([listening])))
        self.thread.start()

    async def quick(self, request):
        return PlainTextResponse("quick")

    async def slow(self, request):
        await asyncio.to_thread(self.release.wait, 20)
        return PlainTextResponse("slow")

    async def body(self, request):
        try:
            return PlainTextResponse(str(len(await request.body())))
        except ClientDisconnect:
            self.broke_off.set()
            raise

    async def fails(self, request):
        raise RuntimeError("somewhere inside")

    @contextmanager
    def connected(self):
        with socket.create_connection(self.address, timeout=20) as connection:
            yield connection


@pytest.fixture
def served(monkeypatch):
    monkeypatch.setattr(Patient, "arrives_within_s", LIMIT_S)
    server = Served()
    yield server
    server.release.set()
    server.server.end()
    server.thread.join(20)
    assert not server.thread.is_alive()


def drip(connection, data):
    """Send byte by byte, a tenth of the limit apart, until cut off; return for how long that went, s."""
    begun = time.monotonic()
    connection.settimeout(LIMIT_S / 10)
    try:
        for byte in data * 20:
            connection.sendall(bytes([byte]))
            try:
                if connection.recv(1000) == b"":
                    break
            except TimeoutError:
                continue
    except OSError:
        pass
    return time.monotonic() - begun


@pytest.mark.parametrize(
    "head",
    [b"", REQUEST, b"POST /body HTTP/1.1\r\nHost: x\r\nContent-Length: 100000\r\n\r\n"],
    ids=["nothing", "half a head", "a body by drops"],
)
def test_what_comes_too_slowly_is_cut_off(served, head):
    with served.connected() as connection:
        connection.sendall(head)
        took_s = drip(connection, b"X-A: b\r\n") if head else drip(connection, b"G")
    assert LIMIT_S / 2 < took_s < 20 * LIMIT_S
    if b"POST" in head:
        assert served.broke_off.wait(20)


def test_the_next_request_on_a_connection_has_its_time_too(served):
    with served.connected() as connection:
        connection.sendall(REQUEST + b"\r\n")
        assert b"200 OK" in connection.recv(10_000)
        connection.sendall(REQUEST)
        assert drip(connection, b"X-A: b\r\n") < 20 * LIMIT_S


def test_an_answer_may_take_longer_than_a_request(served):
    with served.connected() as connection:
        connection.sendall(REQUEST.replace(b"quick", b"slow") + b"\r\n")
        connection.settimeout(3 * LIMIT_S)
        with pytest.raises(TimeoutError):
            connection.recv(1000)
        served.release.set()
        connection.settimeout(20)
        answer = b""
        while not answer.endswith(b"slow"):
            piece = connection.recv(10_000)
            assert piece, answer
            answer += piece


def test_an_endless_head_is_refused(served):
    with served.connected() as connection:
        connection.sendall(REQUEST + b"X-A: " + b"a" * (2 * LARGEST_HEAD_BYTES))
        assert b"400 Bad Request" in connection.recv(10_000)


def test_one_address_has_so_many_connections(served, monkeypatch):
    monkeypatch.setattr(serving, "_OWN_MACHINE", ())
    monkeypatch.setattr(Patient, "most_of_one_address", 3)
    monkeypatch.setattr(Patient, "arrives_within_s", 20.0)
    connections = [socket.create_connection(served.address, timeout=20) for _ in range(3)]
    try:
        for connection in connections:
            connection.sendall(REQUEST + b"\r\n")
            assert b"200 OK" in connection.recv(10_000)
        with served.connected() as one_more, pytest.raises(OSError):  # noqa: PT012 - either may find it closed
            one_more.sendall(REQUEST + b"\r\n")
            if one_more.recv(10_000) == b"":
                raise ConnectionResetError
    finally:
        for connection in connections:
            connection.close()


def test_what_fails_inside_is_told_and_not_shown():
    logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)  # as another server in the process may leave it
    served = Served()
    with served.connected() as connection:
        connection.sendall(REQUEST.replace(b"quick", b"fails") + b"Connection: close\r\n\r\n")
        answer = b""
        while piece := connection.recv(10_000):
            answer += piece
    assert b"500" in answer
    assert b"somewhere inside" not in answer
    served.server.end()
    served.thread.join(20)  # the answer may be out before the log has it
    ((what, about),) = served.said
    assert what == "the server says"
    assert "RuntimeError: somewhere inside" in about["why"]

"""Through the notification library to an HTTP server on loopback."""

import json
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from stillwell.channels.notice import Notice
from stillwell.channels.through_apprise import through_apprise

NOTICE = Notice("k" * 32, "Smoke, Mühle", 'At Mühle: "Smoke" <b>\\n', "https://home.example/answer/t", 0)

# The library still uses what a later Python will drop; that is its own affair.
pytestmark = pytest.mark.filterwarnings("ignore::DeprecationWarning")


@pytest.fixture
def receiver():
    """A server that keeps what it gets, and answers with ``status`` after ``wait`` is set."""

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            body = self.rfile.read(int(self.headers["Content-Length"]))
            server.got.append((dict(self.headers), body))
            server.wait.wait(20)
            self.send_response(server.status)
            self.end_headers()

        def log_message(self, *args):
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.got, server.status, server.wait = [], 200, threading.Event()
    server.wait.set()
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server
    server.wait.set()
    server.shutdown()
    server.server_close()
    thread.join()


def address(server, more=""):
    return f"json://127.0.0.1:{server.server_port}/home{more}"


@pytest.mark.parametrize("more", ["", "?rto=2"])
def test_a_webhook_gets_sentence_link_and_key(receiver, more):
    assert through_apprise(address(receiver, more), NOTICE).ok
    ((headers, body),) = receiver.got
    assert headers["Idempotency-Key"] == "k" * 32
    told = json.loads(body)
    assert told["title"] == "Smoke, Mühle"
    assert told["message"] == f"{NOTICE.sentence}\n{NOTICE.link}"


def test_sent_again_it_carries_the_same_key(receiver):
    began = time.monotonic()
    for _ in range(4):
        assert through_apprise(address(receiver), NOTICE).ok
    assert {headers["Idempotency-Key"] for headers, _ in receiver.got} == {"k" * 32}
    assert time.monotonic() - began < 4  # one object for all would wait 5.5 s between two


def test_a_refusal_is_no_delivery(receiver):
    receiver.status = 503
    delivery = through_apprise(address(receiver), NOTICE)
    assert (delivery.ok, delivery.reason) == (False, "the service refuses (503)")


def test_a_service_that_never_answers(receiver):
    receiver.wait.clear()
    delivery = through_apprise(address(receiver), NOTICE, patience_s=0.5)
    assert (delivery.ok, delivery.reason) == (False, "the service does not answer in time")


def test_nobody_there_and_nothing_secret_said(receiver, capfd):
    url = address(receiver).replace("127.0.0.1", "user:hush-hush@127.0.0.1").replace(f":{receiver.server_port}/", ":1/")
    delivery = through_apprise(url, NOTICE)
    assert (delivery.ok, delivery.reason) == (False, "the service could not be reached, or refuses")
    said = capfd.readouterr()
    assert "hush" not in said.out + said.err

"""Where messages arrive: a webhook and a mail server on loopback that keep what they got, and now and then refuse."""

import json
import random
import socket
import threading
from dataclasses import dataclass
from email import message_from_bytes, policy
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from aiosmtpd.controller import Controller


@dataclass(frozen=True)
class Arrived:
    """A message as it arrived: its key, by which way, for whom, and what it said."""

    key: str
    way: str
    person: str
    text: str


class Receiver:
    """``refusing``: which share of the messages is sent back, without being kept, with a temporary refusal."""

    def __init__(self, refusing=0.0, seed=0):
        self.got, self.refused = [], 0
        self._refusing, self._draw, self._lock = refusing, random.Random(seed), threading.Lock()
        self._web = _web(self)
        self._thread = threading.Thread(target=self._web.serve_forever, daemon=True)
        self._thread.start()
        self._mail = Controller(_Mail(self), hostname="127.0.0.1", port=_free())
        self._mail.start()

    @property
    def smtp_port(self):
        return self._mail.port

    def webhook(self, person):
        return f"json://127.0.0.1:{self._web.server_port}/{person}"

    def takes(self, arrived):
        """Keep a message, or say that it is not taken."""
        with self._lock:
            if self._draw.random() < self._refusing:
                self.refused += 1
                return False
            self.got.append(arrived)
            return True

    def close(self):
        self._mail.stop()
        self._web.shutdown()
        self._web.server_close()
        self._thread.join()


def _web(receiver):
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self):
            told = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
            arrived = Arrived(self.headers["Idempotency-Key"], "webhook", self.path.strip("/"), told["message"])
            self.send_response(200 if receiver.takes(arrived) else 503)
            self.end_headers()

        def log_message(self, *args):
            pass

    class Server(ThreadingHTTPServer):
        def handle_error(self, request, client_address):
            """Whoever sent it was killed meanwhile."""

    return Server(("127.0.0.1", 0), Handler)


class _Mail:
    def __init__(self, receiver):
        self._receiver = receiver

    async def handle_DATA(self, server, session, envelope):  # noqa: N802 - the library's name
        letter = message_from_bytes(envelope.content, policy=policy.default)
        key = letter["Message-ID"].strip("<>").partition("@")[0]
        person = envelope.rcpt_tos[0].partition("@")[0]
        arrived = Arrived(key, "mail", person, letter.get_content().strip())
        return "250 taken" if self._receiver.takes(arrived) else "451 try again"


def _free():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]

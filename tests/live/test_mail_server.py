"""Mail against a real SMTP server on loopback: aiosmtpd, which is not ours."""

import asyncio
import socket
import ssl
import subprocess
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from email import message_from_bytes, policy

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult

from stillwell.channels.mail import MailServer, mail
from stillwell.channels.notice import Notice

NOTICE = Notice(
    "k" * 32, "Smoke, Mühle", "There is smoke, ring Ada.", "https://home.example/answer/t", 1_780_000_000_000
)


class Letters:
    """Keeps what comes in; refuses who is not known."""

    def __init__(self):
        self.got = []

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802 - aiosmtpd's name
        if address.startswith("nobody@"):
            return "550 no such user here"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        self.got.append((session.ssl is not None, message_from_bytes(envelope.content, policy=policy.default)))
        return "250 taken"


class HangsUp(Letters):
    """Takes the letter and breaks off instead of saying goodbye."""

    async def handle_QUIT(self, server, session, envelope):  # noqa: N802
        server.transport.close()
        return "421 bye"


class Server(Controller):
    def __init__(self, handler, **options):
        with socket.socket() as one:
            one.bind(("127.0.0.1", 0))
            port = one.getsockname()[1]
        super().__init__(handler, hostname="127.0.0.1", port=port, **options)


def knows(server, session, envelope, mechanism, data):
    return AuthResult(success=(data.login, data.password) == (b"watch", b"the password"), handled=False)


@pytest.fixture(scope="module")
def certificate(tmp_path_factory):
    folder = tmp_path_factory.mktemp("certificate")
    key, cert = folder / "key.pem", folder / "cert.pem"
    new_key = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-keyout", key]
    whose = ["-days", "2", "-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"]
    subprocess.run(["openssl", "req", "-x509", *new_key, *whose, "-out", cert], check=True, capture_output=True)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(cert, key)
    return context, str(cert)


@pytest.fixture
def served():
    running = []

    def serve(handler, **options):
        server = Server(handler, **options)
        server.start()
        running.append(server)
        return server

    yield serve
    for server in running:
        server.stop()


def to(server, security="none", **options):
    return mail(MailServer("127.0.0.1", server.port, security, "watch@home.example", patience_s=5, **options))


def test_a_mail_arrives_with_its_key(served):
    letters = Letters()
    assert to(served(letters))("ruth@example.org", NOTICE).ok
    ((_, letter),) = letters.got
    assert letter["Message-ID"] == f"<{'k' * 32}@home.example>"
    assert letter["Subject"] == "Smoke, Mühle"
    assert letter.get_content().split() == [*NOTICE.sentence.split(), NOTICE.link]


def test_five_mails_to_one_server_do_not_wait_for_each_other(served):
    letters = Letters()
    send = to(served(letters))
    began = time.monotonic()
    with ThreadPoolExecutor(5) as threads:
        assert all(one.ok for one in threads.map(lambda n: send(f"p{n}@example.org", NOTICE), range(5)))
    assert len(letters.got) == 5
    assert time.monotonic() - began < 5


def test_starttls_with_a_user(served, certificate):
    context, cert = certificate
    letters = Letters()
    server = served(letters, tls_context=context, require_starttls=True, auth_required=True, authenticator=knows)
    assert to(server, "starttls", ca_file=cert, user="watch", password="the password")("ruth@example.org", NOTICE).ok
    assert [safe for safe, _ in letters.got] == [True]
    wrong = to(server, "starttls", ca_file=cert, user="watch", password="hush-hush")("ruth@example.org", NOTICE)
    assert wrong.reason == "the mail server refuses our user or password (535)"


def test_tls_from_the_first_byte(served, certificate):
    context, cert = certificate
    letters = Letters()
    server = Threaded(letters, context)
    try:
        assert to(server, "tls", ca_file=cert)("ruth@example.org", NOTICE).ok
        stranger = to(server, "tls")("ruth@example.org", NOTICE)
    finally:
        server.stop()
    assert len(letters.got) == 1
    assert stranger.reason.startswith("no safe connection to the mail server")


class Threaded:
    """A server without the start of aiosmtpd's own, which trusts no certificate like ours."""

    def __init__(self, handler, context):
        self._loop = asyncio.new_event_loop()
        ready = threading.Event()

        async def start():
            self._server = await self._loop.create_server(
                lambda: SMTP(handler, loop=self._loop), "127.0.0.1", 0, ssl=context
            )
            self.port = self._server.sockets[0].getsockname()[1]
            ready.set()

        self._loop.create_task(start())
        self._thread = threading.Thread(target=self._loop.run_forever)
        self._thread.start()
        ready.wait(10)

    def stop(self):
        async def close():
            self._server.close()

        asyncio.run_coroutine_threadsafe(close(), self._loop).result(10)
        self._loop.call_soon_threadsafe(self._loop.stop)
        self._thread.join(10)
        self._loop.close()


def test_what_wants_a_safe_connection_is_never_sent_without_one(served):
    letters = Letters()
    delivery = to(served(letters), "starttls")("ruth@example.org", NOTICE)
    assert delivery.reason == "the mail server cannot do what the settings ask for"
    assert letters.got == []


def test_a_certificate_of_a_stranger_is_refused(served, certificate):
    letters = Letters()
    delivery = to(served(letters, tls_context=certificate[0]), "starttls")("ruth@example.org", NOTICE)
    assert delivery.reason.startswith("no safe connection to the mail server")
    assert letters.got == []


def test_an_unknown_recipient_is_told_without_the_address(served):
    delivery = to(served(Letters()))("nobody@example.org", NOTICE)
    assert delivery.reason == "the mail server refuses this address (550)"


def test_a_server_that_hangs_up_after_taking_it_has_taken_it(served):
    letters = HangsUp()
    assert to(served(letters))("ruth@example.org", NOTICE).ok
    assert len(letters.got) == 1


def test_no_server_and_a_server_that_says_nothing():
    with socket.socket() as mute:
        mute.bind(("127.0.0.1", 0))
        port = mute.getsockname()[1]
        server = MailServer("127.0.0.1", port, "none", "watch@home.example", patience_s=0.3)
        assert mail(server)("ruth@example.org", NOTICE).reason == "no connection to the mail server"
        mute.listen()
        assert mail(server)("ruth@example.org", NOTICE).reason == "the mail server does not answer in time"

"""The demo home served to a real browser, which reaches nothing else."""

import shutil
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from threading import Event, Thread

import pytest
import uvicorn
from tests.web_home import PASSWORD, WebHome

CHROMIUM = shutil.which("chromium")
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--host-resolver-rules=MAP * ~NOTFOUND , EXCLUDE 127.0.0.1",
)  # fmt: skip
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 900}


class _Server(uvicorn.Server):
    """Says when it has begun."""

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.begun = Event()

    async def startup(self, sockets=None) -> None:
        await super().startup(sockets)
        self.begun.set()


@contextmanager
def served(home: WebHome, port: int = 0) -> Iterator[str]:
    """Serve a home from a thread; yields its address."""
    config = uvicorn.Config(
        home.app, log_level="critical", lifespan="on", ws="none", timeout_graceful_shutdown=1, server_header=False
    )
    at = socket.socket()
    at.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    at.bind(("127.0.0.1", port))
    server = _Server(config)
    thread = Thread(target=server.run, args=([at],))
    thread.start()
    try:
        assert server.begun.wait(20)
        yield f"http://127.0.0.1:{at.getsockname()[1]}"
    finally:
        home.feed.end()
        server.should_exit = True
        thread.join(20)
        at.close()


@contextmanager
def chromium():
    """A browser; the test is skipped where there is none."""
    api = pytest.importorskip("playwright.sync_api")
    if CHROMIUM is None:
        pytest.skip("chromium is not installed: apt-get install chromium")
    with api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        yield running
        running.close()


def enter(tab, address: str, name: str, path: str = "/today") -> None:
    """Sign in as a person would, and go to a page."""
    tab.goto(f"{address}/enter?to={path}")
    tab.get_by_label("Name").fill(name)
    tab.get_by_label("Password").fill(PASSWORD)
    tab.get_by_role("button", name="Sign in").click()
    tab.wait_for_url(f"**{path}")

"""A real broker and a real database for the tests, each on a free port of its own, gone afterwards."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from tests.live.broker import Mosquitto, free_port

from stillwell.store.store import open_store

PG = Path("/usr/lib/postgresql/15/bin")


@pytest.fixture
def mosquitto(tmp_path):
    if shutil.which("mosquitto") is None:
        pytest.skip("mosquitto is not installed: apt-get install mosquitto")
    broker = Mosquitto(tmp_path)
    yield broker
    broker.stop()


@pytest.fixture(scope="session")
def postgres():
    """The address of a PostgreSQL of our own."""
    if not (PG / "initdb").exists():
        pytest.skip("PostgreSQL 15 is not installed: apt-get install postgresql")
    # initdb refuses root; where we are root, the package's own user runs it.
    as_user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
    top = Path(tempfile.mkdtemp(prefix="stillwell-pg-"))
    if as_user:
        shutil.chown(top, "postgres")
    data, port = top / "data", free_port()

    def run(tool, *arguments):
        command = [*as_user, PG / tool, "-D", data, *arguments]
        subprocess.run(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=True, cwd="/")

    run("initdb", "-A", "trust", "--username=app", "-E", "UTF8", "--locale=C.UTF-8")
    options = f"-p {port} -c listen_addresses=127.0.0.1 -c unix_socket_directories="
    run("pg_ctl", "-w", "-l", top / "log", "-o", options, "start")
    yield f"postgresql://app@127.0.0.1:{port}/postgres"
    run("pg_ctl", "-m", "immediate", "stop")
    shutil.rmtree(top)


@pytest.fixture(params=["sqlite", "postgres"])
def store_url(request, tmp_path):
    """An empty store, once in each database."""
    if request.param == "sqlite":
        return str(tmp_path / "store.db")
    return f"{request.getfixturevalue('postgres')}#home_{tmp_path.name.replace('-', '_').lower()[-40:]}"


@pytest.fixture
def store(store_url):
    opened = open_store(store_url, owner=True)
    yield opened
    opened.close()

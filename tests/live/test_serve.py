"""`stillwell serve` as somebody starts it: the first link, whom it shows nothing to, and that it ends when told to."""

import asyncio
import re
import signal
import socket
import sqlite3
import subprocess
import sys
from contextlib import closing, contextmanager
from pathlib import Path

import httpx
import pytest
import vl_convert

from stillwell.cli.served import site_of
from stillwell.store.accounts import Accounts
from stillwell.web import chart_script
from stillwell.web.server import serve

COTTAGE = "examples/cottage"
ROOT = Path(__file__).parents[2]


@contextmanager
def serving(*arguments):
    """Start it; yields the process and the lines it printed up to its address."""
    command = [str(Path(sys.executable).with_name("stillwell")), "serve", *arguments]
    process = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True)
    try:
        yield process
    finally:
        if process.poll() is None:
            process.kill()
        process.wait(10)
        process.stdout.close()


def address_in(line):
    return re.search(r"http://\S+", line)[0]


def account_in(path, role="fitter"):
    accounts = Accounts(path)
    accounts._run("INSERT INTO account VALUES (?, ?, ?, ?, ?)", "tom", role, "", "hash", 0)
    accounts.close()


def test_it_prints_a_link_that_makes_the_first_account_and_none_after(tmp_path):
    options = (COTTAGE, "--port", "0", "--accounts", str(tmp_path / "accounts"))
    with serving(*options) as process:
        address = address_in(process.stdout.readline())
        link = address_in(process.stdout.readline())
        assert link.startswith(f"{address}/welcome/")
        with httpx.Client(base_url=address) as client:
            assert client.get("/enter").status_code == 200
            token = re.search(r'name="csrf" value="(\w+)"', client.get(link).text)[1]
            form = {"csrf": token, "name": "tom", "password": "three words in a row", "again": "three words in a row"}
            assert client.post(link, data=form).status_code == 303
            assert "There is a plan of this home, but no watch." in client.get("/today").text
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
    with serving(*options) as process:
        assert "Cottage on the hill: http://127.0.0.1:" in process.stdout.readline()
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
        assert process.stdout.read() == ""
    with serving(*options, "--new-link") as process:
        process.stdout.readline()
        assert "/welcome/" in process.stdout.readline()


def test_it_ends_although_a_page_waits_for_news(tmp_path):
    with serving(COTTAGE, "--port", "0", "--accounts", str(tmp_path / "accounts")) as process:
        address = address_in(process.stdout.readline())
        link = address_in(process.stdout.readline())
        with httpx.Client(base_url=address) as client:
            token = re.search(r'name="csrf" value="(\w+)"', client.get(link).text)[1]
            form = {"csrf": token, "name": "tom", "password": "three words in a row", "again": "three words in a row"}
            client.post(link, data=form)
            with client.stream("GET", "/today/live") as news:
                assert next(news.iter_lines()).startswith("data: ")
                process.send_signal(signal.SIGTERM)
                assert process.wait(15) == 0


def test_ctrl_c_ends_it_as_well(tmp_path):
    with serving(COTTAGE, "--port", "0", "--accounts", str(tmp_path / "accounts")) as process:
        process.stdout.readline()
        process.send_signal(signal.SIGINT)
        assert process.wait(10) == 0


def test_what_draws_charts_is_there_before_anybody_asks_and_was_put_together_apart(tmp_path, monkeypatch):
    """Putting it together lets nothing else go on in its process, so it may not be this one."""
    monkeypatch.setattr(vl_convert, "javascript_bundle", None)
    chart_script.script.cache_clear()
    site = site_of(COTTAGE, None, None, str(tmp_path / "accounts"))
    asyncio.run(serve(site, "127.0.0.1", 0, lambda _address: signal.raise_signal(signal.SIGTERM)))
    site.close()
    assert chart_script.script.cache_info().currsize == 1
    assert b"window.vegaEmbed=" in chart_script.script().body


def test_it_is_not_served_to_others_before_there_is_an_account(tmp_path):
    with serving(COTTAGE, "--port", "0", "--host", "0.0.0.0", "--accounts", str(tmp_path / "accounts")) as process:
        assert process.wait(20) == 2
        said = process.stdout.read()
    assert "there is no account yet, so nothing is served at 0.0.0.0" in said
    account_in(tmp_path / "accounts")
    with serving(COTTAGE, "--port", "0", "--host", "0.0.0.0", "--accounts", str(tmp_path / "accounts")) as process:
        assert "http://0.0.0.0:" in process.stdout.readline()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["nowhere", "--port", "0"], "nowhere"),
        ([COTTAGE, "--port", "0", "--record", "no-such.parquet"], "there is no such record"),
        ([COTTAGE, "--port", "0", "--accounts", "/proc/no/accounts"], "the accounts cannot be opened"),
    ],
)
def test_what_cannot_be_is_refused_in_a_line(tmp_path, arguments, said):
    extra = [] if "--accounts" in arguments else ["--accounts", str(tmp_path / "accounts")]
    with serving(*arguments, *extra) as process:
        assert process.wait(20) == 2
        printed = process.stdout.read()
    assert said in printed
    assert "Traceback" not in printed


def test_a_port_that_is_taken_is_refused(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        with serving(COTTAGE, "--port", port, "--accounts", str(tmp_path / "accounts")) as process:
            assert process.wait(20) == 2
            assert f"port {port} cannot be listened at" in process.stdout.read()


def test_the_accounts_lie_beside_the_store_for_their_owner_only(tmp_path):
    with serving(COTTAGE, "--port", "0", "--store", str(tmp_path / "home.db")) as process:
        process.stdout.readline()
        made = tmp_path / "home.db.accounts"
        assert made.stat().st_mode & 0o077 == 0
        assert not (tmp_path / "home.db").exists()
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
    assert [path.name for path in tmp_path.iterdir()] == ["home.db.accounts"]
    with closing(sqlite3.connect(made)) as opened:
        assert opened.execute("SELECT COUNT(*) FROM account").fetchone() == (0,)

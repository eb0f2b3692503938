"""Every route, every role, every method: generated from the table, so that a new page cannot be forgotten."""

import asyncio
import re
from dataclasses import replace
from itertools import product

import pytest
from starlette.responses import PlainTextResponse
from tests.web_home import token_of, visiting, web_home

from stillwell.store.accounts import ROLES
from stillwell.web import app as web_app
from stillwell.web.doors.headers import HEADERS
from stillwell.web.doors.passwords import Passwords
from stillwell.web.doors.sessions import Sessions
from stillwell.web.route import ANYBODY
from stillwell.web.routes import table

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE")
NOBODY = ""
REACHED = "the handler was reached"


def entries(home):
    return table(home.feed, Sessions(home.site.accounts), Passwords())


def addresses(home):
    """Every path of the table with its methods and the roles of each, twins included."""
    found: dict[str, dict] = {}
    for entry in entries(home):
        for path in [entry.path, *([f"{entry.path}.json"] if entry.twin else [])]:
            found.setdefault(path, {})[entry.method] = entry.roles
    return found


@pytest.fixture
def probed(tmp_path, monkeypatch):
    """The home with every handler replaced by one that only says that it was reached."""

    async def reached(_visit):
        return PlainTextResponse(REACHED)

    def probes(*given):
        return [replace(entry, handler=reached) for entry in table(*given) if entry.path != "/enter"] + [
            entry for entry in table(*given) if entry.path == "/enter"
        ]

    monkeypatch.setattr(web_app, "table", probes)
    return web_home(tmp_path)


def filled(path):
    """An address of a path with something in its places."""
    return re.sub(r"\{\w+\}", "abc", re.sub(r"\{\w+:int\}", "1", path))


def expected(methods, method, role):
    """What the table says: the answer's status, and whether the handler may be reached."""
    roles = methods.get("GET" if method == "HEAD" else method)
    if roles is None:
        return {405}, False
    if roles is ANYBODY or role in roles:
        return {200}, True
    if role == NOBODY:
        return ({303, 401} if method in {"GET", "HEAD"} else {401}), False
    return {403}, False


@pytest.mark.parametrize("role", [NOBODY, *ROLES])
def test_each_route_answers_whom_the_table_names_and_nobody_else(probed, role):
    """A twin and a page have the same door; a method that is not in the table is refused to everybody."""

    async def run():
        found = []
        async with visiting(probed, role) as client:
            token = await signed(client, role)
            for (path, methods), method in product(addresses(probed).items(), METHODS):
                if path == "/enter":
                    continue
                body = {"csrf": token} if method not in {"GET", "HEAD", "OPTIONS", "TRACE"} else None
                answer = await client.request(method, filled(path), data=body)
                found.append((path, method, methods, answer))
        return found

    answers = asyncio.run(run())
    assert len(answers) == len(METHODS) * (len(addresses(probed)) - 1)
    for path, method, methods, answer in answers:
        status, reached = expected(methods, method, role)
        assert answer.status_code in status, (path, method, role, answer.status_code)
        if method != "HEAD":
            assert (answer.text == REACHED) is reached, (path, method, role)


@pytest.mark.parametrize("role", [NOBODY, *ROLES])
def test_no_write_is_done_without_the_token_of_the_form(probed, role):
    async def run():
        async with visiting(probed, role) as client:
            posts = [path for path, methods in addresses(probed).items() if "POST" in methods]
            return [
                (path, await client.post(filled(path), data=form))
                for path in posts
                for form in ({}, {"csrf": "0" * 40})
            ]

    for path, answer in asyncio.run(run()):
        assert answer.status_code in {401, 403}, (path, answer.status_code)
        assert answer.text != REACHED


def test_doors_are_the_only_pages_for_everybody(tmp_path):
    """Written down apart from the table: who adds a page for everybody has to say so here as well."""
    home = web_home(tmp_path)
    open_to_all = {entry.path for entry in entries(home) if entry.roles is ANYBODY}
    assert open_to_all == {"/enter", "/welcome/{token}", "/theme"}


def test_a_responder_sees_no_page_that_shows_how_somebody_lives(tmp_path):
    home = web_home(tmp_path)
    pages = {entry.path for entry in entries(home) if entry.method == "GET" and "responder" in entry.roles}
    assert pages == {"/today", "/today/live", "/people"}


def test_only_a_fitter_changes_who_may_come_in(tmp_path):
    home = web_home(tmp_path)
    for entry in entries(home):
        if entry.path.startswith("/people/") and entry.path not in {"/people/password", "/people/end-others"}:
            assert entry.roles == {"fitter"}, entry.path


@pytest.mark.parametrize(
    "path", ["/", "/enter", "/today", "/today.json", "/nothing", "/static/style.css", "/static/x", "/leave"]
)
@pytest.mark.parametrize("role", [NOBODY, "family"])
def test_every_answer_is_sealed(tmp_path, path, role):
    """OWASP Secure Headers Project; CSP Level 3: no script but our own files, no eval, no frame, no form elsewhere."""
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, role) as client:
            return await client.get(path)

    answer = asyncio.run(run())
    policy = dict(part.strip().partition(" ")[::2] for part in answer.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["script-src"] == "'self'"
    assert policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert policy["form-action"] == "'self'"
    assert "unsafe" not in answer.headers["content-security-policy"].replace("style-src 'self' 'unsafe-inline'", "")
    for name in HEADERS:
        assert name in answer.headers
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert "server" not in answer.headers


def test_the_top_line_leads_only_where_one_may_go(tmp_path):
    home = web_home(tmp_path)
    known = addresses(home)

    async def run(role):
        async with visiting(home, role) as client:
            page = (await client.get("/people")).text
            return [
                part.partition('"')[0] for part in page.partition("<nav")[2].partition("</nav>")[0].split('href="')[1:]
            ]

    for role in ROLES:
        paths = asyncio.run(run(role))
        assert paths[0] == "/today"
        for path in paths:
            assert path in known, path
            assert role in known[path]["GET"], (role, path)


async def signed(client, role):
    if role == NOBODY:
        page = await client.get("/enter")
        return page.text.partition('name="csrf" value="')[2].partition('"')[0]
    page = await client.get("/nothing")
    return page.text.partition('name="csrf" value="')[2].partition('"')[0]


def test_the_token_stands_on_every_page_of_somebody_signed_in(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "family") as client:
            return await signed(client, "family"), await token_of(client)

    one, other = asyncio.run(run())
    assert one == other != ""

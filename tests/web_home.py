"""The demo home as the pages see it: a store with invented days, a stand-in for the watch, accounts, a way in."""

import json
import re
from contextlib import asynccontextmanager
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from functools import cache, cached_property
from pathlib import Path

import anyio
import httpx
from argon2 import PasswordHasher

from stillwell.control import shapes
from stillwell.control.wire import no_watch
from stillwell.engine.program import compile_plan
from stillwell.plan.model import Plan
from stillwell.plan.read import read_plan
from stillwell.record.columns import Pulses
from stillwell.simulate.run import simulate_with_truth
from stillwell.store.accounts import ROLES, Account, Accounts
from stillwell.store.look import Look
from stillwell.store.rows import EventRow, FactRow, PlanRow, StateRow
from stillwell.store.store import open_store
from stillwell.watch.home import Home
from stillwell.watch.resume import fingerprint
from stillwell.web.app import build
from stillwell.web.doors.passwords import Passwords
from stillwell.web.site import Site
from stillwell.web.standing.feed import Feed

COTTAGE = Path(__file__).parents[1] / "examples" / "cottage" / "home.toml"
TEXT = COTTAGE.read_text("utf-8")
HOUR_MS = 3_600_000
MINUTE_MS = 60_000

NOW_MS = 1_773_152_400_000 + 12 * MINUTE_MS
"""Tue 10 Mar 2026 14:32 in Europe/London, where it is UTC at that time of the year."""

PASSWORD = "three words in a row"
HASHER = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""As good as none, so that tests are quick."""


@cache
def plan() -> Plan:
    return read_plan(TEXT, "home.toml")


@cache
def events(until_ms: int = NOW_MS, days: int = 3) -> tuple[EventRow, ...]:
    """What an invented resident caused in the days before."""
    record = simulate_with_truth(plan(), days, 7, date(2026, 3, 11) - timedelta(days)).record
    found = []
    for name, column in record.signals.items():
        values = [None] * len(column.times) if isinstance(column, Pulses) else (column.values / 2).tolist()
        if name.rpartition(".")[2] in {"temperature", "battery", "humidity", "power", "ppm"}:
            values = column.values.tolist()
        found += [
            (at_ms, name, 1.0 if value is None else value)
            for at_ms, value in zip(column.times.tolist(), values, strict=True)
        ]
    found.sort()
    return tuple(EventRow(seq, *row) for seq, row in enumerate(found, 1) if row[0] < until_ms)


def fill(path: Path, facts=(), rows=None, until_ms: int = NOW_MS, home: Home | None = None) -> str:
    """Write a store as a watch would have left it."""
    rows = events(until_ms) if rows is None else rows
    home = Home(plan(), until_ms - HOUR_MS) if home is None else home
    store = open_store(str(path))
    facts = [FactRow(rows[0].at_ms if rows else until_ms, "watch begun", "watch"), *facts]
    last = rows[-1].seq if rows else 0
    state = StateRow(last, until_ms, fingerprint(TEXT), json.dumps(home.snapshot()))
    for start in range(0, len(rows), 20_000):
        store.write(rows[start : start + 20_000])
    store.write([PlanRow(fingerprint(TEXT), TEXT, until_ms, "at the start"), *facts, state])
    store.close()
    return str(path)


def status(**more) -> shapes.Status:
    """How the watch says that it stands when all is well."""
    program = compile_plan(plan())
    kinds = {hazard.name: hazard.kind for hazard in plan().hazard}
    base = shapes.Status(
        version=1, now_ms=NOW_MS, home=plan().home.name, resident=plan().resident.name,
        timezone=plan().home.timezone, plan=fingerprint(TEXT), started_ms=NOW_MS - 100 * HOUR_MS, decided_ms=NOW_MS,
        headline="All is quiet.", alarms=(),
        known=tuple(
            shapes.Known(one.name, one.name, kinds.get(one.hazard, "blind"), one.hazard, one.of_part or None, one.call)
            for one in program.alarms
        ),
        parts=tuple(
            shapes.Part(name, part.kind, part.room, NOW_MS - 60_000, None, "") for name, part in plan().parts.items()
        ),
        pause=None, last_sign=shapes.Sign(NOW_MS - 4 * MINUTE_MS, "kitchen_pir.movement", "kitchen_pir", "kitchen"),
        states=(), trouble=(), unread=(), keeper=shapes.Keeper(True, NOW_MS - 30_000), drills=(), remarks=(),
        messages_waiting=0, commands_waiting=0, kept_in_memory=0, reports=100, duplicates=0, late=0, clock_ahead_ms=0,
    )  # fmt: skip
    return replace(base, **more)


def lost(*names: str, since_ms: int = NOW_MS - 5 * HOUR_MS) -> tuple[shapes.Part, ...]:
    """The parts of the home, some of them lost."""
    return tuple(replace(one, lost_ms=since_ms if one.name in names else None) for one in status().parts)


RAISED_MS = NOW_MS - 27 * MINUTE_MS

ALARM = shapes.Alarm(
    name="No sign of life", what="No sign of life", kind="collapse", part=None, drill=False, state="unacknowledged",
    true_now=True, raised_ms=RAISED_MS, asked_ms=RAISED_MS, acknowledged_ms=None, by=None, by_name=None, until_ms=None,
    sentence='"No sign of life" has stood since 14:05, and nobody has answered yet.',
    told=(
        shapes.Told("jonas", "Jonas Field", "call", RAISED_MS, RAISED_MS + 20_000, 1, ""),
        shapes.Told("ruth", "Ruth Vale", "call", RAISED_MS, None, 3, "the line is busy"),
        shapes.Told("lene", "Lene Rowan", "call", RAISED_MS + 3 * MINUTE_MS, RAISED_MS + 3 * MINUTE_MS, 1, ""),
    ),
    said=(),
    next=shapes.Next(NOW_MS + 3 * MINUTE_MS, ("Jonas Field", "Ruth Vale", "Piet Marsh"), "call"),
)  # fmt: skip

ANSWERED = replace(
    ALARM, state="acknowledged", acknowledged_ms=RAISED_MS + 4 * MINUTE_MS, by="lene", by_name="Lene Rowan",
    sentence='"No sign of life" has stood since 14:05; Lene Rowan has been looking after it since 14:09.',
    said=(
        shapes.Said("jonas", "Jonas Field", "cannot", RAISED_MS + 2 * MINUTE_MS),
        shapes.Said("lene", "Lene Rowan", "looking", RAISED_MS + 4 * MINUTE_MS),
    ),
    next=None,
)  # fmt: skip

LONG_AGO = shapes.Sign(NOW_MS - 5 * HOUR_MS, "hall_pir.movement", "hall_pir", "hall")

_HUB_LOST = tuple(name for name, part in plan().parts.items() if part.hub == "hill_hub" or name == "hill_hub")

STATES = {
    "well": status(),
    "unanswered": status(alarms=(ALARM,), last_sign=LONG_AGO),
    "answered": status(alarms=(ANSWERED,), last_sign=LONG_AGO),
    "less": status(parts=lost("hall_pir")),
    "blind": status(parts=lost(*_HUB_LOST, since_ms=NOW_MS - 2 * HOUR_MS), last_sign=LONG_AGO),
    "paused": status(pause=shapes.Pause(NOW_MS - HOUR_MS, NOW_MS + HOUR_MS, "ruth", "visit of the doctor")),
}
"""Each state of Today, as the watch would say it."""


@dataclass
class Watching:
    """Stands in for the watch: says what it is told to say, keeps what is asked of it."""

    status: shapes.Status | None = field(default_factory=status)
    asked_for: list = field(default_factory=list)

    async def asked(self, ask):
        if self.status is None:
            raise no_watch("none was started")
        if ask.request.path == "status":
            after = ask.request.query.get("after")
            if after == self.status.version:
                await anyio.sleep(min(float(ask.request.query.get("wait", 0)), 0.2))
            return self.status
        self.asked_for.append((ask.request.path, dict(ask.request.table)))
        return shapes.Done("Done.")

    def says(self, status: shapes.Status | None) -> None:
        """From now on, say this."""
        if status is not None:
            version = self.status.version + 1 if self.status is not None else 1
            status = replace(status, version=version)
        self.status = status


@dataclass
class WebHome:
    """A home with its pages, not served yet."""

    site: Site
    watching: Watching
    feed: Feed

    @cached_property
    def app(self):
        return build(self.site, self.feed, Passwords(HASHER))


def web_home(folder: Path, store: str | None = None, watching: Watching | None = None, roles=ROLES, **more) -> WebHome:
    """Make the home, with an account for each role, named like it."""
    accounts = Accounts(folder / "accounts")
    people = {"resident": "", "family": "lene", "responder": "jonas", "fitter": "tom"}
    with accounts._all_or_nothing():
        for role in roles:
            account = Account(role, role, people[role], HASHER.hash(PASSWORD), NOW_MS)
            accounts._run("INSERT INTO account VALUES (?, ?, ?, ?, ?)", *account_row(account))
    watching = Watching() if watching is None else watching
    look = None if store is None else Look(store)
    site = Site(plan(), TEXT, COTTAGE, accounts, look, watching, now_ms=lambda: NOW_MS, **more)
    return WebHome(site, watching, Feed(site, wait_s=0.05, pause_s=0.02))


def account_row(account: Account) -> tuple:
    return account.name, account.role, account.person, account.hash, account.made_ms


@asynccontextmanager
async def visiting(home: WebHome, role: str = "", address: str = "127.0.0.1", base: str = "http://127.0.0.1"):
    """A browser at the home's pages; with a role, one that has signed in."""
    transport = httpx.ASGITransport(home.app, client=(address, 4711), raise_app_exceptions=False)
    async with httpx.AsyncClient(transport=transport, base_url=base) as client:
        if role:
            answer = await sign_in(client, role)
            assert answer.status_code == 303, answer.text
        yield client


async def sign_in(client, name: str, password: str = PASSWORD):
    """Sign in as a browser would: fetch the form, send it back."""
    page = await client.get("/enter")
    return await client.post("/enter", data={"csrf": csrf_in(page.text), "name": name, "password": password})


def csrf_in(html: str) -> str:
    """The token that the forms of a page bring back; empty where it has none."""
    found = re.search(r'name="csrf" value="([0-9a-f]+)"', html)
    return found[1] if found else ""


async def token_of(client) -> str:
    """The token of whoever is signed in."""
    return csrf_in((await client.get("/people")).text)

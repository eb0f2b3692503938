"""People: who may look in, by which browsers, and what was done."""

import secrets
from dataclasses import dataclass
from typing import ClassVar, Final
from zoneinfo import ZoneInfo

from anyio import to_thread
from starlette.responses import RedirectResponse, Response

from stillwell.problem import refuse
from stillwell.store.accounts import ROLES, Account, Invitation, Session, Trace, key_of
from stillwell.web.doors.passwords import Passwords, unfit
from stillwell.web.page import shown
from stillwell.web.route import FITTER, RESIDENT
from stillwell.web.trouble import Trouble
from stillwell.web.visit import Visit
from stillwell.wording.instants import moment
from stillwell.wording.rules import name_alone

INVITED_MS: Final = 3 * 86_400_000
MOST_TRACES: Final = 200

MAY: Final = {
    "resident": "sees everything, answers and pauses; sees who looked in",
    "family": "sees everything, answers, pauses and tries out alarms",
    "responder": "sees how it stands and the alarms, and answers; not how the day was spent",
    "fitter": "sees everything, does everything, invites and removes people",
}


@dataclass(frozen=True, slots=True)
class Known:
    """An account, and who of the plan's people it belongs to."""

    name: str
    role: str
    may: str
    person: str
    since: str


@dataclass(frozen=True, slots=True)
class Browser:
    """A session: since when, when last in use, from where; ``this``: the one that asks."""

    begun: str
    seen: str
    address: str
    this: bool


@dataclass(frozen=True, slots=True)
class People:
    """Who may look in. The accounts are shown to fitter and resident only, to others their own browsers."""

    you: str
    accounts: tuple[Known, ...]
    browsers: tuple[Browser, ...]
    trail: tuple[tuple[str, str, str, str], ...]
    roles: tuple[tuple[str, str], ...]
    persons: tuple[tuple[str, str], ...]
    link: str = ""
    link_for: str = ""

    title: ClassVar[str] = "People"
    template: ClassVar[str] = "people.html"
    place: ClassVar[str] = "people"


class Keeping:
    """Looks after accounts."""

    def __init__(self, passwords: Passwords) -> None:
        self._passwords = passwords

    async def show(self, visit: Visit) -> Response:
        """Show who may look in."""
        return shown(visit, await to_thread.run_sync(people, visit))

    async def invite(self, visit: Visit) -> Response:
        """Make a link by which one account can be made; it is shown once and kept nowhere."""
        role, person = visit.form.get("role", ""), visit.form.get("person", "")
        if role not in ROLES:
            raise refuse("there is no such role", f"It is one of: {', '.join(ROLES)}.")
        if person and person not in visit.site.plan.people:
            raise refuse("there is no such person in the plan", "Choose one from the list, or nobody.")
        return await self._link(visit, role, "", person, "invited", role)

    async def renew(self, visit: Visit) -> Response:
        """Make a link by which somebody who has forgotten theirs can set a new password."""
        account = _account(visit)
        return await self._link(
            visit, account.role, account.name, account.person, "let set a new password", account.name
        )

    async def remove(self, visit: Visit) -> Response:
        """Remove an account; whoever is signed in with it is out at once."""
        account = _account(visit)
        if not await to_thread.run_sync(visit.site.accounts.remove, account.name):
            raise refuse("the last fitter cannot be removed", "Invite another one first.")
        await to_thread.run_sync(visit.note, "removed", account.name)
        return RedirectResponse("/people", 303)

    async def end_others(self, visit: Visit) -> Response:
        """End all other sessions of whoever asks."""
        assert visit.account is not None
        assert visit.session is not None
        await to_thread.run_sync(visit.site.accounts.end_sessions, visit.account.name, visit.session.key)
        await to_thread.run_sync(visit.note, "signed out all other browsers")
        return RedirectResponse("/people", 303)

    async def change(self, visit: Visit) -> Response:
        """Change the password of whoever asks; other browsers are signed out."""
        assert visit.account is not None
        assert visit.session is not None
        new = visit.form.get("new", "")
        wrong = unfit(new, visit.account.name)
        if new != visit.form.get("again", ""):
            wrong = "The two passwords are not the same."
        if not wrong and not await self._passwords.fits(visit.account.hash, visit.form.get("old", "")):
            await to_thread.run_sync(visit.note, "could not change the password")
            wrong = "That is not your password of now."
        if wrong:
            return shown(visit, Trouble("The password is as it was", [wrong], "/people", "Back"), 400)
        hashed = await self._passwords.made(new)
        await to_thread.run_sync(visit.site.accounts.set_hash, visit.account.name, hashed)
        await to_thread.run_sync(visit.site.accounts.end_sessions, visit.account.name, visit.session.key)
        await to_thread.run_sync(visit.note, "changed the password")
        return RedirectResponse("/people", 303)

    async def _link(self, visit: Visit, role: str, name: str, person: str, what: str, subject: str) -> Response:
        assert visit.account is not None
        token, ends_ms = secrets.token_urlsafe(24), visit.site.now_ms() + INVITED_MS
        invitation = Invitation(key_of(token), role, name, person, visit.account.name, ends_ms)
        await to_thread.run_sync(visit.site.accounts.invite, invitation)
        await to_thread.run_sync(visit.note, what, subject)
        base = str(visit.request.base_url).rstrip("/")
        page = await to_thread.run_sync(people, visit, f"{base}/welcome/{token}", name or role)
        return shown(visit, page)


def people(visit: Visit, link: str = "", link_for: str = "") -> People:
    """Return the page for whoever asks."""
    site, account = visit.site, visit.account
    assert account is not None
    zone, sees_all = ZoneInfo(site.plan.home.timezone), account.role in {FITTER, RESIDENT}
    accounts = site.accounts.accounts() if sees_all else [account]
    persons = {name: name_alone(person.name) for name, person in site.plan.people.items()}
    sessions = site.accounts.sessions_of(account.name, site.now_ms())
    trail = site.accounts.trail(MOST_TRACES) if sees_all else []
    return People(
        account.name,
        tuple(_known(one, persons, zone) for one in accounts),
        tuple(_browser(one, zone, visit) for one in sessions),
        tuple(_traced(one, zone) for one in trail),
        tuple(MAY.items()),
        tuple(persons.items()),
        link,
        link_for,
    )


def _known(account: Account, persons: dict[str, str], zone: ZoneInfo) -> Known:
    person = persons.get(account.person, account.person)
    return Known(account.name, account.role, MAY.get(account.role, ""), person, moment(zone, account.made_ms))


def _browser(session: Session, zone: ZoneInfo, visit: Visit) -> Browser:
    this = visit.session is not None and session.key == visit.session.key
    return Browser(moment(zone, session.begun_ms), moment(zone, session.seen_ms), session.address, this)


def _traced(trace: Trace, zone: ZoneInfo) -> tuple[str, str, str, str]:
    what = f"{trace.what}: {trace.subject}" if trace.subject else trace.what
    return moment(zone, trace.at_ms), trace.who or "somebody", what, trace.address


def _account(visit: Visit) -> Account:
    account = visit.site.accounts.account(visit.form.get("name", ""))
    if account is None:
        raise refuse("there is no such account", "Load the page again.")
    return account

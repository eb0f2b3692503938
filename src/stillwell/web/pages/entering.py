"""Coming in: with a password, or the first time by a link."""

import secrets
from dataclasses import dataclass
from typing import ClassVar, Final

from anyio import to_thread
from starlette.responses import RedirectResponse, Response

from stillwell.store.accounts import Account, Accounts, Invitation, Trace, key_of
from stillwell.web.doors.attempts import Attempts
from stillwell.web.doors.passwords import Passwords, unfit
from stillwell.web.doors.sessions import COOKIE, Sessions, set_cookie
from stillwell.web.page import THEMES, shown
from stillwell.web.trouble import Trouble
from stillwell.web.visit import Visit

LINK_MS: Final = 3_600_000
"""How long the first link works; an invitation lasts longer."""

VOID: Final = Trouble(
    "This link works no more",
    ["It was used already, or is too old. Whoever gave it to you can make another."],
    "/enter",
    "Sign in",
)


@dataclass(frozen=True, slots=True)
class Enter:
    """Signing in. ``wrong`` says why it did not work; ``nobody_yet``: there is no account to sign in with."""

    name: str
    to: str
    wrong: str
    nobody_yet: bool

    title: ClassVar[str] = "Sign in"
    template: ClassVar[str] = "enter.html"
    place: ClassVar[str] = ""


@dataclass(frozen=True, slots=True)
class Welcome:
    """Choosing a name and a password behind a link. ``fixed``: the name is given, only the password is set."""

    name: str
    fixed: bool
    role: str
    wrong: str

    title: ClassVar[str] = "Your account"
    template: ClassVar[str] = "welcome.html"
    place: ClassVar[str] = ""


def first_link(accounts: Accounts, now_ms: int) -> str:
    """Return the path of a link by which a fitter's account can be made, once and soon."""
    token = secrets.token_urlsafe(24)
    accounts.invite(Invitation(key_of(token), "fitter", "", "", "", now_ms + LINK_MS))
    return f"/welcome/{token}"


class Entering:
    """The doors themselves."""

    def __init__(self, sessions: Sessions, passwords: Passwords) -> None:
        self._sessions = sessions
        self._passwords = passwords
        self._attempts = Attempts()

    async def ask(self, visit: Visit) -> Response:
        """Ask who it is."""
        to = inside(visit.request.query_params.get("to", ""))
        if visit.account is not None:
            return RedirectResponse(to, 303)
        return shown(visit, Enter("", to, "", not visit.site.accounts.there_are()))

    async def enter(self, visit: Visit) -> Response:
        """Let somebody in who knows the password."""
        name, to = visit.form.get("name", "").strip().lower()[:60], inside(visit.form.get("to", ""))
        now_ms, accounts = visit.site.now_ms(), visit.site.accounts
        wait_ms = self._attempts.wait_ms(visit.address, name, now_ms)
        if wait_ms:
            wrong = f"Too many attempts. Please wait {-(-wait_ms // 60_000)} min."
            return shown(visit, Enter(name, to, wrong, False), 429, {"Retry-After": str(-(-wait_ms // 1000))})
        account = accounts.account(name)
        kept = "" if account is None else account.hash
        fits = await self._passwords.fits(kept, visit.form.get("password", ""))
        if account is None or not fits:
            self._attempts.failed(visit.address, name, now_ms)
            await to_thread.run_sync(visit.note, "could not sign in", name)
            return shown(visit, Enter(name, to, "Name and password do not fit together.", False), 403)
        response = RedirectResponse(to, 303)
        await self._let_in(visit, response, account, "signed in")
        return response

    async def leave(self, visit: Visit) -> Response:
        """End this session."""
        if visit.session is not None:
            await to_thread.run_sync(visit.site.accounts.end_session, visit.session.key)
            await to_thread.run_sync(visit.note, "signed out")
        response = RedirectResponse("/enter", 303)
        response.delete_cookie(COOKIE)
        return response

    async def welcome(self, visit: Visit) -> Response:
        """Show what a link is good for."""
        invited = self._invited(visit)
        if invited is None:
            return shown(visit, VOID, 404)
        return shown(visit, Welcome(invited.name or _free(visit, invited), bool(invited.name), invited.role, ""))

    async def accept(self, visit: Visit) -> Response:
        """Make the account that a link is good for, or set its password, and let its owner in."""
        invited, now_ms = self._invited(visit), visit.site.now_ms()
        if invited is None:
            return shown(visit, VOID, 404)
        name = invited.name or visit.form.get("name", "").strip().lower()
        password = visit.form.get("password", "")
        wrong = unfit_name(name) or unfit(password, name)
        if not wrong and password != visit.form.get("again", ""):
            wrong = "The two passwords are not the same."
        if not wrong and not invited.name and visit.site.accounts.account(name) is not None:
            wrong = "Somebody has this name already."
        if wrong:
            return shown(visit, Welcome(name, bool(invited.name), invited.role, wrong), 400)
        hashed = await self._passwords.made(password)
        account = Account(name, invited.role, invited.person, hashed, now_ms)
        if not await to_thread.run_sync(visit.site.accounts.accept, invited.key, account):
            return shown(visit, VOID, 404)
        response = RedirectResponse("/today", 303)
        await self._let_in(visit, response, account, "set a password by a link")
        return response

    async def theme(self, visit: Visit) -> Response:
        """Keep how this browser shall look."""
        wanted = visit.form.get("theme", "")
        response = RedirectResponse(inside(visit.form.get("to", "")), 303)
        if wanted in THEMES:
            set_cookie(visit.request, response, "theme", wanted, 365 * 86_400)
        return response

    async def _let_in(self, visit: Visit, response: Response, account: Account, what: str) -> None:
        now_ms, address = visit.site.now_ms(), visit.address

        def begin() -> None:
            self._sessions.begin(visit.request, response, account, now_ms, address)
            visit.site.accounts.note(Trace(now_ms, account.name, what, "", address))

        await to_thread.run_sync(begin)

    def _invited(self, visit: Visit) -> Invitation | None:
        token = str(visit.request.path_params["token"])
        return visit.site.accounts.invitation(key_of(token), visit.site.now_ms())


def inside(path: str) -> str:
    """Return a path of our own to go on to; whatever else it is, Today."""
    fine = path.startswith("/") and not path.startswith("//") and path.isprintable() and "\\" not in path
    return path if fine and path.isascii() and len(path) < 500 else "/today"


def unfit_name(name: str) -> str:
    """Say why this cannot be the name of an account; empty where it can."""
    letters = name.replace("-", "").replace("_", "").replace(".", "")
    if not 2 <= len(name) <= 40 or not letters.isalnum() or not name.isprintable():
        return "A name has 2 to 40 letters and digits, and nothing else but . - and _."
    return ""


def _free(visit: Visit, invited: Invitation) -> str:
    """Propose a name: that of the person in the plan, where nobody has it."""
    return invited.person if invited.person and visit.site.accounts.account(invited.person) is None else ""

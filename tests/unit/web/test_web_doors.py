"""Who comes in, how long, and what is asked of them."""

import asyncio
import re

import anyio
import pytest
from argon2 import PasswordHasher, extract_parameters
from tests.web_home import HASHER, NOW_MS, PASSWORD, csrf_in, sign_in, token_of, visiting, web_home

from stillwell.store.accounts import Account, key_of
from stillwell.web.doors.attempts import MOST_BY_ADDRESS, SPAN_MS
from stillwell.web.doors.headers import NOT_YET
from stillwell.web.doors.passwords import AT_ONCE, WAITING, Busy, Passwords, unfit
from stillwell.web.doors.sessions import IDLE_MS, IDLE_OTHERS_MS, LONGEST_MS
from stillwell.web.pages.entering import LINK_MS, first_link, inside, unfit_name


def scene(tmp_path, act, **more):
    home = web_home(tmp_path, **more)

    async def run():
        async with visiting(home) as client:
            return await act(home, client)

    return asyncio.run(run())


def test_the_right_password_lets_in_and_the_cookie_is_for_the_browser_alone(tmp_path):
    async def act(home, client):
        answer = await sign_in(client, "family")
        return answer, await client.get("/today")

    answer, today = scene(tmp_path, act)
    assert (answer.status_code, answer.headers["location"]) == (303, "/today")
    assert today.status_code == 200
    cookie = next(one for one in answer.headers.get_list("set-cookie") if one.startswith("stillwell="))
    # RFC 6265bis, section 5.6: the attributes that keep a cookie from scripts and from other sites' forms.
    assert {"httponly", "samesite=lax", "path=/"} <= {part.strip().lower() for part in cookie.split(";")}


def test_behind_https_the_cookie_stays_there(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, base="https://home.example") as client:
            return await sign_in(client, "family")

    answer = asyncio.run(run())
    assert "; Secure" in next(one for one in answer.headers.get_list("set-cookie") if one.startswith("stillwell="))
    assert answer.headers["strict-transport-security"].startswith("max-age=")


@pytest.mark.parametrize(("name", "password"), [("family", "wrong wrong wrong"), ("nobody", PASSWORD), ("", "")])
def test_a_wrong_password_and_an_unknown_name_get_the_same_answer(tmp_path, name, password):
    async def act(home, client):
        return await sign_in(client, name, password), await client.get("/today"), home.site.accounts.trail(5)

    answer, today, trail = scene(tmp_path, act)
    assert answer.status_code == 403
    assert "Name and password do not fit together." in answer.text
    assert (today.status_code, today.headers["location"]) == (303, "/enter?to=/today")
    assert [(one.who, one.what, one.subject) for one in trail] == [("", "could not sign in", name)]


def test_each_signing_in_gets_a_cookie_never_seen_before(tmp_path):
    """Session fixation: OWASP Session Management Cheat Sheet, on renewing the session ID after a privilege change."""

    async def act(home, client):
        await client.get("/enter")
        before = dict(client.cookies)
        await sign_in(client, "family")
        first = client.cookies["stillwell"]
        await client.post("/leave", data={"csrf": await token_of(client)})
        await sign_in(client, "family")
        return before, first, client.cookies["stillwell"]

    before, first, second = scene(tmp_path, act)
    assert len({first, second, *before.values()}) == 3


def test_signed_out_is_out_whatever_the_browser_still_holds(tmp_path):
    async def act(home, client):
        await sign_in(client, "family")
        held = client.cookies["stillwell"]
        await client.post("/leave", data={"csrf": await token_of(client)})
        return await client.get("/today", headers={"Cookie": f"stillwell={held}"})

    assert scene(tmp_path, act).status_code == 303


@pytest.mark.parametrize("role", ["family", "fitter"])
def test_an_unused_session_ends_and_a_used_one_goes_on_but_not_for_ever(tmp_path, role):
    idle_ms = IDLE_MS.get(role, IDLE_OTHERS_MS)

    async def act(home, client):
        await sign_in(client, role)
        found = []
        now_ms = NOW_MS
        while now_ms < NOW_MS + LONGEST_MS + idle_ms:
            now_ms += idle_ms - 1
            home.site.now_ms = lambda at=now_ms: at
            found.append((now_ms, (await client.get("/today")).status_code))
        await sign_in(client, role)
        home.site.now_ms = lambda: now_ms + idle_ms
        return found, (await client.get("/today")).status_code

    found, after_idle = scene(tmp_path, act)
    assert after_idle == 303
    assert {status for at_ms, status in found if at_ms < NOW_MS + LONGEST_MS} == {200}
    assert {status for at_ms, status in found if at_ms >= NOW_MS + LONGEST_MS} == {303}


@pytest.mark.parametrize("cookie", ["", "x", "x.y", "stillwell", "a" * 5000, "\u00e4.\u00f6"])
def test_a_forged_cookie_is_none(tmp_path, cookie):
    async def act(home, client):
        return await client.get("/today", headers={"Cookie": f"stillwell={cookie}".encode()})

    assert scene(tmp_path, act).status_code == 303


@pytest.mark.parametrize("how", ["missing", "wrong", "another's", "cross-site"])
def test_a_form_of_another_site_does_nothing(tmp_path, how):
    async def act(home, client):
        async with visiting(home, "resident") as other:
            theirs = await token_of(other)
        await sign_in(client, "family")
        token = {"missing": "", "wrong": "0" * 40, "another's": theirs}.get(how, await token_of(client))
        headers = {"Sec-Fetch-Site": "cross-site"} if how == "cross-site" else {}
        answer = await client.post("/today/resume", data={"csrf": token}, headers=headers)
        return answer, home.watching.asked_for

    answer, asked_for = scene(tmp_path, act)
    assert answer.status_code == 403
    assert asked_for == []


def test_too_many_wrong_passwords_from_one_address_wait_and_others_do_not(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home) as client, visiting(home, address="192.0.2.7") as elsewhere:
            wrong = [(await sign_in(client, "family", "no")).status_code for _ in range(MOST_BY_ADDRESS)]
            right = await sign_in(client, "family")
            theirs = await sign_in(elsewhere, "family")
            home.site.now_ms = lambda: NOW_MS + SPAN_MS
            return wrong, right, theirs, await sign_in(client, "family")

    wrong, right, theirs, later = asyncio.run(run())
    assert set(wrong) == {403}
    assert (right.status_code, right.headers["retry-after"]) == (429, str(SPAN_MS // 1000))
    assert theirs.status_code == 303
    assert later.status_code == 303


def test_the_first_link_makes_one_fitter_once(tmp_path):
    async def act(home, client):
        path = first_link(home.site.accounts, NOW_MS)
        page = await client.get(path)
        form = {"csrf": csrf_in(page.text), "name": "Tom", "password": "a b c d e f", "again": "a b c d e f"}
        short = await client.post(path, data={**form, "password": "short", "again": "short"})
        made = await client.post(path, data=form)
        today = await client.get("/today")
        again = await client.get(path)
        return page, short, made, today, again, home.site.accounts.accounts()

    page, short, made, today, again, accounts = scene(tmp_path, act, roles=())
    assert page.status_code == 200
    assert short.status_code == 400
    assert made.status_code == 303
    assert today.status_code == 200
    assert again.status_code == 404
    assert [(one.name, one.role) for one in accounts] == [("tom", "fitter")]


def test_the_first_link_is_good_for_an_hour_and_a_later_one_voids_it(tmp_path):
    async def act(home, client):
        first, second = first_link(home.site.accounts, NOW_MS), first_link(home.site.accounts, NOW_MS)
        status = [(await client.get(path)).status_code for path in (first, second)]
        home.site.now_ms = lambda: NOW_MS + LINK_MS
        return [*status, (await client.get(second)).status_code]

    assert scene(tmp_path, act, roles=()) == [404, 200, 404]


@pytest.mark.parametrize(
    ("address", "base", "headers"),
    [
        ("192.0.2.7", "http://127.0.0.1", {}),
        ("127.0.0.1", "http://home.example", {}),
        ("127.0.0.1", "http://127.0.0.1", {"X-Forwarded-For": "192.0.2.7"}),
        ("127.0.0.1", "http://127.0.0.1", {"Forwarded": "for=192.0.2.7"}),
        ("127.0.0.1", "http://127.0.0.1.example", {}),
    ],
)
@pytest.mark.parametrize("path", ["/", "/enter", "/today", "/static/style.css", "/favicon.ico", "/nothing"])
def test_nothing_is_shown_to_other_machines_before_the_first_account(tmp_path, address, base, headers, path):
    empty = web_home(tmp_path, roles=())

    async def run(home):
        async with visiting(home, address=address, base=base) as client:
            return await client.get(path, headers=headers)

    answer = asyncio.run(run(empty))
    assert (answer.status_code, answer.text) == (403, NOT_YET)
    empty.site.accounts.close()
    assert asyncio.run(run(web_home(tmp_path, roles=("fitter",)))).text != NOT_YET


@pytest.mark.parametrize("base", ["http://127.0.0.1:8480", "http://localhost:8480", "http://[::1]:8480"])
def test_this_machine_is_let_in_before_the_first_account(tmp_path, base):
    home = web_home(tmp_path, roles=())

    async def run():
        async with visiting(home, base=base) as client:
            return await client.get("/enter")

    assert asyncio.run(run()).status_code == 200


@pytest.mark.parametrize(
    "to", ["//evil.example", "https://evil.example", "/\\evil.example", "javascript:1", "/a\nb", "", "x"]
)
def test_signing_in_leads_nowhere_else(to):
    assert inside(to) == "/today"


def test_signing_in_leads_back_to_what_was_asked_for(tmp_path):
    async def act(home, client):
        asked = await client.get("/people?a=1")
        page = await client.get(asked.headers["location"])
        to = re.search(r'name="to" value="([^"]*)"', page.text)[1]
        form = {"csrf": csrf_in(page.text), "name": "family", "password": PASSWORD, "to": to}
        return await client.post("/enter", data=form)

    assert scene(tmp_path, act).headers["location"] == "/people?a=1"


def test_passwords_are_kept_by_argon2id_as_rfc_9106_recommends():
    """RFC 9106, section 4, second recommended option: Argon2id, t=3, p=4, 2^16 KiB, salt of 128, tag of 256 bits."""
    kept = asyncio.run(Passwords().made("three words in a row"))
    found = extract_parameters(kept)
    assert kept.startswith("$argon2id$")
    assert (found.time_cost, found.parallelism, found.memory_cost) == (3, 4, 2**16)
    assert (found.salt_len, found.hash_len) == (16, 32)
    assert PasswordHasher().verify(kept, "three words in a row")


def test_few_passwords_are_checked_at_a_time_and_few_may_wait():
    class Slow:
        def __init__(self):
            self.at_once = self.most = 0
            self.go = anyio.Event()

        def verify(self, _kept, _password):
            self.at_once += 1
            self.most = max(self.most, self.at_once)
            anyio.from_thread.run(self.go.wait)
            self.at_once -= 1
            return True

    async def run():
        slow = Slow()
        passwords = Passwords(slow)
        found = []

        async def one():
            try:
                found.append(await passwords.fits("kept", "x"))
            except Busy:
                found.append("busy")

        async with anyio.create_task_group() as tasks:
            for _ in range(AT_ONCE + WAITING + 3):
                tasks.start_soon(one)
            await anyio.wait_all_tasks_blocked()
            slow.go.set()
        return found, slow.most

    found, most = asyncio.run(run())
    assert most <= AT_ONCE
    assert found.count("busy") == 3
    assert found.count(True) == AT_ONCE + WAITING


@pytest.mark.parametrize(
    ("password", "name", "fits"),
    [
        ("short", "tom", False),
        ("aaaaaaaaaaaa", "tom", False),
        ("tom-rowan12", "tom-rowan", False),
        ("three words in a row", "tom", True),
        ("x" * 201, "tom", False),
    ],
)
def test_what_would_be_guessed_too_soon_is_no_password(password, name, fits):
    assert (unfit(password, name) == "") is fits


@pytest.mark.parametrize(
    ("name", "fits"),
    [("tom", True), ("a", False), ("tom rowan", False), ("<script>", False), ("x" * 41, False), ("żółw", True)],
)
def test_names_of_accounts(name, fits):
    assert (unfit_name(name) == "") is fits


def test_a_fitter_invites_and_the_link_is_shown_once(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "fitter") as fitter, visiting(home) as guest:
            form = {"csrf": await token_of(fitter), "role": "responder", "person": "ruth"}
            page = await fitter.post("/people/invite", data=form)
            link = re.search(r"http://127\.0\.0\.1(/welcome/[^<\"]+)", page.text)[1]
            shown = await guest.get(link)
            token = csrf_in(shown.text)
            form = {"csrf": token, "name": "ruth", "password": "a b c d e f", "again": "a b c d e f", "role": "fitter"}
            made = await guest.post(link, data=form)
            return page, shown, made, await guest.get("/today"), await fitter.get("/people"), link

    page, shown, made, today, later, link = asyncio.run(run())
    assert page.status_code == shown.status_code == today.status_code == 200
    assert made.status_code == 303
    assert home.site.accounts.account("ruth").role == "responder"
    assert home.site.accounts.account("ruth").person == "ruth"
    assert link not in later.text
    assert key_of(link.removeprefix("/welcome/")) != link


def test_a_removed_account_is_out_at_once_and_the_last_fitter_stays(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "fitter") as fitter, visiting(home, "family") as family:
            token = await token_of(fitter)
            removed = await fitter.post("/people/remove", data={"csrf": token, "name": "family"})
            out = await family.get("/today")
            last = await fitter.post("/people/remove", data={"csrf": token, "name": "fitter"})
            return removed.status_code, out.status_code, last.status_code

    assert asyncio.run(run()) == (303, 303, 409)
    assert {one.name for one in home.site.accounts.accounts()} == {"resident", "responder", "fitter"}


def test_a_link_for_a_removed_account_does_not_bring_it_back(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "fitter") as fitter, visiting(home) as guest:
            token = await token_of(fitter)
            page = await fitter.post("/people/renew", data={"csrf": token, "name": "family"})
            link = re.search(r"http://127\.0\.0\.1(/welcome/[^<\"]+)", page.text)[1]
            await fitter.post("/people/remove", data={"csrf": token, "name": "family"})
            return (await guest.get(link)).status_code

    assert asyncio.run(run()) == 404


def test_a_changed_password_signs_the_other_browsers_out(tmp_path):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "family") as here, visiting(home, "family") as there:
            form = {"csrf": await token_of(here), "old": PASSWORD, "new": "other words now", "again": "other words now"}
            wrong = await here.post("/people/password", data={**form, "old": "not it at all"})
            right = await here.post("/people/password", data=form)
            return (
                wrong.status_code,
                right.status_code,
                (await here.get("/today")).status_code,
                (await there.get("/today")).status_code,
            )

    assert asyncio.run(run()) == (400, 303, 200, 303)
    assert HASHER.verify(home.site.accounts.account("family").hash, "other words now")


def test_a_form_that_is_too_large_is_not_read(tmp_path):
    async def act(home, client):
        await sign_in(client, "family")
        return await client.post("/leave", data={"csrf": "x" * 30_000})

    assert scene(tmp_path, act).status_code == 413


def test_what_people_do_is_kept_with_name_and_address(tmp_path):
    async def act(home, client):
        await sign_in(client, "family")
        token = await token_of(client)
        await client.post("/today/alarm", data={"csrf": token, "deed": "acknowledge No sign of life"})
        await client.post("/today/pause", data={"csrf": token, "minutes": "60", "why": "a visit"})
        return home.site.accounts.trail(10), home.watching.asked_for

    trail, asked_for = scene(tmp_path, act)
    assert [(one.who, one.what, one.subject, one.address) for one in trail] == [
        ("family", "paused the watch", "60 min: a visit", "127.0.0.1"),
        ("family", "alarm: acknowledge", "No sign of life", "127.0.0.1"),
        ("family", "signed in", "", "127.0.0.1"),
    ]
    assert asked_for == [
        ("alarm", {"name": "No sign of life", "do": "acknowledge", "by": "lene", "why": "", "until_ms": None}),
        ("pause", {"until_ms": NOW_MS + 3_600_000, "by": "lene", "why": "a visit"}),
    ]


def test_an_account_without_a_person_goes_by_its_own_name():
    assert Account("edda", "resident", "", "", 0).goes_by == "edda"
    assert Account("lene2", "family", "lene", "", 0).goes_by == "lene"


def test_an_unknown_name_is_checked_as_long_as_a_known_one():
    """One verification of the same cost each, so that the time tells nothing."""

    class Counting(PasswordHasher):
        verified = 0

        def verify(self, kept, password):
            Counting.verified += 1
            return super().verify(kept, password)

    async def run():
        passwords = Passwords(Counting(time_cost=1, memory_cost=8, parallelism=1))
        kept = await passwords.made(PASSWORD)
        found = [await passwords.fits("", PASSWORD), Counting.verified, await passwords.fits(kept, PASSWORD)]
        return [*found, Counting.verified, await passwords.fits("no hash at all", PASSWORD)]

    assert asyncio.run(run()) == [False, 1, True, 2, False]


@pytest.mark.parametrize(
    ("role", "sees"), [("resident", True), ("fitter", True), ("family", False), ("responder", False)]
)
def test_who_sees_what_was_done_and_who_else_may_look_in(tmp_path, role, sees):
    home = web_home(tmp_path)

    async def run():
        async with visiting(home, "responder"), visiting(home, role) as client:
            return (await client.get("/people.json")).json()

    page = asyncio.run(run())
    assert ("responder signed in" in " ".join(" ".join(line[1:3]) for line in page["trail"])) is sees
    assert (len(page["accounts"]) > 1) is sees

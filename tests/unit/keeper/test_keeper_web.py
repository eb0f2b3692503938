"""What the keeper serves, asked in this process; the password by RFC 7617 (Basic)."""

import asyncio
from base64 import b64encode

import httpx
import pytest
from tests.unit.keeper.conftest import KEY, START_MS

from stillwell import heartbeat
from stillwell.heartbeat import LARGEST_BYTES, Beat
from stillwell.keeper.web import Pages

MIN = 60_000


class Hand:
    """A clock that is set by hand."""

    ms = START_MS

    def now_ms(self):
        return self.ms

    def ahead_ms(self):
        return 0


@pytest.fixture
def clock():
    return Hand()


@pytest.fixture
def keeper(begun):
    return begun()


@pytest.fixture
def ask(keeper, clock):
    """Ask the keeper; ``ask.woken`` counts how often it was told to look for something to send."""
    ask_woken = []
    app = Pages(keeper, clock, lambda: ask_woken.append(1)).app()

    def ask(method, path, **more):
        async def asked():
            transport = httpx.ASGITransport(app=app)
            async with httpx.AsyncClient(transport=transport, base_url="http://keeper") as client:
                return await client.request(method, path, **more)

        return asyncio.run(asked())

    ask.woken = ask_woken
    return ask


def beat(seq, key=KEY):
    return heartbeat.sign(Beat("mill_lane", 1, seq, START_MS, 0, "plan"), key.encode())


def test_a_beat_is_answered_and_signed(ask):
    said = ask("POST", "/beat", content=beat(1))
    assert said.status_code == 200
    assert heartbeat.read_answer(said.content, KEY.encode()).seq == 1
    assert ask.woken


@pytest.mark.parametrize(
    ("content", "code", "reason"),
    [
        (beat(1, "not the key of this home"), 403, "forged"),
        (b"", 400, "malformed"),
        (b"\xff" * 100, 400, "malformed"),
        (b"x" * (LARGEST_BYTES + 1), 413, "too large"),
        (beat(1).replace(b"mill_lane", b"else_where"), 403, "of no home that is known here"),
        (beat(3), 409, "old or repeated"),
    ],
)
def test_what_is_refused_says_why(ask, content, code, reason):
    ask("POST", "/beat", content=beat(3))
    said = ask("POST", "/beat", content=content)
    assert (said.status_code, said.text) == (code, f"refused: {reason}\n")


def test_nothing_else_is_served(ask):
    assert [ask("GET", path).status_code for path in ("/", "/beat", "/docs", "/answer/")] == [404, 405, 404, 404]


def basic(password):
    return {"Authorization": f"Basic {b64encode(f'any:{password}'.encode()).decode()}"}


def test_the_page_of_all_homes_needs_the_password(ask, clock):
    assert ask("GET", "/status").headers["www-authenticate"].startswith("Basic ")
    said = ask("GET", "/status", headers=basic("all my homes"))
    assert said.status_code == 200
    assert said.text.startswith("Keeper of 2 homes")
    assert said.headers["cache-control"] == "no-store"
    for wrong in ({"Authorization": "Basic !!"}, {"Authorization": "Bearer all my homes"}, basic("ALL MY HOMES")):
        refused = ask("GET", "/status", headers=wrong)
        assert (refused.status_code, "Mill" in refused.text) == (401, False)


def test_passwords_cannot_be_tried_for_long(ask, clock):
    codes = [ask("GET", "/status", headers=basic(str(number))).status_code for number in range(15)]
    assert codes == [401] * 10 + [429] * 5
    assert ask("GET", "/status", headers=basic("all my homes")).status_code == 429
    clock.ms += MIN
    assert ask("GET", "/status", headers=basic("all my homes")).status_code == 200


def test_without_a_password_nobody_sees_it(begun, text, clock):
    keeper = begun(text=text.replace('status_password = "all my homes"\n', ""))
    app = Pages(keeper, clock, lambda: None).app()

    async def asked():
        async with httpx.AsyncClient(transport=httpx.ASGITransport(app=app), base_url="http://keeper") as client:
            return await client.get("/status", headers=basic(""))

    assert asyncio.run(asked()).status_code == 403


def test_anybody_may_ask_whether_it_runs(ask, keeper):
    assert ask("GET", "/alive").text == "alive\n"
    keeper.trouble = "full"
    assert ask("GET", "/alive").text == "alive, but it cannot write\n"


def link(keeper, clock):
    clock.ms = START_MS + 10 * MIN
    keeper.pass_time(clock.ms)
    letter = next(one for one in keeper.post.open.values() if (one.home, one.person) == ("mill_lane", "ann"))
    return keeper.link_for(letter, clock.ms).removeprefix("https://keeper.example.org")


def test_a_link_is_looked_at_without_answering_and_answered_by_its_button(ask, keeper, clock):
    path = link(keeper, clock)
    looked = ask("GET", path)
    assert looked.status_code == 200
    assert "Mill Lane 4 has been dark since Thu 1 Jan 2026 00:00 (10 min)." in looked.text
    assert "script-src" not in looked.headers["content-security-policy"]
    assert looked.headers["content-security-policy"].startswith("default-src 'none'")
    assert looked.headers["referrer-policy"] == "no-referrer"
    assert keeper.states["mill_lane"].alarm.life.by is None
    assert ask("HEAD", path).status_code == 200
    answered = ask("POST", path, data={"word": "looking"})
    assert "nobody else is asked for now" in answered.text
    assert keeper.states["mill_lane"].alarm.life.by == "ann"
    assert "answered already" in ask("POST", path, data={"word": "looking"}).text


def test_who_answered_can_say_that_they_cannot_after_all(ask, keeper, clock):
    path = link(keeper, clock)
    ask("POST", path, data={"word": "looking"})
    assert "the next on the list are asked" in ask("POST", path, data={"word": "cannot"}).text
    assert keeper.states["mill_lane"].alarm.calling.step_index == 1


@pytest.mark.parametrize(
    "content", [b"", b"word=", b"word=yes", b"\xff\xfe", b"x" * 5000, b"word=looking" + b"&a" * 900]
)
def test_another_answer_asks_again(ask, keeper, clock, content):
    said = ask("POST", link(keeper, clock), content=content)
    assert said.status_code == 400
    assert "<button" in said.text
    assert keeper.states["mill_lane"].alarm.life.by is None


def test_a_wrong_link_answers_nothing_and_cannot_be_tried_for_long(ask, keeper, clock):
    path = link(keeper, clock)
    wrong = [ask("POST", f"{path[:-9]}{number:09}", data={"word": "looking"}).status_code for number in range(25)]
    assert wrong == [404] * 20 + [429] * 5
    assert keeper.states["mill_lane"].alarm.life.by is None

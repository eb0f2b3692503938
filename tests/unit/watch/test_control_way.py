"""What may be asked of a running watch over its control way, how it answers, and what it refuses in which words."""

import asyncio
import json
from contextlib import asynccontextmanager
from dataclasses import replace

import httpx
import pytest
from starlette.applications import Starlette
from tests.trial_home import HOUR_MS, START_MS, ManualClock, running, turn

from stillwell.control.shapes import DEEDS, status_of
from stillwell.store.store import open_store
from stillwell.watch.control import LARGEST, Control
from stillwell.watch.deeds import LONGEST_SHELF_MS, Deeds
from stillwell.watch.home import LONGEST_PAUSE_MS
from stillwell.watch.payload import Report, Unread
from stillwell.watch.standing import Standing

KEY = "0123456789abcdef"
SHOWN = {"Authorization": f"Bearer {KEY}"}


@asynccontextmanager
async def asked(folder):
    store = open_store(str(folder / "store.db"), owner=True)
    async with running(store, ManualClock()) as watch:
        standing = Standing(watch, lambda: ["The settings want this."])
        app = Starlette(routes=Control(standing, Deeds(watch), KEY).routes())
        transport = httpx.ASGITransport(app)
        async with httpx.AsyncClient(transport=transport, base_url="http://inside", headers=SHOWN) as browser:
            yield watch, browser


def scene(folder, play):
    async def run():
        async with asked(folder) as (watch, browser):
            return await play(watch, browser)

    return asyncio.run(run())


async def leaks(watch):
    await watch.hand_in([Report("tap.wet", 1.0)])
    await turn(watch)


async def status(browser, **query):
    answer = await browser.get("/control/status", params=query)
    assert answer.status_code == 200
    return status_of(answer.content)


async def do(browser, path, **table):
    answer = await browser.post(f"/control/{path}", json=table)
    body = answer.json()
    if answer.status_code == 200:
        return body["sentence"]
    assert answer.status_code == 422, answer.text
    return [" ".join((one["what"], one["remedy"])) for one in body["problems"]]


@pytest.mark.parametrize(
    "headers", [{}, {"Authorization": "Bearer"}, {"Authorization": f"Bearer {KEY}0"}, {"Authorization": f"Basic {KEY}"}]
)
def test_without_the_key_nothing_is_said_and_nothing_done(tmp_path, headers):
    async def play(watch, browser):
        del browser.headers["Authorization"]
        await leaks(watch)
        codes = [(await browser.get("/control/status", headers=headers)).status_code]
        paths = ("alarm", "pause", "resume", "drill", "plan", "erase", "state")
        answers = [await browser.post(f"/control/{path}", headers=headers, json={"by": "x"}) for path in paths]
        assert {answer.json() == {"problems": []} for answer in answers} == {True}
        return {*codes, *(answer.status_code for answer in answers)}

    assert scene(tmp_path, play) == {401}


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"null",
        b"[]",
        b"{",
        b"\xff\xfe",
        b'{"by": ""}',
        b'{"by": "\\u0000"}',
        b'{"by": "a\\nb"}',
        b'{"by": "eve", "more": 1}',
        b'{"by": 3}',
        json.dumps({"by": "e" * 81}).encode(),
    ],
)
def test_a_body_that_does_not_fit_is_refused(tmp_path, body):
    async def play(_watch, browser):
        return (await browser.post("/control/resume", content=body)).status_code

    assert scene(tmp_path, play) == 422


def test_a_body_without_end_is_not_read(tmp_path):
    async def play(_watch, browser):
        return (await browser.post("/control/resume", content=b" " * (LARGEST + 1))).status_code

    assert scene(tmp_path, play) == 413


def test_how_it_stands(tmp_path):
    async def play(watch, browser):
        await watch.hand_in([Report("hall_pir.movement", 1.0), Report("hall_pir.battery", 80.0)])
        await turn(watch)
        quiet = await status(browser)
        assert (quiet.headline, quiet.alarms, quiet.remarks) == ("All is quiet.", (), ("The settings want this.",))
        assert (quiet.last_sign.at_ms, quiet.last_sign.part, quiet.last_sign.room) == (START_MS, "hall_pir", "hall")
        assert [(one.name, one.value, one.settable) for one in quiet.states] == [("holiday", "off", True)]
        assert {one.name for one in quiet.known} == {"No sign of life", "Water"}
        assert {part.name: part.heard_ms for part in quiet.parts}["hall_pir"] == START_MS
        watch.hand_in([Unread("a part that the plan does not know", "cellar/wet")])
        await leaks(watch)
        found = await status(browser)
        assert found.version > quiet.version
        assert found.headline == '1 alarm waits for an answer: "Water".'
        (water,) = found.alarms
        assert (water.state, water.kind, water.raised_ms, water.asked_ms) == (
            "unacknowledged",
            "water",
            START_MS + 1,
            START_MS + 1,
        )
        assert [(one.name, one.channel, one.sent_ms) for one in water.told] == [("Ben", "text", None)]
        assert (water.next.at_ms, water.next.names, water.next.channel) == (START_MS + 300_001, ("Ben", "Eve"), "text")
        assert (found.messages_waiting, found.reports, found.trouble) == (1, 3, ())
        assert [one.sentence.partition(",")[0] for one in found.unread] == [
            "1 message from a part that the plan does not know (cellar/wet)"
        ]

    scene(tmp_path, play)


def test_waiting_for_news(tmp_path):
    async def play(watch, browser):
        version = (await status(browser)).version
        # Nothing new: it waits as long as it was told to, and no longer.
        assert (await status(browser, after=version, wait=0.01)).version == version
        assert (await status(browser, after=version - 1, wait=60)).version == version
        waiting = asyncio.create_task(status(browser, after=version, wait=60))
        await asyncio.sleep(0)
        await leaks(watch)
        news = await waiting
        assert news.version > version
        assert [one.name for one in news.alarms] == ["Water"]
        for wrong in ({"after": "x"}, {"after": 1, "wait": "x"}):
            assert (await browser.get("/control/status", params=wrong)).status_code == 422

    scene(tmp_path, play)


def test_the_life_of_an_alarm_by_hand(tmp_path):
    async def play(watch, browser):
        def alarm(deed, by="eve", **more):
            return do(browser, "alarm", name="Water", do=deed, by=by, **more)

        assert await alarm("acknowledge") == [
            'nothing waits for an answer: "Water" is normal See `stillwell status` for what waits.'
        ]
        await leaks(watch)
        assert (await alarm("acknowledge")).startswith('Eve is looking after "Water". Nobody else is called now')
        assert await alarm("acknowledge", "ben") == ['Eve is looking after "Water" already ']
        assert await alarm("cannot", "ben") == ['Eve is looking after "Water" Only Eve can take that back.']
        await turn(watch, at_ms=START_MS + 1000)
        assert "the calling goes on" in await alarm("cannot")
        assert "All is well" in await alarm("clear")
        (said,) = [one.said for one in (await status(browser)).alarms]
        assert [(one.name, one.word) for one in said] == [("Eve", "cannot"), ("Eve", "well")]

        assert "needs a reason" in (await alarm("out"))[0]
        assert "out of service" in await alarm("out", why="no pump")
        assert await alarm("out", why="no pump") == ['"Water" is out of service already ']
        assert "Put it back first." in (await alarm("shelve", why="x", until_ms=START_MS + HOUR_MS))[0]
        assert await alarm("back") == '"Water" is back, and true now: people are told.'
        assert await alarm("back") == ['"Water" is neither shelved nor out of service ']
        for until_ms in (None, START_MS + 1000, START_MS + 1001 + LONGEST_SHELF_MS):
            assert isinstance(await alarm("shelve", why="x", until_ms=until_ms), list)
        assert "set aside until" in await alarm("shelve", why="x", until_ms=START_MS + HOUR_MS)
        await turn(watch, at_ms=START_MS + HOUR_MS)
        assert (await status(browser)).alarms[0].state == "unacknowledged"
        await watch.hand_in([Report("tap.wet", 0.0)])
        await turn(watch)
        assert await alarm("clear") == '"Water" is over, and somebody knows.'

    scene(tmp_path, play)


@pytest.mark.parametrize("deed", DEEDS)
def test_an_alarm_that_is_not_there(tmp_path, deed):
    async def play(_watch, browser):
        return await do(browser, "alarm", name="Watr", do=deed, by="eve", why="x", until_ms=START_MS + 1)

    assert scene(tmp_path, play) == ['there is no alarm "Watr" Did you mean Water?']


def test_who_was_told_how_often(tmp_path):
    """A quarter of an hour of calling, step by step; one message of Ben's is handed over, the rest waits."""

    async def play(watch, browser):
        await leaks(watch)
        (first,) = watch.messages.all()
        watch.messages.mark(replace(first, attempts=1, sent_ms=first.at_ms + 5, ended_ms=first.at_ms + 5))
        await turn(watch, at_ms=START_MS + 15 * 60_000)
        for row in watch.messages.all():
            watch.messages.mark(replace(row, attempts=1, why="line busy"))
        await turn(watch)
        (water,) = (await status(browser)).alarms
        return [(one.name, one.times, one.first_ms, one.sent_ms, one.at_ms, one.why) for one in water.told]

    assert scene(tmp_path, play) == [
        ("Ben", 1, START_MS + 5, START_MS + 5, START_MS + 15 * 60_000, "line busy"),
        ("Eve", 0, None, None, START_MS + 15 * 60_000, "line busy"),
    ]


def test_a_pause(tmp_path):
    async def play(watch, browser):
        def pause(until_ms, why="visitors"):
            return do(browser, "pause", until_ms=until_ms, by="eve", why=why)

        assert await do(browser, "resume", by="eve") == ["the watch is not paused "]
        assert "over already" in (await pause(START_MS))[0]
        assert "24 hours at most" in (await pause(START_MS + LONGEST_PAUSE_MS + 1))[0]
        assert "needs a reason" in (await pause(START_MS + HOUR_MS, ""))[0]
        assert (await pause(START_MS + LONGEST_PAUSE_MS)).startswith("Paused until ")
        found = await status(browser)
        assert (found.pause.by, found.pause.why, found.pause.until_ms) == (
            "eve",
            "visitors",
            START_MS + LONGEST_PAUSE_MS,
        )
        assert found.headline.endswith("by Eve: visitors.")
        await turn(watch, at_ms=START_MS + 5 * HOUR_MS)
        assert watch.messages.all() == []
        assert "what is true now is told" in await do(browser, "resume", by="eve")
        await turn(watch)
        assert {row.alarm for row in watch.messages.all()} == {"No sign of life"}
        assert (await status(browser)).pause is None

    scene(tmp_path, play)


def test_a_drill(tmp_path):
    async def play(watch, browser):
        assert "Did you mean Water?" in (await do(browser, "drill", alarm="Watr", by="eve"))[0]
        assert (await do(browser, "drill", alarm="Water", by="eve")).startswith('The drill of "Water" has begun.')
        assert "is on already" in (await do(browser, "drill", alarm="Water", by="eve"))[0]
        found = await status(browser)
        assert (found.headline, found.alarms[0].drill, found.alarms[0].what) == ("All is quiet.", True, "Water")
        assert [(one.alarm, one.answered_ms) for one in found.drills] == [("Water", None)]
        await turn(watch, at_ms=START_MS + 72_000)
        await do(browser, "alarm", name="drill: Water", do="acknowledge", by="ben")
        found = await status(browser)
        (drill,) = found.drills
        assert (drill.answered_ms - drill.begun_ms, drill.answered_by, found.alarms) == (72_000, "Ben", ())
        facts = await watch.ask(watch.store.facts, 0, 2**50)
        assert [(one.by_whom, one.why) for one in facts if one.what == "drill answered"] == [
            ("ben", "72 s after it began")
        ]
        await leaks(watch)
        assert "no time for a drill" in (await do(browser, "drill", alarm="Water", by="eve"))[0]

    scene(tmp_path, play)


def test_setting_a_state(tmp_path):
    async def play(_watch, browser):
        assert await do(browser, "state", name="holiday", value="on", by="eve") == "holiday is on now."
        assert "cannot be set" in (await do(browser, "state", name="holiday", value="maybe", by="eve"))[0]
        return (await status(browser)).states[0].value

    assert scene(tmp_path, play) == "on"


def test_erasing_a_span(tmp_path):
    async def play(watch, browser):
        await leaks(watch)
        assert "empty" in (await do(browser, "erase", from_ms=5, until_ms=5, by="eve", why="asked"))[0]
        assert "reason" in (await do(browser, "erase", from_ms=0, until_ms=5, by="eve", why=""))[0]
        said = await do(browser, "erase", from_ms=0, until_ms=START_MS + 1, by="eve", why="asked")
        assert "leave no trace" in said
        await turn(watch)
        assert await watch.ask(watch.store.span_of_events) is None
        facts = await watch.ask(watch.store.facts, 0, 2**50)
        assert [(one.what, one.by_whom, one.why.rpartition(" ")[2]) for one in facts] == [("erased", "eve", "asked")]
        # What the rules know, and what is still to be sent, has stayed.
        assert (await status(browser)).alarms[0].name == "Water"
        return len(await watch.ask(watch.store.open_messages))

    assert scene(tmp_path, play) == 1

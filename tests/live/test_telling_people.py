"""From a report to a person and back: outbox, link, page and answer over the real loop and both databases."""

import asyncio
import re
from contextlib import asynccontextmanager

import httpx
import pytest
from starlette.applications import Starlette
from tests.trial_home import PLAN, START_MS, ManualClock, running, turn

from stillwell.channels.notice import DELIVERED, failed
from stillwell.plan.read import read_plan
from stillwell.watch.answers import routes
from stillwell.watch.links import LIFE_MS, Links
from stillwell.watch.orders import Orders
from stillwell.watch.outbox import OWN_TROUBLE_MS, Outbox
from stillwell.watch.payload import Report

MINUTE_MS = 60_000
ADDRESSES = {"ben": {"text": "to-ben"}, "eve": {"text": "to-eve"}}
LINKS = Links("0123456789abcdef", "Trial home", "https://home.example")


class Telephone:
    """A channel that keeps what it is given; ``dead``: addresses at which nobody answers."""

    def __init__(self):
        self.got, self.dead, self.loop = [], set(), asyncio.get_running_loop()

    def __call__(self, address, notice):
        if address in self.dead:
            return failed("line busy")
        self.got.append((address, notice))
        return DELIVERED


@asynccontextmanager
async def telling(store, text=PLAN, addresses=ADDRESSES):
    clock, telephone = ManualClock(), Telephone()
    async with running(store, clock, text) as watch:
        outbox = Outbox(watch, addresses, telephone, LINKS)
        task = asyncio.create_task(outbox.run())
        transport = httpx.ASGITransport(Starlette(routes=routes(watch, LINKS)))
        async with httpx.AsyncClient(transport=transport, base_url="https://home.example") as browser:
            yield watch, outbox, telephone, browser
        task.cancel()
        await asyncio.wait([task])


async def settled(watch):
    """Let everything that is due be tried, and stored."""
    async with asyncio.timeout(20):
        while watch.messages.due(watch.now()):
            before = watch.messages.all()
            while watch.messages.all() == before:  # noqa: ASYNC110 - nothing is told of a mark but the outbox
                await asyncio.sleep(0)
        await turn(watch)


async def leaks(watch):
    await watch.hand_in([Report("tap.wet", 1.0)])
    await turn(watch)
    await settled(watch)


async def facts(watch):
    return await watch.ask(
        lambda: [(one.what, one.subject, one.by_whom, one.why) for one in watch.store.facts(0, 2**50)]
    )


def test_a_person_is_told_with_a_link_and_answers_by_it(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            ((address, notice),) = telephone.got
            assert address == "to-ben"
            (stored,) = await watch.ask(watch.store.messages_between, 0, 2**50)
            assert (stored.key, stored.attempts, stored.ended_ms) == (notice.key, 1, stored.sent_ms)
            assert ("told ben by text", "Water", "", "") in await facts(watch)

            shown = await browser.get(notice.link)
            assert "and nobody has answered yet." in shown.text
            assert watch.home.alarms["Water"].life.acknowledged_at_ms is None

            done = await browser.post(notice.link, data={"answer": "looking"}, follow_redirects=True)
            assert done.request.method == "GET"
            assert "and you have been looking after it since" in done.text
            assert watch.home.alarms["Water"].life.by == "ben"
            assert ("answered looking", "Water", "ben", "") in await facts(watch)

    asyncio.run(scene())


def test_looking_at_a_link_however_often_answers_nothing(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            link = telephone.got[0][1].link
            for method in ("GET", "HEAD", "GET"):
                assert (await browser.request(method, link)).status_code == 200
            for method in ("PUT", "DELETE", "PATCH"):
                assert (await browser.request(method, link, data={"answer": "well"})).status_code == 405
            assert str(watch.home.alarms["Water"].life.state) == "unacknowledged"
            assert not [what for what, *_ in await facts(watch) if what.startswith("answered")]

    asyncio.run(scene())


def test_the_same_answer_counts_once_and_another_still_counts(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            link = telephone.got[0][1].link
            for _ in range(3):
                await browser.post(link, data={"answer": "looking"})
            assert [what for what, *_ in await facts(watch)].count("answered looking") == 1
            page = (await browser.post(link, data={"answer": "cannot"}, follow_redirects=True)).text
            assert str(watch.home.alarms["Water"].life.state) == "unacknowledged"
            assert "You said at" in page

    asyncio.run(scene())


def test_a_link_to_an_earlier_asking_changes_nothing(store):
    """An answer says that somebody knows of *this* asking; half an hour later it is asked again."""

    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            first = telephone.got[0][1].link
            await browser.post(first, data={"answer": "looking"})
            await turn(watch, at_ms=watch.now() + 31 * MINUTE_MS)
            await settled(watch)
            page = (await browser.post(first, data={"answer": "well"}, follow_redirects=True)).text
            assert "It was asked again at" in page
            assert "<button" not in page
            assert str(watch.home.alarms["Water"].life.state) == "unacknowledged"
            newest = telephone.got[-1][1].link
            await browser.post(newest, data={"answer": "well"})
            assert str(watch.home.alarms["Water"].life.state) == "acknowledged"

    asyncio.run(scene())


def test_links_that_are_not_good(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            link = telephone.got[0][1].link
            for wrong in (link[:-3] + "abc", link + "x", "https://home.example/answer/%00%ff", link[:60]):
                for method in ("GET", "POST"):
                    answer = await browser.request(method, wrong, data={"answer": "well"} if method == "POST" else None)
                    assert answer.status_code == 404
                    assert "Trial home" not in answer.text
            watch.clock.ms = START_MS + LIFE_MS + MINUTE_MS
            late = await browser.post(link, data={"answer": "well"})
            assert late.status_code == 410
            assert not [what for what, *_ in await facts(watch) if what.startswith("answered")]

    asyncio.run(scene())


def test_guessing_is_slowed_and_holds_up_no_good_link(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            link = telephone.got[0][1].link
            codes = [(await browser.get(f"{link[:40]}{number}")).status_code for number in range(40)]
            assert codes == [404] * 30 + [429] * 10
            assert (await browser.get(link)).status_code == 200
            codes = [(await browser.get(link)).status_code for _ in range(40)]
            assert codes == [200] * 29 + [429] * 11

    asyncio.run(scene())


@pytest.mark.parametrize(
    "form", [b"", b"answer=", b"answer=yes", b"x" * 5000, b"&" * 50, b"\xff\xfe", b"answer=well%00", b"answers=well"]
)
def test_a_form_that_is_no_answer(store, form):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            answer = await browser.post(telephone.got[0][1].link, content=form)
            assert answer.status_code == 400
            assert str(watch.home.alarms["Water"].life.state) == "unacknowledged"

    asyncio.run(scene())


def test_who_cannot_be_reached_is_tried_again_and_shown(store):
    async def scene():
        async with telling(store) as (watch, outbox, telephone, _):
            telephone.dead.add("to-ben")
            await leaks(watch)
            assert outbox.failing() == ["Ben cannot be told by text"]
            assert ("could not tell ben by text", "Water", "", "line busy") in await facts(watch)
            (waiting,) = await watch.ask(watch.store.open_messages)
            assert (waiting.attempts, waiting.why) == (1, "line busy")
            assert 1_500 <= waiting.next_try_ms - watch.now() <= 2_000
            telephone.dead.clear()
            await turn(watch, at_ms=waiting.next_try_ms)
            watch.messages.changed.set()
            await settled(watch)
            assert [notice.key for _, notice in telephone.got] == [waiting.key]
            assert outbox.failing() == []

    asyncio.run(scene())


def test_nobody_is_pestered_once_somebody_has_answered(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, _):
            telephone.dead.add("to-ben")
            await leaks(watch)
            await Orders(watch).answer("Water", "eve", "looking")
            telephone.dead.clear()
            await turn(watch, at_ms=watch.now() + MINUTE_MS)
            watch.messages.changed.set()
            await settled(watch)
            assert telephone.got == []
            (row,) = await watch.ask(watch.store.messages_between, 0, 2**50)
            assert (row.sent_ms, row.why) == (None, "line busy; nothing is asked any more")

    asyncio.run(scene())


def test_while_an_alarm_asks_it_is_never_given_up(store):
    """A day without a line: there is always a message to Ben that is still tried; older ones do not pile up."""

    async def scene():
        async with telling(store) as (watch, _, telephone, _):
            telephone.dead |= {"to-ben", "to-eve"}
            await leaks(watch)
            for _ in range(24):
                await turn(watch, at_ms=watch.now() + 60 * MINUTE_MS)
                watch.messages.changed.set()
                await settled(watch)
                to_ben = [row for row in await watch.ask(watch.store.open_messages) if row.person == "ben"]
                assert 1 <= len(to_ben) <= 2
                assert all(row.next_try_ms - watch.now() <= 5 * MINUTE_MS for row in to_ben)
            telephone.dead.clear()
            await turn(watch, at_ms=watch.now() + 4 * MINUTE_MS)
            watch.messages.changed.set()
            await settled(watch)
            assert {address for address, _ in telephone.got} == {"to-ben", "to-eve"}

    asyncio.run(scene())


@pytest.mark.parametrize("dead", [set(), {"to-ben"}])
def test_the_next_person_reads_who_was_told_before(store, dead):
    """That somebody was told is only said where a message could be handed over: it must not lull anybody."""

    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            telephone.dead |= dead
            await leaks(watch)
            await turn(watch, at_ms=watch.now() + 5 * MINUTE_MS)
            await settled(watch)
            (to_eve,) = [notice for address, notice in telephone.got if address == "to-eve"]
            page = (await browser.get(to_eve.link)).text
            assert ("Also told: Ben." in to_eve.sentence) is (not dead)
            assert ("Not reached: Ben." in page) is bool(dead)
            assert bool(re.search(r"Told: Ben at \d\d:\d\d and Eve at \d\d:\d\d", page)) is (not dead)

    asyncio.run(scene())


def test_a_drill_is_answered_like_the_real_thing(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await turn(watch)
            await Orders(watch).drill("Water", "eve")
            await settled(watch)
            ((_, notice),) = telephone.got
            assert notice.sentence.startswith("Drill: ")
            page = (await browser.get(notice.link)).text
            assert '<p class="exercise">Drill</p>' in page
            await browser.post(notice.link, data={"answer": "well"})
            assert str(watch.home.alarms["drill: Water"].life.state) == "normal"
            assert str(watch.home.alarms["Water"].life.state) == "normal"

    asyncio.run(scene())


def test_what_ails_the_watch_is_told_without_a_link_and_not_for_ever(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, _):
            telephone.dead.add("to-ben")
            await Orders(watch).note("the disk is nearly full", tell=True)
            await settled(watch)
            telephone.dead.clear()
            await turn(watch, at_ms=watch.now() + MINUTE_MS)
            watch.messages.changed.set()
            await settled(watch)
            ((_, notice),) = telephone.got
            assert "the disk is nearly full" in notice.sentence
            assert notice.link == ""
            telephone.dead.add("to-ben")
            await Orders(watch).note("the store cannot be written", tell=True)
            await settled(watch)
            await turn(watch, at_ms=watch.now() + OWN_TROUBLE_MS + MINUTE_MS)
            watch.messages.changed.set()
            await settled(watch)
            rows = await watch.ask(watch.store.messages_between, 0, 2**50)
            assert [row.why for row in rows if row.alarm == "the store cannot be written"] == ["line busy; too old"]

    asyncio.run(scene())


def test_people_without_an_address_are_shown_beforehand(store):
    async def scene():
        async with telling(store, addresses={"ben": {"text": "x"}}) as (watch, outbox, _, _):
            assert outbox.without_address() == [("eve", "text")]
            await turn(watch)

    asyncio.run(scene())


def test_somebody_who_left_the_plan_answers_no_more(store):
    async def scene():
        async with telling(store) as (watch, _, telephone, browser):
            await leaks(watch)
            text = PLAN.replace('"ben", "eve"', '"eve"').replace('["ben"]', '["eve"]')
            text = text.replace('[people.ben]\nname = "Ben"\nchannels = { text = "30s" }\n', "")
            await Orders(watch).change_plan(read_plan(text, "home.toml"), text, "eve")
            answer = await browser.post(telephone.got[0][1].link, data={"answer": "looking"})
            assert answer.status_code == 404
            assert str(watch.home.alarms["Water"].life.state) == "unacknowledged"

    asyncio.run(scene())

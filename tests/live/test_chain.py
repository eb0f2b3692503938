"""From a report to a row in the outbox, over both databases; and over every restart on the way."""

import asyncio
from dataclasses import replace

import pytest
from tests.trial_home import HOUR_MS, PLAN, START_MS, ManualClock, running, turn

from stillwell.plan.read import read_plan
from stillwell.problem import Refusal
from stillwell.store.rows import EventRow, StateRow
from stillwell.store.store import open_store
from stillwell.watch.loop import AnsweredAlready
from stillwell.watch.orders import Orders
from stillwell.watch.payload import Report, Unread

MINUTE_MS = 60_000


def lives(store_url, *scenes):
    """Run one watch after another on the same store; return what each scene gives."""

    async def life(scene, clock):
        store = open_store(store_url, owner=True)
        async with running(store, clock) as watch:
            return await scene(watch)

    clock = ManualClock()
    return [asyncio.run(life(scene, clock)) for scene in scenes]


def facts(watch):
    return watch.ask(lambda: [(row.at_ms, row.what, row.subject) for row in watch.store.facts(0, 2**50)])


def test_a_report_becomes_a_message(store_url):
    async def scene(watch):
        assert await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        stored = await watch.ask(watch.store.open_messages)
        assert stored == watch.messages.all()
        return stored, await facts(watch)

    ((messages, happened),) = lives(store_url, scene)
    (message,) = messages
    assert (message.alarm, message.person, message.channel, message.drill) == ("Water", "ben", "text", False)
    assert (START_MS, "raised", "Water") in happened


def test_nothing_is_handed_over_before_it_is_stored(store_url):
    """At the moment a message appears, another connection to the store sees it, and the event behind it."""

    async def scene(watch):
        other = open_store(store_url)
        seen = []
        add = watch.messages.add

        def looked(rows):
            rows = list(rows)
            if rows:
                seen.append((rows[0].key in {row.key for row in other.open_messages()}, other.last_seq()))
            add(rows)

        watch.messages.add = looked
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        other.close()
        return seen

    assert lives(store_url, scene) == [[(True, 1)]]


def test_a_report_is_acknowledged_only_when_it_is_stored(store_url):
    async def scene(watch):
        other = open_store(store_url)
        stored = watch.hand_in([Report("hall_pir.movement", 1.0)])
        assert not stored.done()
        assert other.last_seq() == 0
        assert await stored
        last = other.last_seq()
        other.close()
        return last

    assert lives(store_url, scene) == [1]


def test_timers_go_on_over_a_restart_and_silence_meanwhile_counts(store_url):
    async def before(watch):
        await watch.hand_in([Report("hall_pir.movement", 1.0)])
        await turn(watch)
        watch.clock.ms = START_MS + 2 * HOUR_MS
        await turn(watch)

    async def after(watch):
        assert watch.messages.all() == []
        await turn(watch, at_ms=START_MS + 3 * HOUR_MS - 1)
        assert watch.messages.all() == []
        await turn(watch, at_ms=START_MS + 3 * HOUR_MS)
        return watch.messages.all()[0].at_ms

    assert lives(store_url, before, after)[1] == START_MS + 3 * HOUR_MS


def test_a_long_standstill_sends_the_newest_message_only_and_keeps_all(store_url):
    async def before(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        for row in watch.messages.all():
            watch.messages.mark(replace(row, ended_ms=watch.now(), sent_ms=watch.now()))
        await turn(watch)
        watch.clock.ms += 61 * MINUTE_MS

    async def after(watch):
        # Steps of 5 minutes, ben, then ben and eve: within 60 minutes 12 more stages.
        rows = await watch.ask(watch.store.messages_between, 0, 2**50)
        return [row.person for row in watch.messages.all()], len(rows)

    _, (people, kept) = lives(store_url, before, after)
    assert sorted(people) == ["ben", "eve"]
    assert kept == 1 + 12 + 6


def test_reports_that_were_stored_but_not_decided_on_are_decided_at_the_start(store_url):
    """What a kill between the two transactions leaves behind."""

    async def before(watch):
        await turn(watch)

    lives(store_url, before)
    store = open_store(store_url, owner=True)
    seq = store.last_seq()
    store.write([EventRow(seq + 1, START_MS + 5_000, "tap.wet", 1.0)])
    store.close()

    async def after(watch):
        return [(row.alarm, row.at_ms) for row in watch.messages.all()]

    assert lives(store_url, after) == [[("Water", START_MS + 5_000)]]


def test_a_message_that_was_not_marked_is_sent_again_with_its_key(store_url):
    async def before(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        return watch.messages.all()

    async def after(watch):
        return watch.messages.all()

    first, second = lives(store_url, before, after)
    assert [row.key for row in first] == [row.key for row in second]


def test_a_marked_message_is_not_sent_again(store_url):
    async def before(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        (row,) = watch.messages.due(watch.now())
        watch.messages.mark(replace(row, attempts=1, next_try_ms=START_MS + HOUR_MS, why="no route"))
        assert watch.messages.due(watch.now()) == []
        assert watch.messages.next_ms() == START_MS + HOUR_MS
        watch.messages.mark(replace(row, sent_ms=watch.now(), ended_ms=watch.now()))
        watch.messages.mark(replace(row, attempts=9))  # too late: it has ended

    async def after(watch):
        return watch.messages.all(), await watch.ask(watch.store.open_messages)

    assert lives(store_url, before, after)[1] == ([], [])


def test_a_report_that_comes_twice_is_stored_once_also_over_a_restart(store_url):
    one = Report("hall_pir.movement", 1.0, "hall_pir radio/hall", 7)

    async def scene(watch):
        await asyncio.gather(watch.hand_in([one, one]), watch.hand_in([one]))
        await watch.hand_in([one])
        await watch.hand_in([replace(one, signal="hall_pir.battery")])
        await turn(watch)
        return await watch.ask(lambda: [row.signal for row in watch.store.events_after(0)])

    expected = ["hall_pir.movement", "hall_pir.battery"]
    assert lives(store_url, scene, scene) == [expected, expected]


def test_the_same_number_a_day_later_is_a_new_report(store_url):
    one = Report("hall_pir.movement", 1.0, "hall_pir radio/hall", 7)

    async def before(watch):
        await watch.hand_in([one])
        watch.clock.ms += 25 * HOUR_MS

    async def after(watch):
        await watch.hand_in([one])
        await turn(watch)
        return watch.status().events, watch.status().duplicates

    assert lives(store_url, before, after)[1] == (1, 0)


def test_what_cannot_be_read_is_counted_over_restarts(store_url):
    async def scene(watch):
        watch.hand_in([Unread("too long", "radio/x")])
        watch.hand_in([Unread("too long", "radio/x"), Unread("too long", "radio/y")])
        watch.clock.ms += 1
        await turn(watch)
        return {row.source: row.times for row in watch.status().unread}

    assert lives(store_url, scene, scene) == [{"radio/x": 2, "radio/y": 1}, {"radio/x": 4, "radio/y": 2}]


def test_a_link_answers_once(store_url):
    async def first(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        orders = Orders(watch)
        both = await asyncio.gather(
            orders.answer("Water", "ben", "looking", token="t"),
            orders.answer("Water", "ben", "cannot", token="t"),
            return_exceptions=True,
        )
        assert isinstance(both[1], AnsweredAlready)
        assert both[1].first.word == "looking"
        return str(watch.home.alarms["Water"].life.state)

    async def second(watch):
        with pytest.raises(AnsweredAlready):
            await Orders(watch).answer("Water", "ben", "cannot", token="t")
        return str(watch.home.alarms["Water"].life.state)

    assert lives(store_url, first, second) == ["acknowledged", "acknowledged"]


def test_an_answer_stops_the_calling_also_over_a_restart(store_url):
    async def first(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        await Orders(watch).answer("Water", "ben", "looking")

    async def second(watch):
        before = len(await watch.ask(watch.store.messages_between, 0, 2**50))
        await turn(watch, at_ms=START_MS + 20 * MINUTE_MS)
        return before, len(await watch.ask(watch.store.messages_between, 0, 2**50))

    assert lives(store_url, first, second)[1] == (1, 1)


def test_orders_that_make_no_sense_are_refused_and_the_watch_goes_on(store_url):
    async def scene(watch):
        orders = Orders(watch)
        for order in (
            orders.answer("Watr", "ben", "looking"),
            orders.answer("Water", "ben", "maybe"),
            orders.shelve("Water", 0, "eve", "x"),
            orders.pause(-1, "eve", "x"),
            orders.drill("drill: Water", "eve"),
            orders.set_state("holiday", "gone", "ada"),
            orders.set_state("tap", "on", "ada"),
        ):
            with pytest.raises(Refusal):
                await order
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        return len(watch.messages)

    assert lives(store_url, scene) == [1]


def test_a_state_set_by_the_resident_holds(store_url):
    async def first(watch):
        await Orders(watch).set_state("holiday", "on", "ada")

    async def second(watch):
        await turn(watch, at_ms=START_MS + 5 * HOUR_MS)
        return watch.messages.all()

    assert lives(store_url, first, second)[1] == []


def test_a_pause_is_kept_and_shown(store_url):
    async def first(watch):
        await Orders(watch).pause(4 * HOUR_MS, "ada", "visitors")

    async def second(watch):
        await turn(watch, at_ms=START_MS + 3 * HOUR_MS + 5)
        paused, silent = watch.status().pause, watch.messages.all()
        await turn(watch, at_ms=START_MS + 4 * HOUR_MS + 5)
        return paused.why, silent, [row.alarm for row in watch.messages.all()]

    assert lives(store_url, first, second)[1] == ("visitors", [], ["No sign of life"])


def test_a_drill_rings_and_is_marked(store_url):
    async def first(watch):
        await Orders(watch).drill("Water", "eve")

    async def second(watch):
        (row,) = watch.messages.all()
        await Orders(watch).answer("drill: Water", "ben", "looking")
        return row.alarm, row.drill, str(watch.home.alarms["drill: Water"].life.state)

    assert lives(store_url, first, second)[1] == ("drill: Water", True, "normal")


def test_shelved_and_out_of_service_are_kept(store_url):
    async def first(watch):
        orders = Orders(watch)
        await orders.shelve("Water", HOUR_MS, "eve", "plumber")
        await orders.take_out("No sign of life", "eve", "moved out")

    async def second(watch):
        orders = Orders(watch)
        states = [str(watch.home.alarms[name].life.state) for name in ("Water", "No sign of life")]
        await orders.unshelve("Water", "eve")
        await orders.put_back("No sign of life", "eve")
        return states, watch.status().alarms

    assert lives(store_url, first, second)[1] == (["shelved", "out of service"], [])


def test_a_changed_plan_keeps_timers_live_and_at_a_start(store_url):
    later = PLAN.replace("no sign_of_life for 3h", "no sign_of_life for 3h and not tap.wet")
    longer = PLAN.replace('wait = "5min"', 'wait = "7min"')

    async def change(watch):
        await watch.hand_in([Report("hall_pir.movement", 1.0)])
        await turn(watch, at_ms=START_MS + HOUR_MS)
        await Orders(watch).change_plan(read_plan(longer, "home.toml"), longer, "eve")
        assert watch.plan_changed.is_set()
        await turn(watch, at_ms=START_MS + 3 * HOUR_MS)
        return watch.messages.all()[0].at_ms, watch.status().plan

    (at_ms, plan) = lives(store_url, change)[0]
    assert at_ms == START_MS + 3 * HOUR_MS

    async def other_plan():
        store = open_store(store_url, owner=True)
        assert store.state().plan == plan
        async with running(store, ManualClock(START_MS + 4 * HOUR_MS), later) as watch:
            return str(watch.home.alarms["No sign of life"].life.state), await facts(watch)

    state, happened = asyncio.run(other_plan())
    assert state == "unacknowledged"
    assert "plan changed" in {what for _, what, _ in happened}


@pytest.mark.parametrize("snapshot", ["{}", "[", '{"rules": {"start": 1}, "alarms": {}, "pause": null}'])
def test_a_state_that_cannot_be_used_begins_anew_and_says_so(store_url, snapshot):
    async def first(watch):
        await turn(watch)

    lives(store_url, first)
    store = open_store(store_url, owner=True)
    store.write([replace(store.state(), snapshot=snapshot)])
    store.close()

    async def second(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        return [what for _, what, _ in await facts(watch)], len(watch.messages)

    happened, messages = lives(store_url, second)[0]
    assert "rules begun anew" in happened
    assert messages == 1


def test_alarms_go_on_when_the_rules_begin_anew(store_url):
    async def first(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)

    lives(store_url, first)
    store = open_store(store_url, owner=True)
    state = store.state()
    store.write([StateRow(state.taken_seq, state.decided_ms, "unknown", state.snapshot)])
    store.close()

    async def second(watch):
        return str(watch.home.alarms["Water"].life.state), watch.messages.all()[0].alarm

    assert lives(store_url, second) == [("unacknowledged", "Water")]


def test_retention_forgets_what_is_old(store_url):
    short = PLAN.replace('timezone = "Europe/London"', 'timezone = "Europe/London"\nretention = "1d"')

    async def scene():
        store = open_store(store_url, owner=True)
        async with running(store, ManualClock(), short) as watch:
            for hour in range(0, 72, 6):
                watch.clock.ms = START_MS + hour * HOUR_MS
                await watch.hand_in([Report("hall_pir.movement", 1.0)])
                await turn(watch)
            rows = await watch.ask(lambda: [row.at_ms for row in store.events_after(0)])
            return min(rows) - START_MS, len(rows)

    oldest_ms, rows = asyncio.run(scene())
    assert 40 * HOUR_MS <= oldest_ms <= 42 * HOUR_MS
    assert rows == 5


def test_marks_reach_the_store_when_the_watch_ends(store_url):
    async def first(watch):
        await watch.hand_in([Report("tap.wet", 1.0)])
        await turn(watch)
        (row,) = watch.messages.all()
        watch.messages.mark(replace(row, sent_ms=1, ended_ms=1))

    lives(store_url, first)
    store = open_store(store_url)
    assert store.open_messages() == []
    store.close()

"""Laws of the keeper over any network: what it loses, doubles, holds back or shuffles, whatever a stranger sends again.

The judge is the world itself: the test knows when the home died, the keeper does not.
"""

import heapq
import json
from dataclasses import replace
from itertools import cycle, pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.alarms.events import Acknowledged, Cannot
from stillwell.heartbeat import Answer, Beat
from stillwell.keeper import dark
from stillwell.keeper.dark import Terms
from stillwell.watch import beating

pytestmark = pytest.mark.base

EVERY_MS = 60_000
START_MS = 1_767_225_600_000
many = settings(max_examples=150)

PEOPLE = tuple(Responder(name, (Channel("text"),)) for name in ("ann", "ben"))
STEPS = (Step(("ann",), "text", 300, 2), Step(("ben",), "text", 600))
CALLS = CallList("street", PEOPLE, STEPS, "everyone", 7_200)
TERMS = Terms("mill", 600_000, 180_000, CALLS)

# One message on its way: whether it is lost, how long it takes, and when copies of it turn up again.
FATES = st.lists(
    st.tuples(st.booleans(), st.integers(0, 3_600_000), st.lists(st.integers(0, 7_200_000), max_size=2)),
    min_size=1,
    max_size=12,
)


class World:
    """A home that beats until it dies, a network, and a keeper; every instant in order."""

    def __init__(self, terms, fates, answer_fates, dies_ms, off_ms=0):
        self.terms, self.dies_ms, self.off_ms = terms, dies_ms, off_ms
        self.fates, self.answer_fates = cycle(fates), cycle(answer_fates)
        self.keeper = dark.begin(terms, START_MS)
        self.home = beating.begin(1, START_MS + off_ms)
        self.beats, self.facts, self.sends, self.lit = [], [], [], []
        self._queue, self._count = [], 0
        self._at(START_MS, self.tick)

    def _at(self, at_ms, what, *details):
        heapq.heappush(self._queue, (at_ms, self._count, what, details))
        self._count += 1

    def _carry(self, now, fates, what, *details):
        lost, takes_ms, copies_ms = next(fates)
        for delay in [*([] if lost else [takes_ms]), *copies_ms]:
            self._at(now + delay, what, *details)

    def tick(self, now):
        if now > self.dies_ms:
            return
        there = now + self.off_ms
        if beating.is_due(self.home, there, EVERY_MS):
            self.home, beat = beating.beat(self.home, there, "mill", "plan", [], [], EVERY_MS)
            self.beats.append(beat)
            self._carry(now, self.fates, self.arrive, beat)
            self._at(now + EVERY_MS, self.tick)

    def arrive(self, now, beat):
        moved = self.take(dark.heard(self.terms, self.keeper, beat, now))
        if moved.fresh:
            alive = now < moved.state.alive_ms + self.terms.dark_after_ms
            answer = Answer("mill", beat.boot, beat.seq, moved.state.now_ms, alive)
            self._carry(now, self.answer_fates, self.answered, answer)

    def answered(self, now, answer):
        if now <= self.dies_ms:
            self.home = beating.answered(self.home, "mill", answer, now + self.off_ms)
            self._at(max(now, self.home.next_ms - self.off_ms), self.tick)

    def take(self, moved):
        self.keeper = moved.state
        self.facts += moved.facts
        self.sends += moved.sends
        self.lit.append((moved.state.now_ms, not moved.state.is_dark))
        return moved

    def run(self, until_ms):
        while self._queue and self._queue[0][0] <= until_ms:
            now, _, what, details = heapq.heappop(self._queue)
            what(now, *details)
        self.take(dark.pass_time(self.terms, self.keeper, until_ms))
        return self


LIVES = st.integers(0, 7_200_000)
CLOCKS_OFF = st.sampled_from([0, -START_MS + 1, 31_536_000_000, -7_777_777])


@many
@given(FATES, FATES, LIVES, CLOCKS_OFF)
def test_no_silence_longer_than_agreed_goes_untold(fates, answer_fates, lives_ms, off_ms):
    dies_ms = START_MS + lives_ms
    by_ms = dies_ms + TERMS.dark_after_ms
    world = World(TERMS, fates, answer_fates, dies_ms, off_ms).run(by_ms)
    assert world.keeper.is_dark
    assert [send for send in world.sends if send.at_ms <= by_ms]
    world.run(by_ms + 14_400_000)  # whatever still turns up
    assert not any(alive for at_ms, alive in world.lit if at_ms >= by_ms)


@many
@given(st.integers(0, 5_000), st.integers(0, 5_000), LIVES, CLOCKS_OFF, st.integers(180_000, 600_000))
def test_a_home_that_beats_through_a_working_network_is_never_called_dark(takes, back, lives_ms, off_ms, dark_after):
    terms = replace(TERMS, dark_after_ms=dark_after)
    dies_ms = START_MS + lives_ms
    world = World(terms, [(False, takes, [])], [(False, back, [])], dies_ms, off_ms).run(dies_ms)
    assert not world.sends
    assert all(alive for _, alive in world.lit)


@many
@given(FATES, FATES, LIVES, st.data())
def test_no_old_beat_lights_a_dark_home(fates, answer_fates, lives_ms, data):
    dies_ms = START_MS + lives_ms
    dead_ms = dies_ms + TERMS.dark_after_ms
    world = World(TERMS, fates, answer_fates, dies_ms).run(dead_ms)
    again = data.draw(st.lists(st.sampled_from(world.beats), max_size=30))
    gaps = data.draw(st.lists(st.integers(0, 600_000), min_size=len(again), max_size=len(again)))
    for keeper in (world.keeper, dark.rekeyed(world.keeper), dark.begin(TERMS, dead_ms)):
        state, now = keeper, dead_ms
        for beat, gap in zip(again, gaps, strict=True):
            now += gap
            before = state
            state = dark.heard(TERMS, state, beat, now).state
            assert state.alive_ms <= max(before.alive_ms, dies_ms)
            assert state.is_dark >= before.is_dark
        assert dark.pass_time(TERMS, state, dead_ms + TERMS.dark_after_ms).state.is_dark


EVENTS = st.lists(
    st.tuples(
        st.integers(0, 400_000),
        st.sampled_from(["beat", "echo", "old", "restart", "pass", "looking", "cannot", "late"]),
    ),
    max_size=40,
)


def do(state, step, now, counter):
    """One step of any history; `counter` numbers the beats."""
    asked = state.alarm.life.asked_at_ms
    match step:
        case "beat" | "echo" | "restart":
            boot = 2 if step == "restart" else 1
            beat = Beat("mill", boot, counter, now + 1, 0 if step == "beat" else now - now % 50_000, "p")
            return dark.heard(TERMS, state, beat, now)
        case "old":
            return dark.heard(TERMS, state, Beat("mill", 1, 1, now, now, "p"), now)
        case "looking":
            return dark.answer(TERMS, state, Acknowledged("ann", asked), now)
        case "cannot":
            return dark.answer(TERMS, state, Cannot("ben", asked), now)
        case "late":
            return dark.answer(TERMS, state, Acknowledged("ann", 5), now)
        case _:
            return dark.pass_time(TERMS, state, now)


@many
@given(EVENTS, st.sets(st.integers(0, 40)))
def test_saved_and_resumed_is_never_stopped(history, stops):
    whole, broken, now = dark.begin(TERMS, START_MS), dark.begin(TERMS, START_MS), START_MS
    for number, (gap, step) in enumerate(history):
        now += gap
        if number in stops:
            broken = dark.from_json(json.loads(json.dumps(dark.to_json(broken))))
            broken = dark.came_back(TERMS, broken, broken.now_ms)
        left, right = do(whole, step, now, number + 2), do(broken, step, now, number + 2)
        assert left == right
        whole, broken = left.state, right.state


@many
@given(EVENTS, st.lists(st.integers(0, 3_600_000), max_size=20))
def test_one_leap_of_time_is_many(history, stops):
    state, now = dark.begin(TERMS, START_MS), START_MS
    for number, (gap, step) in enumerate(history):
        now += gap
        state = do(state, step, now, number + 2).state
    end = now + 3_600_000
    leap = dark.pass_time(TERMS, state, end)
    sends, facts, stepped = (), (), state
    for at_ms in [*sorted(now + stop for stop in stops), end]:
        moved = dark.pass_time(TERMS, stepped, at_ms)
        sends, facts, stepped = sends + moved.sends, facts + moved.facts, moved.state
    assert (stepped, sends, [fact.at_ms for fact in facts if fact.what == "dark"]) == (
        leap.state,
        leap.sends,
        [fact.at_ms for fact in leap.facts if fact.what == "dark"],
    )


@many
@given(EVENTS)
def test_nothing_happens_before_the_deadline(history):
    state, now = dark.begin(TERMS, START_MS), START_MS
    for number, (gap, step) in enumerate(history):
        now += gap
        state = do(state, step, now, number + 2).state
        due = dark.deadline(TERMS, state)
        if due is None:
            assert state.is_dark is False
            continue
        before = dark.pass_time(TERMS, state, max(now, due - 1))
        assert (before.sends, before.facts) == ((), ())
        at = dark.pass_time(TERMS, state, due)
        assert at.sends or at.facts or at.state.alarm != state.alarm


@many
@given(st.lists(st.tuples(st.integers(1, 900_000), st.integers(0, 900_000)), min_size=1, max_size=12))
def test_a_keeper_that_falls_over_and_over_still_tells(turns):
    """Up and down, up and down, while the home is silent from the start on."""
    state, now = dark.begin(TERMS, START_MS), START_MS
    limit = due = START_MS + TERMS.dark_after_ms
    spared = False
    for up, down in turns:
        now += up
        state = dark.pass_time(TERMS, state, now).state
        assert state.is_dark >= (now >= limit)
        now += down
        if now >= due and not spared and not state.is_dark:
            spared, limit = True, now + min(down, TERMS.settle_ms)
        state = dark.from_json(json.loads(json.dumps(dark.to_json(state))))
        state = dark.came_back(TERMS, state, now)
    assert dark.pass_time(TERMS, state, max(now, limit)).state.is_dark


@many
@given(EVENTS, st.integers(0, 86_400_000))
def test_a_dark_home_is_asked_about_until_somebody_answers(history, more_ms):
    state, now = dark.begin(TERMS, START_MS), START_MS
    for number, (gap, step) in enumerate(history):
        now += gap
        state = do(state, step, now, number + 2).state
    moved = dark.pass_time(TERMS, state, now + TERMS.dark_after_ms)
    later = dark.pass_time(TERMS, moved.state, moved.state.now_ms + more_ms)
    asking = later.state.alarm.calling
    assert later.state.is_dark
    assert asking is not None
    if asking.answered_by is None:
        times = sorted({send.at_ms for send in later.sends})
        assert all(after - before <= 7_200_000 for before, after in pairwise(times))
        assert asking.due_ms <= later.state.now_ms + 600_000  # the longest wait of the list

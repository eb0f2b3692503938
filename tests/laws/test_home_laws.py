"""A home under watch decides what a replay decides, keeps its timers, and asks until it is answered."""

import json
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.laws.test_engine_laws import COMMON, SPAN, plans, records

from stillwell.engine import columns, walk
from stillwell.engine.program import compile_plan
from stillwell.replay.chain import Chain
from stillwell.watch.home import Home, Work

pytestmark = pytest.mark.base


def run(home: Home, record) -> Work:
    work = Work()
    for now, events in walk.instants(record):
        work += home.report(now, events)
    return work + home.pass_time(SPAN[1] - 1)


def facts(work: Work, what: str) -> list[tuple[int, str]]:
    return [(fact.at_ms, fact.subject) for fact in work.facts if fact.what == what]


@settings(max_examples=60, **COMMON)
@given(plans(), records())
def test_a_home_raises_what_a_replay_raises_and_tells_when_the_chain_says(plan, record):
    program = compile_plan(plan)
    outcome = columns.run(program, record)
    work = run(Home(plan, SPAN[0]), record)
    judged = [(at_ms, rule.name) for rule in program.alarms for at_ms in outcome.fired[rule.name].tolist()]
    assert sorted(facts(work, "raised")) == sorted(judged)
    chain = Chain(plan)
    for rule in program.alarms:
        sent = [message for message in work.messages if message.alarm == rule.name]
        first = outcome.fired[rule.name][:1].tolist()
        assert [message.at_ms for message in sent][:1] == first
        if first:
            arrives = first[0] + plan.people[sent[0].person].channels[sent[0].channel]
            assert chain.told_at(rule.call, first[0]) == arrives


@settings(max_examples=60, **COMMON)
@given(plans(), records(), st.integers(*SPAN), st.booleans())
def test_stored_resumed_or_given_the_same_plan_again_nothing_begins_anew(plan, record, stop_ms, swap):
    whole, broken = Home(plan, SPAN[0]), Home(plan, SPAN[0])
    expected, got = Work(), Work()
    for now, events in walk.instants(record):
        expected += whole.report(now, events)
        if broken.now <= stop_ms < now:
            if swap:
                got += broken.change_plan(broken.now, plan, "the keeper")
            broken = Home.resume(plan, json.loads(json.dumps(broken.snapshot())))
        got += broken.report(now, events)
    expected += whole.pass_time(SPAN[1] + 3_600_000)
    got += broken.pass_time(SPAN[1] + 3_600_000)
    assert got.messages == expected.messages
    assert got.commands == expected.commands
    assert [fact for fact in got.facts if fact.what != "plan changed"] == list(expected.facts)


@settings(max_examples=60, **COMMON)
@given(plans(), records(), st.integers(2, 30))
def test_an_unanswered_alarm_goes_on_asking_and_an_answer_stops_it(plan, record, hours):
    home = Home(plan, SPAN[0])
    work = run(home, record) + home.pass_time(SPAN[1] + hours * 3_600_000)
    now = home.now
    for name, alarm in home.alarms.items():
        if alarm.life.asked_at_ms is None:
            continue
        times = [message.at_ms for message in work.messages if message.alarm == name]
        assert all(later - earlier <= 60_000 for earlier, later in pairwise(times))  # the list's only wait
        assert times[-1] > now - 60_000
        quiet = home.answer(home.now, name, "p", "looking")
        quiet += home.pass_time(home.now + 60_000)
        assert not [message for message in quiet.messages if message.alarm == name]

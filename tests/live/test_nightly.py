"""Learning at night under a running watch: taken when proved, kept with its reason, and to be undone."""

import asyncio
from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from tests.trial_home import HOUR_MS, ManualClock, running
from tests.unit.limits.lived import DAY, lived
from tests.unit.limits.row_home import TEXT

from stillwell.cli.limits_undo import undo_last_night
from stillwell.control.shapes import PlanAnswer
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal, refuse
from stillwell.store.rows import EventRow
from stillwell.store.store import open_store
from stillwell.watch.nightly import BY, LEARNED, LEFT, Nightly, next_night, plan_before, table_learned
from stillwell.watch.orders import Orders
from stillwell.watch.relearning import Relearned, TableNight, answer_to, relearned
from stillwell.watch.resume import fingerprint
from stillwell.wording.logbook import entry

LIMITED = (
    TEXT.replace("no sign_of_life for 12h", "no sign_of_life for limit call")
    + """
[limits.call]
longest = "12h"
one_false_in = "30d"   # as Ben wanted it
relearn = "30min"
shortest = "2h"
rows = [
    { limit = "9h" },
]
"""
)
TAKEN = PlanAnswer(taken=True, same=False, plan="x", worse=(), better=())
PARIS = ZoneInfo("Europe/Paris")


def ms(text):
    return round(datetime.fromisoformat(text).timestamp() * 1000)


@pytest.mark.parametrize(
    ("now", "due"),
    [
        ("2026-03-10T04:39:59+01:00", "2026-03-10T04:40:00+01:00"),
        ("2026-03-10T04:40:00+01:00", "2026-03-11T04:40:00+01:00"),
        # Paris: clocks go forward on 29 March 2026 (Directive 2000/84/EC)
        ("2026-03-28T12:00:00+01:00", "2026-03-29T04:40:00+02:00"),
    ],
)
def test_it_learns_at_twenty_to_five_on_the_homes_own_clock(now, due):
    assert next_night(ms(now), PARIS) == ms(due)


def night(folder, learn):
    """Let one night pass; return the watch's plan text after it, the facts, and the store's plans asked for."""

    async def run():
        store = open_store(str(folder / "store.db"), owner=True)
        async with running(store, ManualClock(), LIMITED) as watch:
            await Nightly(watch, "store", learn=learn).once()
            facts = await watch.ask(store.facts_of, [LEARNED, LEFT, "plan changed"], 10)
            before = await watch.ask(store.plan_text, fingerprint(LIMITED))
            return watch.text, {fact.what: fact for fact in facts}, before

    return asyncio.run(run())


def learns(text, taken):
    async def learn(store, running_text, now_ms):
        assert running_text == LIMITED
        return Relearned(text, (TableNight("call", taken, "Because."),))

    return learn


def test_what_was_learned_is_taken_and_the_plan_before_can_be_found(tmp_path):
    new = LIMITED.replace('limit = "9h"', 'limit = "8h30min"')
    text, facts, before = night(tmp_path, learns(new, taken=True))
    assert text == new
    assert (table_learned(facts[LEARNED].why), facts[LEARNED].by_whom) == ("call", BY)
    assert facts["plan changed"].by_whom == BY
    assert plan_before(facts[LEARNED].why) == fingerprint(LIMITED)
    assert before == LIMITED


def test_the_logbook_says_what_was_learned(tmp_path):
    _, facts, _ = night(tmp_path, learns(LIMITED, taken=False))
    fact = facts[LEFT]
    said = entry(fact.what, fact.subject, fact.by_whom, fact.why, read_plan(LIMITED, "home.toml"), {})
    assert said.sentence == "Limits left as they were: limits.call: Because."


def test_what_was_not_taken_is_kept_with_its_reason(tmp_path):
    text, facts, _ = night(tmp_path, learns(LIMITED, taken=False))
    assert text == LIMITED
    assert set(facts) == {LEFT}
    assert facts[LEFT].why == "limits.call: Because"
    assert plan_before(facts[LEFT].why) is None


def test_a_night_that_cannot_learn_says_why_and_changes_nothing(tmp_path):
    async def learn(store, running_text, now_ms):
        raise refuse("learning took too long")

    text, facts, _ = night(tmp_path, learn)
    assert text == LIMITED
    assert facts[LEFT].why == "learning took too long"


def filled(folder, days):
    """A store of invented days."""
    record = lived(days)
    rows = sorted((at_ms, name) for name, column in record.signals.items() for at_ms in column.times.tolist())
    store = open_store(str(folder / "store.db"), owner=True)
    store.write([EventRow(seq, at_ms, name, None) for seq, (at_ms, name) in enumerate(rows, 1)])
    store.close()
    return str(folder / "store.db"), record.span[1]


def test_it_learns_from_the_store_within_the_bounds_of_the_plan(tmp_path):
    store, now_ms = filled(tmp_path, 40)
    answer = answer_to({"store": store, "plan": LIMITED, "now_ms": now_ms})
    ((name, taken, sentence),) = answer["nights"]
    assert (name, taken) == ("call", True), sentence
    plan = read_plan(answer["text"], "home.toml")
    limits = {row.limit for row in plan.limits["call"].rows}
    assert 9 * HOUR_MS - HOUR_MS // 2 in limits
    assert all(abs(limit - 9 * HOUR_MS) <= HOUR_MS // 2 for limit in limits)
    assert "# as Ben wanted it" in answer["text"]
    assert "Learned anew from" in sentence


def test_a_fortnight_is_too_little(tmp_path):
    # the first day begins with the first report, so it is not whole
    store, now_ms = filled(tmp_path, 14)
    answer = answer_to({"store": store, "plan": LIMITED, "now_ms": now_ms})
    assert answer["text"] == LIMITED
    assert answer["nights"][0][1:] == [False, "13 days count, and 28 are needed."]


def test_without_leave_nothing_is_learned(tmp_path):
    store, now_ms = filled(tmp_path, 30)
    fixed = LIMITED.replace('relearn = "30min"\n', "")
    assert answer_to({"store": store, "plan": fixed, "now_ms": now_ms + DAY}) == {"text": fixed, "nights": []}


def test_apart_it_says_the_same_and_hands_on_what_it_refuses(tmp_path, monkeypatch):
    store, now_ms = filled(tmp_path, 14)
    answer = answer_to({"store": store, "plan": LIMITED, "now_ms": now_ms})
    (tmp_path / "stillwell.py").write_text("raise SystemExit", "utf-8")
    monkeypatch.chdir(tmp_path)  # the folder that we stand in is no place to import from
    apart = asyncio.run(relearned(store, LIMITED, now_ms))
    assert (apart.text, [[one.table, one.taken, one.sentence] for one in apart.nights]) == tuple(answer.values())
    with pytest.raises(Refusal) as refused:
        asyncio.run(relearned(store, LIMITED.replace('relearn = "30min"', "relearn = 30"), now_ms))
    (problem,) = refused.value.problems
    assert problem.place.line == 1 + LIMITED[: LIMITED.index("relearn")].count("\n")


def test_undone_the_tables_are_as_before_and_all_else_as_now(tmp_path, monkeypatch):
    learned = LIMITED.replace('limit = "9h"', 'limit = "8h30min"')
    night(tmp_path, learns(learned, taken=True))
    asked = []
    monkeypatch.setattr("stillwell.cli.asking.ask", lambda _store, question: asked.append(question) or TAKEN)
    # since then somebody gave Ben more time
    changed = learned.replace('wait = "2min"', 'wait = "3min"')

    async def change():
        store = open_store(str(tmp_path / "store.db"), owner=True)
        async with running(store, ManualClock(ms=ManualClock().ms + 60_000), learned) as watch:
            await Orders(watch).change_plan(read_plan(changed, "home.toml"), changed, "ben")

    asyncio.run(change())
    undo_last_night(str(tmp_path / "store.db"), "ben", as_json=True)
    text = asked[0].request.table["text"]
    assert text == changed.replace('limit = "8h30min"', 'limit = "9h"')


def test_nothing_learned_nothing_undone(tmp_path):
    night(tmp_path, learns(LIMITED, taken=False))
    with pytest.raises(Refusal, match="has not changed any limit"):
        undo_last_night(str(tmp_path / "store.db"), "ben", as_json=True)

"""What people read. The sentences are judged by reading them here; lengths by what a text message holds."""

from zoneinfo import ZoneInfo

from hypothesis import given
from hypothesis import strategies as st
from tests.smallest import plan_of

from stillwell.plan.model import HazardKind
from stillwell.wording.messages import TEXT_LENGTH, Asked, Told, told_sentence, worded

ZONE = ZoneInfo("Europe/London")
T = 1_780_000_000_000  # Thu 28 May 2026 21:26:40 in London
MINUTE = 60_000
KINDS = HazardKind.__args__


def plan(home="Mill Lane 4", resident="Ada Hill"):
    people = {
        "ben": {"name": "Ben Field, neighbour", "channels": {"text": "1ms"}},
        "ada": {"name": resident, "channels": {"text": "1ms"}},
    }
    return plan_of(home={"name": home, "timezone": "Europe/London"}, resident={"name": resident}, people=people)


def asked(alarm="No sign of life", kind="collapse", **keys):
    usual = {"person": "ben", "at_ms": T, "asked_at_ms": T, "raised_at_ms": T}
    return Asked(alarm, kind, **(usual | keys))


def test_one_sentence_says_it_all():
    others = (Told("Eve", T, None), Told("Tom Hill, nephew", T - 5 * MINUTE, True), Told("Piet", T - 5 * MINUTE, False))
    about = asked(raised_at_ms=T - 5 * MINUTE, asked_at_ms=T - 5 * MINUTE, others=others)
    words = worded(plan(), about, ZONE)
    assert words.sentence == (
        'At Mill Lane 4 the alarm "No sign of life" has stood since 21:21: please ring Ada Hill or look in now (in '
        "doubt the emergency number comes first), and answer that you are looking after it; Eve is told too; told "
        "before: Tom Hill at 21:21; not reached: Piet."
    )
    assert words.subject == "No sign of life, Mill Lane 4"
    assert words.short == (
        "Mill Lane 4: No sign of life since 21:21. Please ring Ada Hill or look in now. In doubt the emergency number "
        "comes first. Also told: Eve, Tom Hill."
    )


def test_with_smoke_the_emergency_number_comes_first():
    for kind in ("smoke", "carbon monoxide"):
        words = worded(plan(), asked("Smoke", kind), ZONE)
        before, _, after = words.sentence.partition("the emergency number comes first")
        assert "please" not in before
        assert "please ring Ada Hill" in after
        assert words.short.index("emergency number") < words.short.index("ring Ada Hill")


def test_a_drill_says_so_first_and_sends_nobody_anywhere():
    for kind in KINDS:
        words = worded(plan(), asked(kind=kind, drill=True), ZONE)
        for text in (words.subject, words.sentence, words.short):
            assert text.startswith("Drill: ")
            assert "ring" not in text.replace("during", "")
            assert "emergency" not in text


def test_what_changes_while_it_lasts():
    over = worded(plan(), asked("Water", "water", over=True), ZONE)
    assert "stood since 21:26 and is over now, but nobody has answered: please make sure" in over.sentence
    again = worded(plan(), asked("Water", "water", again=True), ZONE)
    assert "has stood since 21:26 and nobody has answered yet: please" in again.sentence
    still = worded(plan(), asked("Water", "water", raised_at_ms=T - 26 * 60 * MINUTE), ZONE)
    assert "has stood since Wed 27 May 2026 19:26 and still does: please" in still.sentence
    assert over.sentence.endswith("; nobody else has been told yet.")


def test_the_resident_is_not_asked_to_ring_herself():
    words = worded(plan(), asked(person="ada"), ZONE)
    assert "please answer whether you are well" in words.sentence
    assert "ring Ada" not in words.sentence + words.short


def test_what_the_watch_says_of_itself():
    words = worded(plan(), asked("no connection to the broker", ""), ZONE)
    assert words.sentence == (
        'The watch at Mill Lane 4 says at 21:26 what ails it: "no connection to the broker"; please look into it; '
        "nobody else has been told yet."
    )
    over = worded(plan(), asked("over: no connection to the broker", ""), ZONE)
    assert '"no connection to the broker" is over; nothing is asked of you' in over.sentence


def test_a_lost_part_is_called_by_its_words():
    words = worded(plan(), asked("hall_pir has stopped reporting", "blind"), ZONE)
    assert words.short == "Mill Lane 4: hall pir has stopped reporting since 21:26. Please see to it."


def test_who_was_told():
    told = [
        Told("Ben, neighbour", T, True),
        Told("Eve", T + MINUTE, True),
        Told("Tom", T, False),
        Told("Piet", T, None),
    ]
    assert told_sentence(told, T, ZONE) == "Told: Ben at 21:26 and Eve at 21:27. Not reached: Tom."
    assert told_sentence([], T, ZONE) == ""


titles = st.from_regex(r"[A-Za-z](?:[A-Za-z ,'-]{0,117}[a-z])?", fullmatch=True)
others = st.lists(
    st.builds(Told, titles, st.sampled_from([T, T - MINUTE]), st.sampled_from([True, False, None])), max_size=6
)


@given(
    home=titles,
    resident=titles,
    alarm=titles,
    kind=st.sampled_from(["", *KINDS]),
    person=st.sampled_from(["ben", "ada", "gone"]),
    raised=st.sampled_from([T, T - 3 * 86_400_000]),
    others=others.map(tuple),
    flags=st.tuples(st.booleans(), st.booleans(), st.booleans()),
)
def test_any_message_is_one_line_and_fits_a_text(home, resident, alarm, kind, person, raised, others, flags):
    """3GPP TS 23.038: 160 characters of the default alphabet, in which all of ASCII that we use has a place."""
    drill, again, over = flags
    about = asked(
        alarm,
        kind,
        person=person,
        raised_at_ms=raised,
        others=others,
        drill=drill and bool(kind),
        again=again,
        over=over,
    )
    words = worded(plan(home, resident), about, ZONE)
    assert len(words.short) <= TEXT_LENGTH
    assert words.short.isascii()
    for text in (words.subject, words.sentence, words.short):
        assert text.isprintable()
    assert home in words.sentence
    assert alarm.removeprefix("over: ") in words.sentence

"""The keeper's two pages: how all homes stand, in plain text, and the answer to a message, for any phone."""

from collections.abc import Iterator
from html import escape
from typing import Final

from stillwell.keeper.keeper import Keeper
from stillwell.keeper.links import Link
from stillwell.keeper.memory import Refused
from stillwell.keeper.words import ahead_sentence
from stillwell.wording.counting import counted, listed
from stillwell.wording.durations import SECOND_MS, rounded
from stillwell.wording.instants import moment

FAR_OFF_MS: Final = 120_000


def status(keeper: Keeper, now_ms: int, ahead_ms: int) -> str:
    """Say how every home stands. ``ahead_ms``: how far the keeper's clock is ahead of the system's."""
    lines = [f"Keeper of {counted(len(keeper.states), 'home')}, {moment(keeper.settings.zone, now_ms)}"]
    if keeper.trouble:
        lines.append(f"The store cannot be written: {keeper.trouble}. What is decided now is lost if the keeper ends.")
    if ahead_ms > FAR_OFF_MS:
        lines.append(f"The keeper's clock is {ahead_sentence(ahead_ms, 'that of its machine, which was set back')}.")
    lines += [f"Refused {_refused(keeper, one)}" for one in keeper.refused()]
    for name in keeper.states:
        lines += ["", *_home(keeper, name, now_ms)]
    return "\n".join(lines) + "\n"


def _home(keeper: Keeper, name: str, now_ms: int) -> Iterator[str]:
    state, zone = keeper.states[name], keeper.settings.zone
    life, asking = state.alarm.life, state.alarm.calling
    how = f"DARK since {moment(zone, state.alive_ms)}" if state.is_dark else "alive"
    if state.heard_ms is None:
        how = f"{'DARK, ' if state.is_dark else ''}not heard yet, watched since {moment(zone, state.alive_ms)}"
    yield f"{keeper.settings.homes[name].name} ({name}): {how}; {life.state.value}"
    if asking is not None and asking.answered_by is not None:
        person = keeper.settings.people.get(asking.answered_by)
        yield f"  {asking.answered_by if person is None else person.name} is looking after it."
    if state.heard_ms is not None and state.beat is not None:
        beat = state.beat
        ago = rounded((now_ms - state.heard_ms) // SECOND_MS * SECOND_MS)
        yield f"  Last heard {ago} ago: start {beat.boot}, beat {beat.seq}, plan {beat.plan}."
        yield f"  Open alarms: {listed(list(beat.alarms)) or 'none'}."
        if beat.remarks:
            yield f"  It says of itself: {listed(list(beat.remarks))}."
    if abs(state.ahead_ms) > FAR_OFF_MS:
        yield f"  Its clock is {ahead_sentence(state.ahead_ms, 'ours')}."
    if state.clock_jumps:
        yield f"  Its clock has jumped {counted(state.clock_jumps, 'time')}."
    for one in keeper.refused(name):
        yield f"  Refused in its name: {_refused(keeper, one)}"
    for letter in keeper.post.open.values():
        if letter.home == name:
            why = f" ({counted(letter.attempts, 'try', 'tries')}: {letter.why})" if letter.attempts else ""
            yield f"  Still to be sent: {letter.channel} to {letter.person}{why}."
    for fact in keeper.last_facts(name):
        yield f"  {moment(zone, fact.at_ms)}: {fact.what}{f', {fact.by}' if fact.by else ''}"


def _refused(keeper: Keeper, one: Refused) -> str:
    times, last = counted(one.times, "heartbeat"), moment(keeper.settings.zone, one.last_ms)
    return f"{times}, {one.reason}, last {last}."


def ask(keeper: Keeper, link: Link, now_ms: int) -> str:
    """Return the page behind a link: what it is about, and two buttons. Looking at it answers nothing."""
    state, name = keeper.states[link.home], keeper.settings.homes[link.home].name
    since = moment(keeper.settings.zone, state.alive_ms)
    how = f"has been dark since {since} ({rounded(now_ms - state.alive_ms)})" if state.is_dark else "is heard again"
    return _page(
        f"{name} {how}.",
        '<form method="post"><button name="word" value="looking">I am looking after it</button>'
        '<button name="word" value="cannot">I cannot</button></form>',
    )


def thanks(word: str, *, in_time: bool) -> str:
    """Return the page after an answer."""
    if not in_time:
        return _page("Thank you. It had been answered already, or was asked anew since.", "")
    said = "the next on the list are asked" if word == "cannot" else "nobody else is asked for now"
    return _page(f"Thank you: {said}.", "")


def no_link() -> str:
    """Return the page behind a link that is none."""
    return _page("This link is not, or no longer, good for an answer. Take the one in the newest message.", "")


def _page(text: str, form: str) -> str:
    return (
        '<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        "<title>Answer</title><style>body{font:1.4em sans-serif;margin:1em}button{font:inherit;display:block;"
        f"width:100%;margin:1em 0;padding:1em}}</style><p>{escape(text)}</p>{form}</html>\n"
    )

"""One keeper at work: what it hears, decides and writes down. Nobody's clock and no network: both are handed in.

Order, so that a kill at any instant loses nothing: state, letters and facts go to the disk together, in one go; only
then a beat is answered or a letter sent. While the disk cannot be written it goes on from memory, and says so.
"""

import hashlib
import hmac
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias

from stillwell import heartbeat
from stillwell.alarms.calling import Send, newest
from stillwell.alarms.events import Acknowledged, Cannot
from stillwell.heartbeat import Answer, Reason
from stillwell.keeper import dark, links
from stillwell.keeper.dark import Fact, Moved, Seen, Terms
from stillwell.keeper.links import Link
from stillwell.keeper.memory import Letter, Memory, Refused, Trouble, Write
from stillwell.keeper.post import Post
from stillwell.keeper.settings import Settings
from stillwell.keeper.words import dark_message

UNKNOWN: Final = "of no home that is known here"
OLD: Final = "old or repeated"

WRITTEN_EVERY_MS: Final = 4_000
"""So often it writes down how far time has passed and what was refused, when nothing else is to be written."""

Say: TypeAlias = Callable[..., None]
"""``say(what, **about)``: write a line into the log."""


@dataclass
class _Unwritten:
    """What the disk has not taken yet."""

    states: set[str] = field(default_factory=set)
    letters: dict[str, Letter] = field(default_factory=dict)
    facts: list[tuple[str, Fact]] = field(default_factory=list)
    refused: set[tuple[str, str]] = field(default_factory=set)


class Keeper:
    """Used by one thread. ``trouble`` says why the disk cannot be written at present, if so."""

    def __init__(self, settings: Settings, memory: Memory, now_ms: int, say: Say) -> None:
        self.settings = settings
        self.memory = memory
        self.trouble = ""
        self._say = say
        self._written_ms = 0
        self._secret = memory.secret()
        self._unwritten = _Unwritten()
        self._keys = {name: home.key.get_secret_value().encode() for name, home in settings.homes.items()}
        self._terms = {name: settings.terms(name) for name in settings.homes}
        self._refused = {(one.home, one.reason): one for one in memory.refused()}
        self.post = Post(letter for letter in memory.open_letters() if letter.home in self._terms)
        self.states = self._resumed(now_ms)
        self.pass_time(now_ms)

    def _resumed(self, now_ms: int) -> dict[str, Seen]:
        stored = self.memory.states()
        states = {}
        for name, terms in self._terms.items():
            mark, state = stored.get(name, ("", None))
            if state is None:
                states[name] = dark.begin(terms, now_ms)
                continue
            state = state if mark == self._mark(name) else dark.rekeyed(state)
            # Had anything been due since its last write, it would have been written.
            state = replace(state, now_ms=max(state.now_ms, self.memory.now_ms()))
            states[name] = dark.came_back(terms, state, now_ms)
        self._unwritten.states |= set(states)
        return states

    def _mark(self, home: str) -> str:
        """Tell one key of a home from another without giving it away."""
        return hmac.new(self._keys[home], b"stillwell key mark", hashlib.sha256).hexdigest()[:16]

    def deadline(self) -> int | None:
        """Return when time itself does something next."""
        times = [dark.deadline(terms, self.states[name]) for name, terms in self._terms.items()]
        return min((at_ms for at_ms in times if at_ms is not None), default=None)

    def pass_time(self, now_ms: int) -> None:
        """Let time pass for every home, and write down how far."""
        for name, terms in self._terms.items():
            self._move(name, terms, dark.pass_time(terms, self.states[name], now_ms))
        self._write_what_matters(now_ms)

    def end(self, now_ms: int) -> None:
        """Write down everything before the process ends."""
        self.pass_time(now_ms)
        self._write(now_ms)

    def hear(self, data: bytes, now_ms: int) -> bytes | str:
        """Take a heartbeat; return the signed answer, or why it is refused."""
        if len(data) > heartbeat.LARGEST_BYTES:
            return self.refuse("", Reason.TOO_LARGE, now_ms)
        home = heartbeat.named(data)
        if home is None:
            return self.refuse("", Reason.MALFORMED, now_ms)
        if home not in self._terms:
            return self.refuse("", UNKNOWN, now_ms)
        key, terms = self._keys[home], self._terms[home]
        beat = heartbeat.read(data, key)
        if isinstance(beat, Reason):
            return self.refuse(home, beat, now_ms)
        moved = dark.heard(terms, self.states[home], beat, now_ms)
        self._move(home, terms, moved)
        if not moved.fresh:
            self._write_what_matters(now_ms)
            return self.refuse(home, OLD, now_ms)
        self._write(now_ms)
        state = self.states[home]
        alive = state.now_ms < state.alive_ms + terms.dark_after_ms
        return heartbeat.sign_answer(Answer(home, beat.boot, beat.seq, state.now_ms, alive), key)

    def refuse(self, home: str, reason: str, now_ms: int) -> str:
        """Count a refusal. It reaches the disk with the next write: a flood of forgeries must not wear it out."""
        before = self._refused.get((home, reason), Refused(home, reason, 0, now_ms))
        self._refused[home, reason] = replace(before, times=before.times + 1, last_ms=now_ms)
        self._unwritten.refused.add((home, reason))
        return str(reason)

    def refused(self, home: str = "") -> list[Refused]:
        """Return what was refused in the name of a home; without one, what came from no home that is known."""
        return [one for one in self._refused.values() if one.home == home]

    def last_facts(self, home: str) -> list[Fact]:
        """Return what happened to a home last, the newest first; nothing where the disk cannot be read."""
        try:
            return self.memory.last_facts(home)
        except Trouble:
            return []

    def link(self, token: str, now_ms: int) -> Link | None:
        """Return what a link stands for, None where it is not ours or too old."""
        link = links.read(token, self._secret, now_ms)
        return link if link is not None and link.home in self._terms else None

    def answer(self, link: Link, word: str, now_ms: int) -> bool:
        """Take a person's answer, "looking" or "cannot"; tell whether it came in time to change anything."""
        home, terms = link.home, self._terms[link.home]
        kind = Cannot if word == "cannot" else Acknowledged
        moved = dark.answer(terms, self.states[home], kind(link.person, link.asked_at_ms), now_ms)
        self._move(home, terms, moved)
        counted = any(fact.by == link.person for fact in moved.facts)
        if counted and kind is Acknowledged:
            self._keep(self.post.drop(home, link.asked_at_ms, now_ms))
        self._write(now_ms)
        return counted

    def link_for(self, letter: Letter, now_ms: int) -> str:
        """Return the address at which a letter is answered."""
        link = Link(letter.home, letter.person, letter.asked_at_ms, now_ms + links.LASTS_MS)
        return f"{self.settings.keeper.public.rstrip('/')}/answer/{links.token(link, self._secret)}"

    def sent(self, letter: Letter, why: str | None, now_ms: int) -> None:
        """Note what became of a letter: None, sent; else why not."""
        after = self.post.back(letter, why, now_ms)
        if after is not None:
            self._keep([after])
        self._say(
            "sent" if why is None else "not sent",
            home=letter.home, person=letter.person, channel=letter.channel, key=letter.key, why=why or "",
        )  # fmt: skip
        self._write(now_ms)

    def _move(self, home: str, terms: Terms, moved: Moved) -> None:
        before, self.states[home] = self.states[home], moved.state
        if moved.state == replace(before, now_ms=moved.state.now_ms):
            return  # nothing but time has passed
        self._unwritten.states.add(home)
        self._unwritten.facts += [(home, fact) for fact in moved.facts]
        for fact in moved.facts:
            self._say(fact.what, home=home, by=fact.by, since=fact.at_ms)
        letters = self._letters(home, moved.state, newest(moved.sends))
        self._keep(self.post.add(letters, moved.state.now_ms))
        self._keep(letters)

    def _letters(self, home: str, state: Seen, sends: Iterable[Send]) -> list[Letter]:
        # What has already been answered, within one leap of time, needs nobody any more.
        sends = [send for send in sends if send.asked_at_ms == state.alarm.life.asked_at_ms]
        told = self._told(home, sends)
        letters = []
        for send in sends:
            people = [*told, *(other.person for other in sends)]
            others = [self._name(person) for person in dict.fromkeys(people) if person != send.person]
            name, zone = self.settings.homes[home].name, self.settings.zone
            said = dark_message(name, state, state.now_ms, others, zone)
            letters.append(
                Letter(send.key, home, send.person, send.channel, send.asked_at_ms, send.at_ms, said.subject, said.text)
            )
        return letters

    def _told(self, home: str, sends: list[Send]) -> list[str]:
        try:
            return self.memory.told(home, sends[0].asked_at_ms) if sends else []
        except Trouble:
            return []

    def _name(self, person: str) -> str:
        found = self.settings.people.get(person)
        return person if found is None else found.name

    def _keep(self, letters: Iterable[Letter]) -> None:
        self._unwritten.letters |= {letter.key: letter for letter in letters}

    def _write_what_matters(self, now_ms: int) -> None:
        """Write if something happened; the time and what was refused only now and then."""
        todo = self._unwritten
        if todo.states or todo.letters or todo.facts or now_ms - self._written_ms >= WRITTEN_EVERY_MS:
            self._write(now_ms)

    def _write(self, now_ms: int) -> None:
        todo = self._unwritten
        write = Write(
            now_ms,
            states=[(home, self._mark(home), self.states[home]) for home in sorted(todo.states)],
            letters=list(todo.letters.values()),
            facts=todo.facts,
            refused=[self._refused[one] for one in sorted(todo.refused)],
        )
        try:
            self.memory.write(write)
        except Trouble as trouble:
            if not self.trouble:
                self._say("the store cannot be written", why=str(trouble))
            self.trouble = str(trouble)
            return
        if self.trouble:
            self._say("the store can be written again", at=now_ms)
        self.trouble = ""
        self._written_ms = now_ms
        self._unwritten = _Unwritten()

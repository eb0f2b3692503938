"""Letters on their way: at least once, tried again with growing pauses, and none that no longer means anything."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final

from stillwell.keeper.memory import Letter

FIRST_PAUSE_MS: Final = 5_000
LONGEST_PAUSE_MS: Final = 300_000
MOST_AT_ONCE: Final = 16


class Post:
    """The open letters, held in memory so that they go out even while the disk cannot be written."""

    def __init__(self, letters: Iterable[Letter]) -> None:
        self._open = {letter.key: letter for letter in letters}
        self._under_way: set[str] = set()

    @property
    def open(self) -> Mapping[str, Letter]:
        """The letters that are still to be sent, by their keys."""
        return self._open

    def add(self, letters: Iterable[Letter], now_ms: int) -> list[Letter]:
        """Take new letters; return those that end here, because a newer one to the same person takes their place."""
        ended = []
        for letter in letters:
            for old in list(self._open.values()):
                same = (old.home, old.person, old.channel) == (letter.home, letter.person, letter.channel)
                if same and old.key != letter.key:
                    ended.append(self._end(old, now_ms, "a newer one takes its place"))
            self._open.setdefault(letter.key, letter)
        return ended

    def drop(self, home: str, asked_at_ms: int, now_ms: int) -> list[Letter]:
        """Take back the letters of an asking that was answered; return them as they ended."""
        answered = [one for one in self._open.values() if (one.home, one.asked_at_ms) == (home, asked_at_ms)]
        return [self._end(one, now_ms, "somebody has answered") for one in answered]

    def take(self, now_ms: int) -> list[Letter]:
        """Return what is to be tried now, the oldest first; it counts as under way until ``back``."""
        due = [one for one in self._open.values() if one.next_try_ms <= now_ms and one.key not in self._under_way]
        taken = sorted(due, key=lambda one: one.at_ms)[: max(0, MOST_AT_ONCE - len(self._under_way))]
        self._under_way.update(one.key for one in taken)
        return taken

    def back(self, letter: Letter, why: str | None, now_ms: int) -> Letter | None:
        """Note what became of a try (None: sent, else why not); return the letter as it stands, None if it had ended.

        One that went out although it had ended meanwhile is noted as sent all the same.
        """
        self._under_way.discard(letter.key)
        if why is None:
            self._open.pop(letter.key, None)
            return replace(letter, attempts=letter.attempts + 1, sent_ms=now_ms, ended_ms=now_ms, why="")
        if letter.key not in self._open:
            return None
        pause_ms = min(FIRST_PAUSE_MS * 2 ** min(letter.attempts, 10), LONGEST_PAUSE_MS)
        again = replace(letter, attempts=letter.attempts + 1, next_try_ms=now_ms + pause_ms, why=why)
        self._open[letter.key] = again
        return again

    def next_ms(self) -> int | None:
        """Return when the next try is due; None while there is nothing to wait for."""
        waiting = [one.next_try_ms for one in self._open.values() if one.key not in self._under_way]
        return min(waiting, default=None)

    def _end(self, letter: Letter, now_ms: int, why: str) -> Letter:
        del self._open[letter.key]
        return replace(letter, ended_ms=now_ms, why=why)

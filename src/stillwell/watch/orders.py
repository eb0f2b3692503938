"""What people may ask of a running watch. The loop's own task does it, and it is stored before it is answered."""

from typing import Final

from stillwell.alarms.events import PutBack, Shelved, TakenOut, Unshelved
from stillwell.plan.model import Plan
from stillwell.problem import refuse
from stillwell.store.rows import AnswerRow, CounterRow, PlanRow
from stillwell.watch.follows import to_keepers
from stillwell.watch.home import DRILL, Fact, Work
from stillwell.watch.loop import Watch
from stillwell.watch.payload import Report
from stillwell.watch.resume import fingerprint

ANSWERS: Final = ("looking", "well", "cannot")


class Orders:
    """The verbs of a watch. Each returns what followed, or raises Refusal where it makes no sense."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch

    async def answer(self, alarm: str, by: str, word: str, asked_at_ms: int | None = None, token: str = "") -> Work:
        """Take a person's answer: looking, well or cannot. With a token (of a link) it counts once.

        Raises AnsweredAlready where the token was used.
        """
        await self._known(alarm)
        if word not in ANSWERS:
            raise refuse(f'"{word}" is no answer', f"It is one of: {', '.join(ANSWERS)}.")
        entries = (AnswerRow(token, alarm, by, word, self.watch.now()),) if token else ()
        return await self.watch.order(
            lambda now: self.watch.home.answer(now, alarm, by, word, asked_at_ms), entries, token
        )

    async def shelve(self, alarm: str, for_ms: int, by: str, why: str) -> Work:
        """Set an alarm aside for a bounded time."""
        await self._known(alarm)
        _length(for_ms)
        return await self.watch.order(
            lambda now: self.watch.home.operate(now, alarm, Shelved(by, now + for_ms), by, why)
        )

    async def unshelve(self, alarm: str, by: str, why: str = "") -> Work:
        """Take an alarm off the shelf."""
        await self._known(alarm)
        return await self.watch.order(lambda now: self.watch.home.operate(now, alarm, Unshelved(), by, why))

    async def take_out(self, alarm: str, by: str, why: str) -> Work:
        """Take an alarm out of service, until it is put back."""
        await self._known(alarm)
        return await self.watch.order(lambda now: self.watch.home.operate(now, alarm, TakenOut(by), by, why))

    async def put_back(self, alarm: str, by: str, why: str = "") -> Work:
        """Put an alarm back in service."""
        await self._known(alarm)
        return await self.watch.order(lambda now: self.watch.home.operate(now, alarm, PutBack(), by, why))

    async def pause(self, for_ms: int, by: str, why: str) -> Work:
        """Pause the alarms that watch the resident, for a bounded time."""
        _length(for_ms)
        return await self.watch.order(lambda now: self.watch.home.pause_until(now, now + for_ms, by, why))

    async def end_pause(self, by: str) -> Work:
        """End the pause before its time."""
        return await self.watch.order(lambda now: self.watch.home.end_pause(now, by))

    async def drill(self, alarm: str, by: str) -> Work:
        """Ring one alarm through to people, marked as a drill."""
        await self._known(alarm)
        if alarm.startswith(DRILL):
            raise refuse(f'"{alarm}" is a drill already', "Name the alarm itself.")
        return await self.watch.order(lambda now: self.watch.home.drill(now, alarm, by))

    async def set_state(self, name: str, value: str, by: str) -> Work:
        """Set a state of the home, as in holiday to on."""
        await self.watch.ready.wait()
        state = self.watch.plan.states.get(name)
        if state is None or value not in state.values or state.set_by == "rules":
            raise refuse(f"{name} cannot be set to {value}", "See [states] in the plan.")
        self.watch.hand_in([Report(name, float(state.values.index(value)))])
        return await self.watch.order(lambda now: Work((Fact(now, f"set to {value}", name, by),)))

    async def change_plan(self, plan: Plan, text: str, by: str) -> Work:
        """Swap a checked plan in; timers and alarms that both plans share go on."""
        row = PlanRow(fingerprint(text), text, self.watch.now(), by)
        return await self.watch.order(lambda now: self.watch.take_plan(now, plan, text, by), (row,))

    async def note(self, what: str, why: str = "", *, tell: bool = False) -> Work:
        """Keep a fact about the watch itself; ``tell``: the keepers of the system get a message."""

        def noted(now: int) -> Work:
            told = to_keepers(self.watch.plan, what, now) if tell else ()
            return Work((Fact(now, what, "watch", "", why),), told)

        return await self.watch.order(noted)

    async def remember(self, counter: str, number: int) -> None:
        """Keep a number over a restart; when this returns it is on the disk, if the store can."""
        await self.watch.order(lambda _now: Work(), (CounterRow(counter, number),))

    async def _known(self, alarm: str) -> None:
        await self.watch.ready.wait()
        names = self.watch.home.alarms
        if alarm not in names:
            known = ", ".join(sorted(name for name in names if not name.startswith(DRILL)))
            raise refuse(f'there is no alarm "{alarm}"', f"There are: {known}.")


def _length(for_ms: int) -> None:
    if for_ms <= 0:
        raise refuse("this needs a length of time", 'Say how long, as in "2h".')

"""What people ask of a running watch: said back in a sentence, or refused with what would be right."""

from datetime import UTC, datetime
from typing import Final
from zoneinfo import ZoneInfo

from stillwell.alarms.life import Life, State
from stillwell.control.shapes import Do, Done, PlanAnswer
from stillwell.plan.naming import nearest
from stillwell.plan.read import read_plan
from stillwell.problem import refuse
from stillwell.record.text import iso
from stillwell.replay.chain import ASK_AGAIN_S
from stillwell.store.database import StoreTrouble
from stillwell.watch.home import DRILL, LONGEST_PAUSE_MS, Fact, Work
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.outbox import kind_of, name_of
from stillwell.watch.proving import compared
from stillwell.watch.resume import fingerprint
from stillwell.wording.durations import DAY_MS, HOUR_MS, rounded
from stillwell.wording.messages import since_when, what_it_is

LONGEST_SHELF_MS: Final = 7 * DAY_MS
"""ISA-18.2 asks for a longest time on the shelf and leaves it to the site. Beyond it, an alarm is out of service."""

_ASKING: Final = frozenset({State.UNACKNOWLEDGED, State.RETURNED})
_ASIDE: Final = frozenset({State.SHELVED, State.OUT_OF_SERVICE})


class Deeds:
    """What may be asked of one watch."""

    def __init__(self, watch: Watch) -> None:
        self.watch = watch
        self._orders = Orders(watch)

    async def alarm(self, name: str, do: Do, by: str, why: str, until_ms: int | None) -> Done:
        """Do something with an alarm."""
        await self.watch.ready.wait()
        if name not in self.watch.home.alarms:
            raise self._unknown(name)
        life = self.watch.home.alarms[name].life
        match do:
            case "acknowledge" | "clear":
                return await self._acknowledge(name, do, by, life)
            case "cannot":
                return await self._cannot(name, by, life)
            case "shelve":
                return await self._shelve(name, by, why, until_ms, life)
            case "out":
                _give(why, "take it out of service")
                if life.state is State.OUT_OF_SERVICE:
                    raise refuse(f'"{self._what(name)}" is out of service already')
                await self._orders.take_out(name, by, why)
                return Done(f'"{self._what(name)}" is out of service until somebody puts it back.')
            case "back":
                return await self._back(name, by, why, life)

    async def pause(self, until_ms: int, by: str, why: str) -> Done:
        """Pause the alarms that watch the resident."""
        await self.watch.ready.wait()
        _give(why, "pause the watch")
        now_ms = self.watch.now()
        if until_ms <= now_ms:
            raise refuse("this pause would be over already", "Name an end that is still to come.")
        if until_ms > now_ms + LONGEST_PAUSE_MS:
            remedy = "For longer, set a state of the plan, such as holiday, or pause again."
            raise refuse(f"a pause lasts {LONGEST_PAUSE_MS // HOUR_MS} hours at most", remedy)
        await self._orders.pause(until_ms - now_ms, by, why)
        still = "Smoke, carbon monoxide, water, power cuts, lost parts and calls for help are told all the same."
        return Done(f"Paused until {self._when(until_ms)}. {still}", until_ms)

    async def resume(self, by: str) -> Done:
        """End the pause before its time."""
        await self.watch.ready.wait()
        if self.watch.home.pause is None:
            raise refuse("the watch is not paused")
        await self._orders.end_pause(by)
        return Done("The pause is over; what is true now is told.")

    async def drill(self, alarm: str, by: str) -> Done:
        """Ring one alarm through to people, marked as a drill."""
        await self.watch.ready.wait()
        alarms = self.watch.home.alarms
        if alarm not in alarms or alarm.startswith(DRILL):
            raise self._unknown(alarm)
        if alarms[alarm].life.state not in _ASIDE | {State.NORMAL}:
            raise refuse(f'"{self._what(alarm)}" stands now: this is no time for a drill of it')
        before = alarms.get(f"{DRILL}{alarm}")
        if before is not None and before.life.state in _ASKING:
            raise refuse(f'a drill of "{self._what(alarm)}" is on already', "It ends when somebody answers it.")
        await self._orders.drill(alarm, by)
        return Done(f'The drill of "{self._what(alarm)}" has begun. It ends when somebody answers.')

    async def set_state(self, name: str, value: str, by: str) -> Done:
        """Set a state of the home."""
        await self._orders.set_state(name, value, by)
        return Done(f"{name} is {value} now.")

    async def erase(self, from_ms: int, until_ms: int, by: str, why: str) -> Done:
        """Erase a span of what was reported, raised and sent."""
        await self.watch.ready.wait()
        _give(why, "erase")
        if not from_ms < until_ms:
            raise refuse("this span is empty", "The second instant comes after the first.")
        # Reports stay until the state that follows from them is stored: so it is stored now, with this number.
        await self._orders.remember("last erasure", self.watch.now())
        try:
            gone = await self.watch.ask(self.watch.store.erase, from_ms, until_ms)
        except StoreTrouble as trouble:
            raise refuse(f"it could not be erased whole: {trouble}", "Try again.") from trouble
        about = f"{iso(from_ms)} to {iso(until_ms)}, {gone} entries: {why}"
        await self.watch.order(lambda now: Work((Fact(now, "erased", "watch", by, about),)))
        return Done(
            f"{gone:,} entries are erased and leave no trace in the files; what is still to be sent has stayed."
        )

    async def plan(self, text: str, by: str, *, accept_worse: bool, only_compare: bool) -> PlanAnswer:
        """Have a changed plan proved, compared with the running one, and swapped in without losing timers."""
        await self.watch.ready.wait()
        named = fingerprint(text)
        if text == self.watch.text:
            return PlanAnswer(taken=False, same=True, plan=named, worse=(), better=())
        running = self.watch.text
        year = datetime.fromtimestamp(self.watch.now() / 1000, UTC).year
        worse, better = await compared(running, text, year)
        taken = not only_compare and (accept_worse or not worse)
        if taken:
            if self.watch.text != running:
                raise refuse("somebody else has changed the plan meanwhile", "Compare again.")
            plan = read_plan(text, "home.toml")
            await self._orders.change_plan(plan, text, by)
        return PlanAnswer(taken=taken, same=False, plan=named, worse=worse, better=better)

    async def _acknowledge(self, name: str, do: Do, by: str, life: Life) -> Done:
        what = self._what(name)
        if life.state is State.ACKNOWLEDGED and do == "acknowledge":
            raise refuse(f'{self._name(life.by or "")} is looking after "{what}" already')
        if life.state not in _ASKING | {State.ACKNOWLEDGED}:
            raise self._nothing_asked(name, life)
        await self._orders.answer(name, by, "well" if do == "clear" else "looking", life.asked_at_ms)
        after = self.watch.home.alarms[name].life
        if after.state is State.NORMAL:
            return Done(f'"{what}" is over, and somebody knows.')
        who, wait = self._name(by), rounded(ASK_AGAIN_S * 1000)
        said = f'All is well with "{what}", says {who}' if do == "clear" else f'{who} is looking after "{what}"'
        return Done(f"{said}. Nobody else is called now; if it is still true in {wait}, it asks again.")

    async def _cannot(self, name: str, by: str, life: Life) -> Done:
        if life.state not in _ASKING | {State.ACKNOWLEDGED}:
            raise self._nothing_asked(name, life)
        if life.state is State.ACKNOWLEDGED and life.by != by:
            who = self._name(life.by or "")
            raise refuse(f'{who} is looking after "{self._what(name)}"', f"Only {who} can take that back.")
        await self._orders.answer(name, by, "cannot", life.asked_at_ms)
        return Done(f'It is noted that {self._name(by)} cannot look after "{self._what(name)}"; the calling goes on.')

    async def _shelve(self, name: str, by: str, why: str, until_ms: int | None, life: Life) -> Done:
        _give(why, "shelve an alarm")
        now_ms = self.watch.now()
        if until_ms is None or until_ms <= now_ms:
            raise refuse("an alarm is shelved until an instant that is still to come", 'Say for how long, as in "2h".')
        if until_ms > now_ms + LONGEST_SHELF_MS:
            remedy = "For longer, take it out of service; then somebody must put it back."
            raise refuse(f"an alarm is shelved for {LONGEST_SHELF_MS // DAY_MS} days at most", remedy)
        if life.state is State.OUT_OF_SERVICE:
            raise refuse(f'"{self._what(name)}" is out of service', "Put it back first.")
        await self._orders.shelve(name, until_ms - now_ms, by, why)
        return Done(f'"{self._what(name)}" is set aside until {self._when(until_ms)}.', until_ms)

    async def _back(self, name: str, by: str, why: str, life: Life) -> Done:
        match life.state:
            case State.SHELVED:
                await self._orders.unshelve(name, by, why)
            case State.OUT_OF_SERVICE:
                await self._orders.put_back(name, by, why)
            case _:
                raise refuse(f'"{self._what(name)}" is neither shelved nor out of service')
        true_now = self.watch.home.alarms[name].life.condition
        return Done(f'"{self._what(name)}" is back{", and true now: people are told" if true_now else ""}.')

    def _nothing_asked(self, name: str, life: Life) -> Exception:
        stands = f'"{self._what(name)}" is {life.state}'
        remedy = "Bring it back first." if life.state in _ASIDE else "See `stillwell status` for what waits."
        return refuse(f"nothing waits for an answer: {stands}", remedy)

    def _unknown(self, name: str) -> Exception:
        names = [one for one in self.watch.home.alarms if not one.startswith(DRILL)]
        return refuse(f'there is no alarm "{name[:200]}"', nearest(name, names, "Alarms here"))

    def _what(self, alarm: str) -> str:
        return what_it_is(alarm.removeprefix(DRILL), kind_of(self.watch.home, alarm))

    def _name(self, person: str) -> str:
        return name_of(self.watch, person)

    def _when(self, at_ms: int) -> str:
        return since_when(at_ms, self.watch.now(), ZoneInfo(self.watch.plan.home.timezone))


def _give(why: str, to_do: str) -> None:
    if not why:
        raise refuse(f"to {to_do} needs a reason", "Say why, in a few words.")

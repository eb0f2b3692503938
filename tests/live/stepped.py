"""The whole chain on a clock that is moved from instant to instant: parts, Mosquitto, watch, store, outbox, mails.

Nothing sleeps and nothing is late: the clock stands at an instant until all that follows from it has been stored, sent
and received, and then jumps to the next one at which a part speaks, a timer ends, a message is due or somebody notices
one. So each message is received at an instant that is exact to the millisecond, however slow this machine is; what
real processing costs is measured elsewhere (benchmarks/watch.py). Only where several messages say what one instant of
the proof holds do they come one after the other, a millisecond each; so much later is allowed then (``stretched_ms``).
"""

import asyncio
import heapq
import os
import socket
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field
from itertools import count

from aiosmtpd.smtp import SMTP
from tests.live.promised import BEATS_A_SUPERVISION, MINUTE_MS, REPEATS_MS, Days, reported, wired

from stillwell.alarms.life import State
from stillwell.channels.mail import MailServer
from stillwell.channels.ways import by_address
from stillwell.simulate.telegrams import Telegrams
from stillwell.store.store import open_store
from stillwell.watch.commands import Commander
from stillwell.watch.home import Work
from stillwell.watch.inbox_mqtt import MqttInbox
from stillwell.watch.loop import Watch
from stillwell.watch.orders import Orders
from stillwell.watch.outbox import Outbox
from stillwell.watch.settings import Broker

SECONDS = 60
RECOVERS_MS = 5 * MINUTE_MS
SHELF_MS = 12 * 3_600_000
ASKS = (State.UNACKNOWLEDGED, State.RETURNED)
SAID, MARK, BEAT = 1, 2, 3
"""What stands in a script: a report, something that people do, what the hub says of its parts; first things first."""


@dataclass
class JumpingClock:
    """Stands still until it is moved; whatever waits for it is woken by whoever moves it."""

    ms: int
    jumps_ms: list = field(default_factory=list)

    def now_ms(self):
        return self.ms

    def seconds_until(self, at_ms):
        return 0.0 if at_ms <= self.ms else None

    def ahead_ms(self):
        return 0


class Radio:
    """Publishes for all parts of all homes at QoS 1, with as little ado as MQTT 3.1.1 (sections 3.1 and 3.3) allows."""

    def __init__(self, port):
        self.socket = socket.create_connection(("127.0.0.1", port))
        name = f"parts-{os.getpid()}".encode()
        hello = b"\0\4MQTT\4\2\0\0" + len(name).to_bytes(2) + name
        self.socket.sendall(b"\x10" + _length(len(hello)) + hello)
        assert self.socket.recv(4) == b"\x20\2\0\0"  # CONNACK: accepted
        self.number = 0

    def publish(self, topic, payload):
        self.number = self.number % 65_535 + 1
        body = len(topic).to_bytes(2) + topic.encode("ascii") + self.number.to_bytes(2) + payload
        self.socket.sendall(b"\x32" + _length(len(body)) + body)
        if self.number % 100 == 0:
            with suppress(BlockingIOError):
                self.socket.recv(65_536, socket.MSG_DONTWAIT)  # acknowledgements

    def close(self):
        self.socket.close()


def _length(number):
    """A remaining length (MQTT 3.1.1, section 2.2.3): seven bits a byte, the lowest first."""
    found = bytearray()
    while True:
        number, low = divmod(number, 128)
        found.append(low | (128 if number else 0))
        if not number:
            return bytes(found)


class Letters:
    """A mail server for many homes: PERSON.CHANNEL@HOME. ``out`` holds (home, channel) that carry nothing now."""

    def __init__(self):
        self.out = set()
        self.to = {}

    async def handle_RCPT(self, server, session, envelope, address, rcpt_options):  # noqa: N802
        person, home = address.split("@")
        if (home.partition(".")[0], person.partition(".")[2]) in self.out:
            return "450 no way out"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        text = envelope.content.decode("utf-8", "replace")
        key = text.partition("Message-ID: <")[2].partition("@")[0]
        for address in envelope.rcpt_tos:
            person, home = address.split("@")
            self.to[home.partition(".")[0]](*person.split("."), key)
        return "250 OK"

    @asynccontextmanager
    async def open(self):
        loop = asyncio.get_running_loop()
        server = await loop.create_server(lambda: SMTP(self, hostname="localhost", loop=loop), "127.0.0.1", 0)
        try:
            yield server.sockets[0].getsockname()[1]
        finally:
            server.close()
            await server.wait_closed()


@dataclass
class Lived:
    """What became of a day. Times are milliseconds UTC; ``told_ms`` is None where nobody was told."""

    day: object
    told_ms: int | None
    blind_ms: int | None
    stretched_ms: int

    @property
    def missed(self):
        return self.told_ms is None or self.told_ms > self.day.promised_ms + self.stretched_ms

    @property
    def blind_missed(self):
        by_ms = self.day.blind_by_ms
        return by_ms is not None and (self.blind_ms is None or self.blind_ms > by_ms)


class Chain:
    """One home from its parts to its people."""

    def __init__(self, name, plan, text, days, store, radio, broker_port, letters, mail_port):
        self.name, self.plan, self.days = name, plan, days
        self.clock = JumpingClock(days.start_ms)
        self.watch = Watch(open_store(str(store), owner=True), plan, f"{text}\n# {name}", self.clock)
        self.inbox = MqttInbox(Broker(port=broker_port, client=name, prefix=name), self.watch)
        self.commander = Commander(self.watch, self.inbox.publish, name)
        server = MailServer("127.0.0.1", mail_port, "none", "watch@home.example")
        addresses = {
            person: {channel: f"{person}.{channel}@{name}.example" for channel in one.channels}
            for person, one in plan.people.items()
        }
        self.outbox = Outbox(self.watch, addresses, by_address(server))
        self.letters, self.radio = letters, radio
        letters.to[name] = self.received
        self.telegrams = Telegrams(plan, name)
        self.orders = Orders(self.watch)
        self.beats = self._beats()
        self.calls = {rule.name: rule.call for rule in days.promises.prover.program.alarms}
        self.unreachable = frozenset()
        self.pending_ms, self.arrived = days.start_ms, asyncio.Event()
        self.sent_at, self.notices, self.shelved = {}, [], set()
        self.instants = self.messages = self.mails = 0
        self._real_hand_in, self._real_add = self.watch.hand_in, self.watch.messages.add
        self.watch.hand_in, self.watch.messages.add = self.handed_in, self.added

    def _beats(self):
        groups = {}
        for name, part in self.plan.parts.items():
            if part.supervision is not None:
                groups.setdefault(part.supervision, []).append(name)
        return [(round(supervision * BEATS_A_SUPERVISION), parts) for supervision, parts in groups.items()]

    @asynccontextmanager
    async def running(self):
        tasks = [asyncio.create_task(one.run()) for one in (self.inbox, self.commander, self.outbox)]
        own = asyncio.create_task(self.watch.run())
        try:
            async with asyncio.timeout(SECONDS):
                while not self.inbox._fresh:  # noqa: ASYNC110 - another process is waited for
                    await asyncio.sleep(0.002)
            yield self
        finally:
            for one in tasks:
                one.cancel()
            await asyncio.gather(*tasks, return_exceptions=True)
            self.watch.end()
            await own

    def handed_in(self, outcomes):
        """What a message says is taken at the instant at which it was sent."""
        self.clock.ms = max(self.clock.ms, self.pending_ms)
        stored = self._real_hand_in(outcomes)
        self.arrived.set()
        return stored

    def added(self, rows):
        rows = list(rows)
        self.sent_at |= {row.key: (row.alarm, row.asked_at_ms) for row in rows}
        self._real_add(rows)

    def received(self, person, channel, key):
        """A letter is in somebody's box: they notice it as the plan says."""
        self.mails += 1
        alarm, asked_at_ms = self.sent_at[key]
        call = self.calls.get(alarm)
        if call is None or person in self.unreachable:
            return
        noticed_ms = self.days.promises.chain.notices(call)(person, channel, self.clock.ms)
        if noticed_ms is not None:
            heapq.heappush(self.notices, (noticed_ms, alarm, person, asked_at_ms, self.clock.ms))

    async def say(self, at_ms, said):
        """Let parts speak in an instant, one message after the other; return when the last one has come."""
        telegrams = self.telegrams.of(at_ms, said)
        if not telegrams:
            self.clock.ms = at_ms
            await self.turn()
        for number, telegram in enumerate(telegrams):
            self.pending_ms = max(at_ms + number, self.clock.ms + 1)
            self.arrived.clear()
            self.radio.publish(telegram.topic, telegram.payload.encode())
            async with asyncio.timeout(SECONDS):
                await self.arrived.wait()
            await self.turn()
            self.messages += 1
        return self.clock.ms

    async def turn(self):
        """Return when the loop has done all that it was given."""
        await self.watch.order(lambda _now: Work())

    async def quiet(self):
        """Return when all that is due has been sent, and what became of it is stored."""
        watch, busy = self.watch, False
        async with asyncio.timeout(SECONDS):
            while self.outbox._under_way or watch.messages.due(self.clock.ms) or watch.commands.due(self.clock.ms):
                busy = True
                await asyncio.sleep(0.001)
        if busy:
            await self.turn()

    async def live(self, day):
        """Live through a day; return what became of it."""
        return await Living(self, day).through()


class Living:
    """One day as it is lived."""

    def __init__(self, chain, day):
        self.chain, self.day, self.watch = chain, day, chain.watch
        self.script, self._number = [], count()
        self.told_ms = self.blind_ms = None
        self.stretched_ms = 0
        self.lost_names = {
            name
            for name, part in chain.days.promises.of_part.items()
            if day.fault is not None and part in day.fault.lost
        }

    async def through(self):
        day, chain = self.day, self.chain
        outage = None if day.fault is None else day.fault.outage
        chain.unreachable = frozenset() if outage is None else outage.people
        chain.letters.out |= {(chain.name, channel) for channel in (() if outage is None else outage.channels)}
        self._add(BEAT, ((day.start_ms + 1, "beat", group) for group in chain.beats))
        self._add(SAID, chain.days.standing(day.start_ms))
        self._add(SAID, day.said)
        for at_ms in range(day.since_ms.get(day.fault.stuck, 0), day.until_ms, REPEATS_MS) if day.stuck_says else ():
            self._add(SAID, ((at_ms, name, 1.0) for name in day.stuck_says))
        self._add(MARK, [(day.onset_ms - 1, "answer", None), (day.until_ms, "end", None)])
        await self._begin()
        await self._go_on(until=lambda: self.told_ms is not None or chain.clock.ms > day.promised_ms + 2 * MINUTE_MS)
        await self._recover()
        await self._go_on(until=lambda: chain.clock.ms >= day.until_ms)
        chain.letters.out = {one for one in chain.letters.out if one[0] != chain.name}
        chain.unreachable = frozenset()
        return Lived(day, self.told_ms, self.blind_ms, self.stretched_ms)

    def _add(self, sort, entries):
        for at_ms, name, value in entries:
            heapq.heappush(self.script, (at_ms, sort, next(self._number), name, value))

    async def _begin(self):
        """What a new day finds still asking is answered, and nothing lies on the shelf any more."""
        for name in sorted(self.chain.shelved):
            await self.chain.orders.unshelve(name, "somebody")
        self.chain.shelved.clear()
        await self._answer(lambda _name: True)

    async def _answer(self, which):
        for name, alarm in list(self.watch.home.alarms.items()):
            if alarm.life.state in ASKS and which(name):
                await self.chain.orders.answer(name, "somebody", "looking")

    async def _recover(self):
        """The hazard is over; the resident's life goes on, as far as what is broken lets it be seen."""
        day, chain = self.day, self.chain
        again_ms = chain.clock.ms + RECOVERS_MS
        over = [(again_ms, name, reported(name, level.before)) for name, level in day.way.levels.items()]
        life = chain.days.between(again_ms, day.until_ms)
        self.script = [one for one in self.script if one[1] in (MARK, BEAT) or one[3] in day.stuck_says]
        heapq.heapify(self.script)
        stands = [one for one in chain.days.standing(again_ms) if one[1] in day.driven]
        self._add(SAID, day.heard([*over, *stands, *life]))

    async def _go_on(self, until):
        chain, watch = self.chain, self.watch
        while not until():
            due = [watch.home.deadline(), watch.messages.next_ms(), watch.commands.next_ms()]
            due += [one[0][0] for one in (self.script, chain.notices) if one]
            now_ms = max(min(at_ms for at_ms in due if at_ms is not None), chain.clock.ms)
            chain.instants += 1
            said, meant_ms, others = self._due(now_ms)
            if said:
                came_ms = await chain.say(now_ms, said)
                if meant_ms is not None and self.told_ms is None:
                    self.stretched_ms = max(self.stretched_ms, came_ms - meant_ms)
            else:
                chain.clock.ms = now_ms
                await chain.turn()
            if "answer" in others:
                await self._answer(lambda name: name in self.day.provable.alarms)
            for waiting in (watch.messages, watch.commands):
                if len(waiting):
                    waiting.changed.set()
            await chain.quiet()
            await self._noticed()

    def _due(self, now_ms):
        said, meant_ms, others = [], None, []
        while self.script and self.script[0][0] <= now_ms:
            at_ms, sort, _, name, value = heapq.heappop(self.script)
            if sort == MARK:
                others.append(name)
            elif sort == BEAT:
                period_ms, parts = value
                said += [(f"{part}.alive", 1.0) for part in parts if self.day.speaks(part, at_ms)]
                self._add(BEAT, [(at_ms + period_ms, name, value)])
            else:
                said.append((name, value))
                if at_ms >= self.day.onset_ms:
                    meant_ms = at_ms if meant_ms is None else meant_ms
        return said, meant_ms, others

    async def _noticed(self):
        chain, day = self.chain, self.day
        while chain.notices and chain.notices[0][0] <= chain.clock.ms:
            _, alarm, person, asked_at_ms, sent_ms = heapq.heappop(chain.notices)
            if alarm in day.provable.alarms and sent_ms >= day.onset_ms and self.told_ms is None:
                self.told_ms = chain.clock.ms
            if alarm in self.lost_names and sent_ms >= min(day.since_ms.values()) and self.blind_ms is None:
                self.blind_ms = chain.clock.ms
            if self.watch.home.alarms[alarm].life.asked_at_ms != asked_at_ms:
                continue  # a letter about what is long over
            await chain.orders.answer(alarm, person, "looking", asked_at_ms)
            if alarm in chain.days.promises.of_part:  # nobody is asked about a flat battery every half hour
                await chain.orders.shelve(alarm, SHELF_MS, person, "a new battery is on its way")
                chain.shelved.add(alarm)
        for alarm in sorted(chain.shelved):
            if not self.watch.home.alarms[alarm].life.condition:  # it speaks again
                chain.shelved.discard(alarm)
                await chain.orders.unshelve(alarm, "somebody")


async def street(promises, text, seeds, days, port, folder, at_once=6):
    """Live through so many days in a home for each seed; yield each day, as it was lived, with its chain."""
    radio, letters, found = Radio(port), Letters(), asyncio.Queue()
    gate = asyncio.Semaphore(at_once)

    async def home(seed, mail_port):
        name = f"h{seed}"
        own = Days(promises, seed, days)
        async with gate:
            plan = wired(promises.plan, name)
            chain = Chain(name, plan, text, own, folder / f"{name}.db", radio, port, letters, mail_port)
            async with chain.running():
                for _ in range(days):
                    await found.put((chain, await chain.live(own.day(chain.clock.ms + 1_000))))

    async with letters.open() as mail_port:
        homes = asyncio.gather(*(home(seed, mail_port) for seed in seeds))
        try:
            for _ in range(len(seeds) * days):
                next_one = asyncio.ensure_future(found.get())
                await asyncio.wait({next_one, homes}, return_when=asyncio.FIRST_COMPLETED)
                if not next_one.done() and homes.done():
                    homes.result()
                yield await next_one
        finally:
            homes.cancel()
            await asyncio.gather(homes, return_exceptions=True)
            radio.close()

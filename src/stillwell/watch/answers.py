"""Answering by link: ``GET`` shows, only ``POST`` answers, so that whatever previews links acknowledges nothing."""

from contextlib import suppress
from typing import Final
from urllib.parse import parse_qs
from zoneinfo import ZoneInfo

from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from stillwell.alarms.life import Life, State
from stillwell.problem import Refusal
from stillwell.store.database import StoreTrouble
from stillwell.store.rows import AnswerRow
from stillwell.watch.answer_page import BUTTONS, HEADERS, Page, html
from stillwell.watch.home import DRILL
from stillwell.watch.links import Allowance, Ask, Links, used_once
from stillwell.watch.loop import AnsweredAlready, Watch
from stillwell.watch.orders import Orders
from stillwell.watch.outbox import asking, kind_of, name_of, told_of
from stillwell.wording.messages import EMERGENCY, since_when, told_sentence, what_it_is

LONGEST_FORM: Final = 1_000
_ASKING: Final = frozenset({State.UNACKNOWLEDGED, State.RETURNED})
_SAID: Final = {
    "looking": "You said at {when} that you are looking after it.",
    "well": "You said at {when} that all is well.",
    "cannot": "You said at {when} that you cannot.",
}

FORGED: Final = Page("This link does not work", lines=["Please open it as it stands in the message, whole."])
EXPIRED: Final = Page(
    "This link is too old", lines=["It has been good for a day. Who is asked again gets a message with a new link."]
)
TOO_OFTEN: Final = Page("Too often", lines=["Please wait a little, then open the link again."])
NO_ANSWER: Final = Page("That was no answer", lines=["Please open the link again and press one of the buttons."])


def routes(watch: Watch, links: Links) -> list[Route]:
    """Return what to serve. A link that is good is never held up by others that are not."""
    answers = Answers(watch, links)
    return [
        Route("/answer/{token}", answers.show, methods=["GET"]),
        Route("/answer/{token}", answers.take, methods=["POST"]),
    ]


class Answers:
    """Shows and takes answers of one watch."""

    def __init__(self, watch: Watch, links: Links) -> None:
        self.watch = watch
        self._links = links
        self._orders = Orders(watch)
        self._of_links = Allowance(at_once=30, every_ms=2_000)
        self._of_strangers = Allowance(at_once=30, every_ms=10_000)

    async def show(self, request: Request) -> Response:
        """Show how the alarm of a link stands."""
        ask = await self._read(request)
        if isinstance(ask, Response):
            return ask
        return _page(await self.page(ask, str(request.path_params["token"])))

    async def take(self, request: Request) -> Response:
        """Take the answer, then lead back to the page: loading it again answers nothing."""
        ask = await self._read(request)
        if isinstance(ask, Response):
            return ask
        token, word = str(request.path_params["token"]), await _word(request)
        if word not in BUTTONS:
            return _page(NO_ANSWER, 400)
        with suppress(AnsweredAlready, Refusal):  # the page says how it stands
            await self._orders.answer(ask.alarm, ask.person, word, ask.asked_at_ms, used_once(token, word))
        # Relative, for there may be a path of somebody else's in front of ours.
        return Response(status_code=303, headers={**HEADERS, "Location": token})

    async def page(self, ask: Ask, token: str) -> Page:
        """Return how an alarm stands, for the person who was asked."""
        watch = self.watch
        now_ms, zone = watch.now(), ZoneInfo(watch.plan.home.timezone)
        alarm, kind = watch.home.alarms.get(ask.alarm), kind_of(watch.home, ask.alarm)
        what, place = what_it_is(ask.alarm.removeprefix(DRILL), kind), watch.plan.home.name
        if alarm is None:
            return Page(what, place, ["This alarm is no longer in the plan of this home."])
        said = await self._said(token)
        life = alarm.life
        open_ = life.state in _ASKING and life.asked_at_ms == ask.asked_at_ms
        drill = ask.alarm.startswith(DRILL)
        lines = [self._standing(ask, life, now_ms, zone)]
        if open_ or life.state is State.ACKNOWLEDGED:
            rows = await asking(watch, ask.alarm, ask.asked_at_ms)
            lines.append(told_sentence(told_of(watch, rows), now_ms, zone))
        yours = life.state is State.ACKNOWLEDGED and life.by == ask.person and life.asked_at_ms == ask.asked_at_ms
        lines += [
            _SAID[row.word].format(when=since_when(row.at_ms, now_ms, zone))
            for row in said
            if not (yours and row.word == "looking")
        ]
        used = {row.word for row in said}
        offered = BUTTONS if open_ else ("well", "cannot") if yours else ()
        return Page(
            what,
            place,
            [line for line in lines if line],
            "If somebody is in danger, the emergency number comes first." if kind in EMERGENCY and not drill else "",
            [word for word in offered if word not in used],
            open=open_ and not drill,
            drill=drill,
        )

    def _standing(self, ask: Ask, life: Life, now_ms: int, zone: ZoneInfo) -> str:
        since = "" if life.raised_at_ms is None else f" since {since_when(life.raised_at_ms, now_ms, zone)}"
        asked_ms = life.asked_at_ms
        if life.state in _ASKING and asked_ms is not None and asked_ms != ask.asked_at_ms:
            when = since_when(asked_ms, now_ms, zone)
            return f"It was asked again at {when}. Please use the link in the newest message."
        match life.state:
            case State.NORMAL:
                return "It is over, and somebody knows. There is nothing more to do."
            case State.ACKNOWLEDGED if life.acknowledged_at_ms is not None:
                who = "you have" if life.by == ask.person else f"{name_of(self.watch, life.by or '')} has"
                looked = since_when(life.acknowledged_at_ms, now_ms, zone)
                return f"It has stood{since}, and {who} been looking after it since {looked}."
            case State.SHELVED | State.OUT_OF_SERVICE:
                return f"{name_of(self.watch, life.by or '')} has set it aside. There is nothing to do."
            case State.RETURNED:
                return f"It stood{since} and is over by itself, but nobody has answered yet."
            case _:
                return f"It has stood{since}, and nobody has answered yet."

    async def _said(self, token: str) -> list[AnswerRow]:
        """Return what was answered by this link, in order."""
        found = []
        for word in BUTTONS:
            key = used_once(token, word)
            rows = self.watch.ledger.kept_answers(key)
            with suppress(StoreTrouble):
                stored = await self.watch.ask(self.watch.store.answer, key)
                rows += [] if stored is None else [stored]
            found += rows[:1]
        return sorted(found, key=lambda row: row.at_ms)

    async def _read(self, request: Request) -> Ask | Response:
        await self.watch.ready.wait()
        token, now_ms = str(request.path_params["token"]), self.watch.now()
        ask = self._links.read(token, now_ms)
        if isinstance(ask, Ask) and ask.person in self.watch.plan.people:
            return ask if self._of_links.take(token, now_ms) else _page(TOO_OFTEN, 429)
        stranger = request.client.host if request.client else ""
        if not self._of_strangers.take(stranger, now_ms):
            return _page(TOO_OFTEN, 429)
        return _page(EXPIRED, 410) if ask == "expired" else _page(FORGED, 404)


async def _word(request: Request) -> str:
    """Return the answer in the form; empty where there is none."""
    body = bytearray()
    try:
        async for chunk in request.stream():
            body += chunk
            if len(body) > LONGEST_FORM:
                return ""
        return parse_qs(body.decode("ascii"), max_num_fields=5).get("answer", [""])[0]
    except (ClientDisconnect, ValueError):
        return ""


def _page(page: Page, status: int = 200) -> Response:
    wait = {"Retry-After": "60"} if status == 429 else {}
    return HTMLResponse(html(page), status, {**HEADERS, **wait})

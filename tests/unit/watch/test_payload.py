"""What a message means, and what it is counted as when it means nothing."""

import json
import random

import pytest
from tests.trial_home import PLAN

from stillwell.plan.read import read_plan
from stillwell.watch.payload import LARGEST, NO, YES, Reader, Report, Unread

MORE = """
[parts.door]
kind = "contact"
reads = [
    { topic = "door", signal = "open", pointer = "/state", values = { OPEN = "yes", SHUT = "no", "?" = "unknown" } },
    { topic = "door/link", signal = "link_lost", values = { gone = "yes", there = "no", "?" = "unknown" } },
    { topic = "door/beat", signal = "alive" },
]

[parts.cellar]
kind = "temperature"
reads = [
    { topic = "cellar", signal = "temperature", pointer = "/f", number = { times = 0.5, plus = -10.0 } },
    { topic = "cellar/plain", signal = "temperature", values = { "-" = "unknown", ok = "nothing" } },
    { topic = "cellar/stamped", signal = "temperature", pointer = "/t", stamped = "/at" },
]

[parts.button]
kind = "push button"
reads = [{ topic = "button", signal = "pressed", values = { single = "yes", release = "no", "" = "nothing" } }]

[signals]
"""
READER = Reader(read_plan(PLAN.replace("[signals]", MORE, 1), "home.toml"))


@pytest.mark.parametrize(
    ("topic", "payload", "signal", "value"),
    [
        ("door", b'{"state": "OPEN"}', "door.open", 1.0),
        ("door", b'{"state": "SHUT"}', "door.open", 0.0),
        ("door", b'{"state": "?"}', "door.open", None),
        ("door/link", b"gone", "door.link_lost", 1.0),
        ("door/link", b"there", "door.link_lost", 0.0),
        ("door/link", b"?", "door.link_lost", 1.0),  # a hub that does not know does not hear it
        ("door/beat", b"whatever", "door.alive", 1.0),
        ("door/beat", b"", "door.alive", 1.0),
        ("cellar", b'{"f": 60}', "cellar.temperature", 20.0),
        ("cellar", b'{"f": "60.5"}', "cellar.temperature", 20.25),
        ("cellar/plain", b" 18.5\n", "cellar.temperature", 18.5),
        ("cellar/plain", b"-1e1", "cellar.temperature", -10.0),
        ("cellar/plain", b"-", "cellar.temperature", None),
        ("cellar/plain", b"ok", "cellar.alive", 1.0),
        ("button", b"single", "button.pressed", 1.0),
        ("button", b"release", "button.alive", 1.0),
        ("button", b"", "button.alive", 1.0),
        ("stillwell/report/tap/wet", b"1", "tap.wet", 1.0),
        ("stillwell/report/tap/wet", b"OFF", "tap.wet", 0.0),
        ("stillwell/report/hall_pir/movement", b"false", "hall_pir.alive", 1.0),
        ("stillwell/report/tap/battery", b"81", "tap.battery", 81.0),
        ("stillwell/report/tap/link_lost", b"true", "tap.link_lost", 1.0),
    ],
)
def test_what_a_message_says(topic, payload, signal, value):
    assert READER.read(topic, payload) == [Report(signal, value)]


@pytest.mark.parametrize(
    ("topic", "payload", "reason"),
    [
        ("elsewhere", b"1", "a part that the plan does not know"),
        ("stillwell/report/cellar2/wet", b"1", "a part that the plan does not know"),
        ("stillwell/report/tap/movement", b"1", "a signal that the part does not have"),
        ("stillwell/report/tap", b"1", "a signal that the part does not have"),
        ("stillwell/report/door/opened", b"1", "a signal that the part does not have"),  # it follows from open
        ("door", b"OPEN", "not readable as JSON"),
        ("door", b'{"state": "OPEN"', "not readable as JSON"),
        ("door", b"[" * 50_000, "not readable as JSON"),
        ("door", b'{"state": ' + b"9" * 5000 + b"}", "not readable as JSON"),
        ("door", b"{}", "the value is not where the plan says"),
        ("door", b"7", "the value is not where the plan says"),
        ("door", b'{"state": "open"}', "a value that means nothing known"),
        ("door", b'{"state": true}', "a value that means nothing known"),
        ("door", b'{"state": ["OPEN"]}', "a value that means nothing known"),
        ("cellar", b'{"f": true}', "a value that means nothing known"),
        ("cellar", b'{"f": null}', "a value that means nothing known"),
        ("cellar", b'{"f": NaN}', "a value that means nothing known"),
        ("cellar", b'{"f": 1e999}', "a value that means nothing known"),
        ("cellar", b'{"f": "1_0"}', "a value that means nothing known"),
        ("cellar/plain", b"warm", "a value that means nothing known"),
        ("cellar/plain", b"inf", "a value that means nothing known"),
        ("cellar/plain", b"\xff", "not readable as text"),
        ("cellar/plain", b"1" * (LARGEST + 1), "too long"),
        ("door", b'"' + b"1" * LARGEST + b'"', "too long"),
        ("stillwell/report/tap/wet", b"2", "a value that means nothing known"),
        ("cellar/stamped", b'{"t": 20, "at": "yesterday"}', "stamped with an impossible time"),
        ("cellar/stamped", b'{"t": 20, "at": "2026-01-01T00:00:00"}', "stamped with an impossible time"),
        ("cellar/stamped", b'{"t": 20, "at": -5}', "stamped with an impossible time"),
        ("cellar/stamped", b'{"t": 20, "at": 1e300}', "stamped with an impossible time"),
        ("cellar/stamped", b'{"t": 20, "at": "0001-01-01T00:00:00+23:59"}', "stamped with an impossible time"),
        ("radio/hall", b'{"seen": true, "battery": 3, "n": -1}', "the value is not where the plan says"),
        ("radio/hall", b'{"seen": true, "battery": 3, "n": 1.5}', "the value is not where the plan says"),
        ("radio/hall", b'{"seen": true, "battery": 3, "n": true}', "the value is not where the plan says"),
        (
            "radio/hall",
            b'{"seen": true, "battery": 3, "n": 9223372036854775808}',
            "the value is not where the plan says",
        ),
    ],
)
def test_what_means_nothing_is_counted(topic, payload, reason):
    outcomes = READER.read(topic, payload)
    assert {type(one) for one in outcomes} == {Unread}
    assert {one.reason for one in outcomes} == {reason}


def test_one_message_may_hold_several_signals():
    outcomes = READER.read("radio/hall", b'{"seen": true, "battery": 3, "n": 12}')
    source = "hall_pir radio/hall"
    assert outcomes == [Report("hall_pir.movement", 1.0, source, 12), Report("hall_pir.battery", 3.0, source, 12)]


def test_what_is_wrong_with_one_signal_does_not_harm_the_other():
    outcomes = READER.read("radio/hall", b'{"seen": true, "battery": "full", "n": 12}')
    assert [type(one) for one in outcomes] == [Report, Unread]


@pytest.mark.parametrize(
    ("said", "ms"),
    [
        ("1767225600", 1_767_225_600_000),
        ("1767225600.5", 1_767_225_600_500),
        ("1767225600000", 1_767_225_600_000),
        ('"2026-01-01T00:00:00Z"', 1_767_225_600_000),
        ('"2026-01-01T02:30:00+02:30"', 1_767_225_600_000),
        ('"1767225600"', 1_767_225_600_000),
    ],
)
def test_stamps(said, ms):
    """1767225600 is 2026-01-01T00:00:00Z (date -u -d @1767225600)."""
    (report,) = READER.read("cellar/stamped", f'{{"t": 20, "at": {said}}}'.encode())
    assert report.stamped_ms == ms


def test_a_table_for_one_part():
    body = {"movement": True, "battery": 81.5, "wet": True, "sequence": 4, "stamped": 1767225600}
    *reports, unread = READER.read_for("hall_pir", json.dumps(body).encode())
    assert reports == [
        Report("hall_pir.movement", 1.0, "hall_pir -", 4, 1_767_225_600_000),
        Report("hall_pir.battery", 81.5, "hall_pir -", 4, 1_767_225_600_000),
    ]
    assert unread == Unread("a signal that the part does not have", "hall_pir")


@pytest.mark.parametrize(
    "body", [b"", b"[]", b"7", b"null", b"{", b"\xff", json.dumps(dict.fromkeys(map(str, range(101)))).encode()]
)
def test_a_body_that_is_no_table(body):
    assert {type(one) for one in READER.read_for("tap", body)} == {Unread}


def test_topics_to_subscribe_to():
    topics = READER.topics
    assert "stillwell/report/#" in topics
    assert {"door", "door/link", "cellar", "button", "radio/hall"} < set(topics)
    assert len(topics) == len(set(topics))
    assert not [topic for topic in topics if topic.startswith("stillwell/report/") and topic != "stillwell/report/#"]


def test_a_hundred_thousand_odd_payloads_are_reports_only_where_they_say_so():
    """Cut, doubled, spliced and flipped from good ones. Judged by reading each a second, plainer way."""
    draw = random.Random(6)
    good = {
        "stillwell/report/tap/wet": [b"1", b"true", b"on", b"0"],
        "door": [b'{"state": "OPEN"}', b'{"state": "SHUT"}'],
        "cellar": [b'{"f": 60}', b'{"f": "1e1"}'],
        "radio/hall": [b'{"seen": true, "battery": 80, "n": 7}'],
        "button": [b"single", b"release"],
        "cellar/stamped": [b'{"t": 20}', b'{"t": 20, "at": 5e11}'],
        "x": [b"1", b"{}"],
    }
    reports = 0
    for _ in range(100_000):
        topic, other = draw.choices(list(good), k=2)
        payload = bytearray(draw.choice(good[topic if draw.random() < 0.8 else other]) * draw.choice([1, 1, 1, 2]))
        for _ in range(draw.randrange(4)):
            if payload:
                payload[draw.randrange(len(payload))] = draw.randrange(256)
        cut = draw.randrange(len(payload) + 1) if draw.random() < 0.5 else len(payload)
        payload = bytes(payload[:cut]) + draw.choice([b"", b"\n", b"\0", payload[:3]])
        for outcome in READER.read(topic, payload):
            if isinstance(outcome, Report):
                reports += 1
                assert says_so(topic, payload, outcome)
    assert reports > 4_000


def says_so(topic, payload, report):
    text = payload.decode()
    match topic:
        case "stillwell/report/tap/wet":
            return text.strip().lower() in (YES if report.value else NO)
        case "door":
            return {"OPEN": 1.0, "SHUT": 0.0, "?": None}[json.loads(text)["state"]] == report.value
        case "cellar":
            return float(json.loads(text)["f"]) * 0.5 - 10 == report.value
        case "radio/hall":
            return isinstance(json.loads(text)["n"], int)
        case "button":
            return text.strip() in {"single", "release", ""} and report.signal in {"button.pressed", "button.alive"}
        case "cellar/stamped":
            said = json.loads(text)
            return said["t"] == report.value and said["at"] * 1000 in {report.stamped_ms, report.stamped_ms * 1000}
        case _:
            return False

"""Odd payloads and requests, drawn from a seed: wrong types, huge, binary, doubled, out of order, from the future.

Whether a payload truly says that there is water, smoke or cold is judged here a second, plainer way; such are left
out, so that whatever alarm still comes is a false one.
"""

import json

TAP, SMOKE, CELLAR, HALL, BUTTON = "stillwell/report/tap/wet", "smoke", "cellar", "radio/hall", "button"
START_S = 1_780_000_000

PLAIN = [b"0", b"false", b"off", b" 0 ", b"No"]
SMOKES = ["CLEAR", "?"]
NEVER_JSON = [b"NaN", b"Infinity", b"-Infinity", b"1e400", b"-1e400", b"1" * 5_000, b"0x1", b"\xef\xbb\xbf0"]
BINARY = [b"\0", b"\xff\xfe", b"\xc0\x80", b"\xed\xa0\x80", b"\x80" * 50, b"\x1b[2J", b"\r\n\r\n", b""]
DEEP = [b"[" * 50_000, b'{"a":' * 20_000, b'{"seen":' * 300 + b"1" + b"}" * 300]
SURROGATE = [b'{"seen": "\\ud800"}', b'{"\\udfff": true}', b'"\\ud83d"']
TYPES = [None, True, False, 0, -0.0, 1, 0.1, 2**63, 2**64, -(2**70), 1e308, "", "x", [], [1], {}, {"seen": {}}, "\0"]
NUMBERS = [12, "12", 12.5, "1_0", "1e400", "nan", "inf", " 12 ", "٣", 1e308, -1e308, 2**60, True, None, [12], "1,5"]
WHEN = [0, -1, 1, START_S, START_S * 1000, START_S + 10**9, 1e300, "2099-01-01T00:00:00Z", "1969-12-31T00:00:00Z",
        "2026-13-45", "2026-05-28T22:00:00", "9999-12-31T23:59:59.999999+14:00", "", {}, True, 2**53, "٣٣"]  # fmt: skip


def payload(draw, topic):
    """Return what might come by a topic, of any kind."""
    kind = draw.randrange(10)
    if kind == 0:
        return draw.choice(BINARY + SURROGATE)
    if kind == 1:
        return draw.choice(NEVER_JSON)
    if kind == 2:
        return json.dumps(draw.choice(TYPES)).encode()
    if kind == 3 and draw.random() < 0.1:
        return draw.choice([*DEEP, b"0" * 70_000, draw.randbytes(100_000)])
    sensible = _sensible(draw, topic)
    return sensible if kind < 7 else _damaged(draw, sensible)


def _sensible(draw, topic):
    if topic == SMOKE:
        return json.dumps({"s": draw.choice([*SMOKES, *TYPES]), "at": draw.choice(WHEN)}).encode()
    if topic == CELLAR:
        return json.dumps({"t": draw.choice(NUMBERS), "at": draw.choice(WHEN), "n": draw.randrange(10**6)}).encode()
    if topic == HALL:
        table = {"seen": draw.choice([False, None, "x", 0, [], True]), "battery": draw.choice(NUMBERS)}
        return json.dumps({**table, "n": draw.choice([7, draw.randrange(50), draw.randrange(10**9), *TYPES])}).encode()
    if topic == BUTTON:
        return draw.choice([b"release", b"single ", b"singl", b"double", b"SINGLE\0", b""])
    return draw.choice(PLAIN)


def _damaged(draw, good):
    bad = bytearray(good * draw.choice([1, 1, 1, 2]))
    for _ in range(draw.randrange(1, 5)):
        if bad:
            bad[draw.randrange(len(bad))] = draw.randrange(256)
    return bytes(bad[: draw.randrange(len(bad) + 1)]) if draw.random() < 0.4 else bytes(bad)


def topic(draw):
    """Return a topic: mostly one that the plan knows."""
    if draw.random() < 0.85:
        return draw.choice([TAP, SMOKE, CELLAR, HALL, BUTTON])
    part = draw.choice(["tap", "lamp", "nobody", "TAP", "tap ", "тап", "x" * 200, "a/b/c/d", "{}", "%2f", "'; --"])
    return draw.choice([f"stillwell/report/{part}/wet", f"stillwell/report/{part}", f"stillwell/{part}", "smoke/x"])


def is_true(topic_, payload_):
    """Tell whether this is a true report of water, smoke or cold."""
    try:
        text = payload_.decode("utf-8")
    except UnicodeDecodeError:
        return False
    try:
        if topic_ == TAP:
            return text.strip().lower() in {"1", "true", "on", "yes"}
        said = json.loads(text)
        if topic_ == SMOKE:
            return said["s"] == "SMOKE"
        return topic_ == CELLAR and not isinstance(said["t"], bool) and float(said["t"]) < 5
    except (ValueError, TypeError, KeyError, OverflowError, RecursionError):
        return False


def table(draw):
    """Return a body that a part might post."""
    if draw.random() < 0.3:
        return payload(draw, draw.choice([TAP, HALL, CELLAR]))
    names = ["wet", "battery", "alive", "sequence", "stamped", "link_lost", "", "a" * 3000, "wet ", "__class__"]
    value = {"sequence": TYPES, "stamped": WHEN, "battery": NUMBERS}
    said = {name: draw.choice(value.get(name, TYPES)) for name in draw.sample(names, draw.randrange(5))}
    return json.dumps(said).encode()


def table_is_true(body):
    """Tell whether a posted body is a true report of water."""
    try:
        said = json.loads(body)
        return isinstance(said, dict) and _yes(said.get("wet"))
    except (ValueError, RecursionError):
        return False


def _yes(said):
    if isinstance(said, str):
        return said.lower() in {"1", "true", "on", "yes"}
    return said is True or (isinstance(said, int | float) and said == 1)


def request(draw, token):
    """Return a request as bytes that is hardly one."""
    good = (
        f"POST /report/tap HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {token}\r\nContent-Length: 14\r\n"
        'Connection: close\r\n\r\n{"wet": false}'
    ).encode()
    pieces = [b"\0", b"\r\n", b"\n\n", b" HTTP/9.9", b"Content-Length: -1\r\n", b"Transfer-Encoding: chunked\r\n",
              b"Transfer-Encoding: x\r\n", b"Expect: 100-continue\r\n", b"Upgrade: websocket\r\n", b"\xff" * 30,
              b"X" * 20_000, b"Content-Length: 99\r\n", b"/../../etc/passwd", b"%00%ff%zz"]  # fmt: skip
    bad = good
    for _ in range(draw.randrange(1, 4)):
        place = draw.randrange(len(bad) + 1)
        bad = bad[:place] + draw.choice(pieces) + bad[place:]
    return bad if draw.random() < 0.7 else draw.randbytes(draw.randrange(1, 500))

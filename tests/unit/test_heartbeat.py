"""The signature is judged by the definition of HMAC in RFC 2104, section 2, written out over a plain hash, and by
openssl where it is installed; the form by texts written by hand."""

import hashlib
import json
import shutil
import subprocess
from dataclasses import replace

import pytest

from stillwell import heartbeat
from stillwell.heartbeat import Answer, Beat, Reason

pytestmark = pytest.mark.base

KEY = b"0123456789abcdef0123456789abcdef"
BEAT = Beat("mill_lane", 7, 12, 1_767_225_600_000, 1_767_225_540_000, "ab12", ("Cold", "Küche"), ("no broker",))
SIGNED = (
    '{"alarms":["Cold","K\\u00fcche"],"at_ms":1767225600000,"boot":7,"home":"mill_lane",'
    '"keeper_ms":1767225540000,"plan":"ab12","remarks":["no broker"],"seq":12,"what":"beat 1"}'
)


def by_definition(key, data):
    """RFC 2104: H(K xor opad, H(K xor ipad, text)), blocks of 64 bytes for SHA-256."""
    padded = key.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(byte ^ 0x36 for byte in padded) + data).digest()
    return hashlib.sha256(bytes(byte ^ 0x5C for byte in padded) + inner).hexdigest()


def signed_by_hand(body):
    """Bytes with a right signature over whatever the body is."""
    plain = json.dumps(body, sort_keys=True, separators=(",", ":")).encode()
    return json.dumps({**body, "hmac": by_definition(KEY, plain)}, sort_keys=True, separators=(",", ":")).encode()


def body(**changes):
    return {**json.loads(SIGNED), **changes}


def test_the_bytes_are_those_written_by_hand():
    data = heartbeat.sign(BEAT, KEY)
    mac = by_definition(KEY, SIGNED.encode())
    assert data.decode() == SIGNED.replace('"home"', f'"hmac":"{mac}","home"')
    assert heartbeat.read(data, KEY) == BEAT


def test_openssl_signs_the_same():
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("openssl is not installed")
    command = [openssl, "dgst", "-sha256", "-mac", "HMAC", "-macopt", f"hexkey:{KEY.hex()}"]
    said = subprocess.run(command, input=SIGNED.encode(), capture_output=True, check=True).stdout.decode()
    assert json.loads(heartbeat.sign(BEAT, KEY))["hmac"] == said.split()[-1]


def test_no_byte_can_be_changed():
    data = heartbeat.sign(BEAT, KEY)
    for place in range(len(data)):
        for other in (data[place] ^ 1, data[place] ^ 0x20):
            assert isinstance(heartbeat.read(data[:place] + bytes([other]) + data[place + 1 :], KEY), Reason)


def test_another_key_is_a_forgery():
    assert heartbeat.read(heartbeat.sign(BEAT, b"another key of 32 bytes or more.."), KEY) is Reason.FORGED


def test_an_answer_is_no_beat_and_a_beat_no_answer():
    answer = Answer("mill_lane", 7, 12, 1_767_225_600_500, alive=True)
    assert heartbeat.read_answer(heartbeat.sign_answer(answer, KEY), KEY) == answer
    assert heartbeat.read(heartbeat.sign_answer(answer, KEY), KEY) is Reason.MALFORMED
    assert heartbeat.read_answer(heartbeat.sign(BEAT, KEY), KEY) is Reason.MALFORMED
    assert heartbeat.read_answer(heartbeat.sign_answer(answer, KEY[::-1]), KEY) is Reason.FORGED


@pytest.mark.parametrize(
    "changes",
    [
        {"seq": 0}, {"seq": True}, {"seq": 1.0}, {"seq": "1"}, {"seq": 2**53}, {"boot": -1}, {"at_ms": None},
        {"home": ""}, {"home": "x" * 121}, {"home": "two\nlines"}, {"home": 5}, {"plan": ""}, {"alarms": "Cold"},
        {"alarms": ["x"] * 21}, {"remarks": [""]}, {"remarks": [["x"]]}, {"more": 1},
    ],
)  # fmt: skip
def test_a_right_signature_does_not_excuse_a_wrong_field(changes):
    assert heartbeat.read(signed_by_hand(body(**changes)), KEY) is Reason.MALFORMED


def test_by_hand_it_can_be_signed_rightly():
    assert heartbeat.read(signed_by_hand(body()), KEY) == BEAT


def test_what_it_says_it_is_counts():
    assert heartbeat.read(signed_by_hand(body(what="answer 1")), KEY) is Reason.MALFORMED
    assert heartbeat.read(signed_by_hand(body(what="beat 2")), KEY) is Reason.MALFORMED


def test_a_missing_field_is_malformed():
    for name in body():
        short = {key: value for key, value in body().items() if key != name}
        assert heartbeat.read(signed_by_hand(short), KEY) is Reason.MALFORMED


@pytest.mark.parametrize(
    "data",
    [
        b"", b"{", b"[]", b"null", b"5", b"\xff\xfe", b"{}", b'{"hmac":5}', b"NaN", b"[" * 60_000,
        b'{"seq":' + b"9" * 6000 + b"}", '{"home":"ü"}'.encode(),
    ],
)  # fmt: skip
def test_bytes_that_are_no_heartbeat(data):
    assert heartbeat.read(data, KEY) is Reason.MALFORMED
    assert heartbeat.read_answer(data, KEY) is Reason.MALFORMED


def test_half_a_character_for_a_signature_is_a_forgery():
    assert heartbeat.read(b'{"hmac":"\\ud800"}', KEY) is Reason.FORGED


def test_no_depth_is_too_deep():
    for depth in range(100, 3000, 100):
        data = b'{"a":' * depth + b'{"hmac":""}' + b"}" * depth
        assert heartbeat.read(data, KEY) is Reason.MALFORMED


def test_it_can_be_written_in_one_way_only():
    data = heartbeat.sign(BEAT, KEY)
    twice = data.replace(b'"boot":7,', b'"boot":7,"boot":7,')
    for same in (data + b"\n", b" " + data, data.replace(b":7,", b": 7,"), twice, data.replace(b"\\u00fc", b"\\u00FC")):
        assert json.loads(same) == json.loads(data)
        assert heartbeat.read(same, KEY) is Reason.MALFORMED


def test_too_large_is_not_even_looked_at():
    data = b"[" * (heartbeat.LARGEST_BYTES + 1)
    assert heartbeat.read(data, KEY) is Reason.TOO_LARGE
    assert heartbeat.named(data) is None


def test_the_largest_there_can_be_fits():
    texts = ("\N{SLEEPING FACE}" * heartbeat.LONGEST_TEXT,) * heartbeat.MOST_TEXTS
    large = replace(BEAT, home=texts[0], plan=texts[0], alarms=texts, remarks=texts)
    assert heartbeat.read(heartbeat.sign(large, KEY), KEY) == large


def test_who_it_says_it_is_from():
    assert heartbeat.named(heartbeat.sign(BEAT, KEY)) == "mill_lane"
    assert [heartbeat.named(data) for data in (b"", b"[1]", b'{"home":3}', b"[" * 60_000)] == [None] * 4


def test_what_nobody_would_take_is_not_signed():
    with pytest.raises(ValueError, match="too short"):
        heartbeat.sign(BEAT, b"15 bytes only..")
    with pytest.raises(ValueError, match="whole number"):
        heartbeat.sign(replace(BEAT, seq=0), KEY)


@pytest.mark.parametrize(
    ("text", "fitted"), [("Cold", "Cold"), ("a\nb\0", "a b"), ("", "?"), (" \t", "?"), ("x" * 130, "x" * 117 + "...")]
)
def test_any_text_is_made_to_fit(text, fitted):
    assert heartbeat.fit(text) == fitted

"""Request and answer as bytes: HTTP/1.0 as RFC 1945 has it, refusals carried over whole, nonsense never believed."""

import json
from email.parser import BytesParser
from urllib.parse import parse_qs, urlsplit

import pytest

from stillwell.control import asks
from stillwell.control.place import Address
from stillwell.control.shapes import done_of
from stillwell.control.wire import NoWatch, Request, no_watch, problems_in, read, told, where, written
from stillwell.problem import Place, Problem, Refusal

pytestmark = pytest.mark.base

THERE = Address("http://127.0.0.1:4711", "the key of this start")


def test_a_request_is_one_that_any_server_understands():
    """RFC 1945 section 5: request line, header lines, an empty line, and the body of the length announced."""
    data = written(Request("alarm", table={"name": "Café", "by": "ruth"}), THERE)
    head, _, body = data.partition(b"\r\n\r\n")
    line, _, rest = head.partition(b"\r\n")
    headers = BytesParser().parsebytes(rest + b"\r\n\r\n")
    assert line == b"POST /control/alarm HTTP/1.0"
    assert headers["Host"] == "127.0.0.1:4711"
    assert headers["Authorization"] == "Bearer the key of this start"  # RFC 6750 section 2.1
    assert int(headers["Content-Length"]) == len(body)
    assert json.loads(body) == {"name": "Café", "by": "ruth"}


def test_a_question_is_a_query():
    line = written(asks.status(17, 25).request, THERE).split(b"\r\n")[0].decode()
    method, target, version = line.split(" ")
    assert (method, version) == ("GET", "HTTP/1.0")
    assert parse_qs(urlsplit(target).query) == {"after": ["17"], "wait": ["25"]}
    assert written(asks.status().request, THERE).startswith(b"GET /control/status HTTP/1.0\r\n")


def test_where_it_is():
    assert where(THERE) == ("127.0.0.1", 4711)
    assert where(Address("http://[::1]:80", "k")) == ("::1", 80)
    for wrong in ("", "http://127.0.0.1", "http://127.0.0.1:x", "http://127.0.0.1:99999"):
        with pytest.raises(ValueError, match=r".*"):
            where(Address(wrong, "k"))


def test_a_good_answer_is_its_body():
    body = read(b'HTTP/1.1 200 OK\r\ncontent-length: 9\r\n\r\n{"a": 1}\n')
    assert json.loads(body) == {"a": 1}


def test_a_refusal_arrives_as_it_was_raised():
    raised = Refusal(
        [Problem("this is wrong", Place("home.toml", 3, 7, "alarm"), "Do that.", "a line\n  ^", "kind"), Problem("x")]
    )
    body = json.dumps(told(raised)).encode()
    assert problems_in(json.loads(body)) == list(raised.problems)
    with pytest.raises(Refusal) as caught:
        read(b"HTTP/1.1 422 Unprocessable Content\r\n\r\n" + body)
    assert caught.value.problems == raised.problems
    assert not isinstance(caught.value, NoWatch)


@pytest.mark.parametrize(
    "answer",
    [b"", b"\r\n\r\n", b"HTTP/1.1", b"SSH-2.0-x\r\n\r\n", b"HTTP/1.1 abc\r\n\r\n", b"HTTP/1.1 401 No\r\n\r\n{}"],
)
def test_what_is_no_watch_is_called_so(answer):
    with pytest.raises(NoWatch):
        read(answer)


@pytest.mark.parametrize("body", [b"", b"not json", b"[]", b'{"problems": 3}', b'{"problems": [{}]}', b"\xff"])
def test_a_refusal_that_cannot_be_read_is_still_one(body):
    with pytest.raises(Refusal, match="HTTP 500"):
        read(b"HTTP/1.1 500 Oh\r\n\r\n" + body)


def test_no_watch_is_a_refusal_that_says_what_to_do():
    assert "stillwell watch" in str(no_watch("why"))
    assert isinstance(no_watch("why"), Refusal)


@pytest.mark.parametrize("data", [b"", b"{}", b'{"sentence": 3}', b"null"])
def test_an_answer_of_another_version_is_no_answer(data):
    with pytest.raises(ValueError, match=r".*"):
        done_of(data)

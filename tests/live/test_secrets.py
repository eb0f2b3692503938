"""Every secret of a watch and of a keeper is known here; after a busy life none of them is anywhere it does not belong.

Real processes, real broker, real files: logs, what was shown, stores, answers to right and wrong requests.
"""

import json
import re
import signal
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from tests.live.at_work import AtWork, Letters
from tests.live.broker import Mosquitto, until
from tests.live.test_keeper import KEY, Home, Keeper

from stillwell.control.place import announced
from stillwell.store.store import look_into
from stillwell.watch.links import Ask, Links

SECRETS = {
    "password of the broker": "broker-9f3a77c1",
    "password of the mail server": "mail-5d20be44",
    "key of the links": "links-7c1e90aa51d2f3b4",
    "key of the control way": "control-b1946ac92492d234",
    "token of a part": "token-e2fc714c4727ee93",
    "key of the keeper": "keeper-0cc175b9c0f1b6a8",
    "address with a token in it": "gateway-92eb5ffee6ae2fec",
}
SETTINGS = """
[people.eve]
mail = "eve@example.org"
text = "json://127.0.0.1:9/{address with a token in it}?key={address with a token in it}"
[keeper]
url = "http://127.0.0.1:9"
home = "mill"
key = "{key of the keeper}"
[tokens]
tap = "{token of a part}"
"""


def asked(url, data=None, **headers):
    """Return code, headers and body of an answer, right or wrong."""
    try:
        with urlopen(Request(url, data, headers), timeout=20) as answer:
            return answer.status, f"{answer.headers}{answer.read().decode()}"
    except HTTPError as refused:
        with refused:
            return refused.code, f"{refused.headers}{refused.read().decode()}"


def places(folder, *left_out):
    """Return what every file there holds, but those that are there to hold a secret."""
    return {
        str(file.relative_to(folder)): file.read_bytes()
        for file in folder.rglob("*")
        if file.is_file() and file.name not in left_out
    }


def found(held, secrets):
    """Return what is where it does not belong."""
    return [
        (what, place) for what, secret in secrets.items() for place, data in held.items() if secret.encode() in data
    ]


@pytest.fixture
def broker(tmp_path):
    """A broker, whose files lie apart: they are not ours."""
    (tmp_path / "broker").mkdir()
    broker = Mosquitto(tmp_path / "broker")
    yield broker
    broker.stop()


def test_of_the_watch(tmp_path, broker):
    folder = tmp_path / "watch"
    folder.mkdir()
    letters = Letters()
    home = AtWork(folder, broker.port, letters)
    settings = home.settings_file.read_text("utf-8")
    settings = settings.replace("[broker]", '[broker]\nuser = "watch"\npassword = "{password of the broker}"')
    settings = settings.replace("[mail]", '[mail]\nuser = "watch"\npassword = "{password of the mail server}"')
    settings = settings.partition("[people.eve]")[0] + SETTINGS
    settings = 'link_key = "{key of the links}"\ncontrol_key = "{key of the control way}"\n' + settings
    for what, secret in SECRETS.items():
        settings = settings.replace("{" + what + "}", secret)
    home.settings_file.write_text(settings, "utf-8")
    home.start()
    try:
        held = _busy_life(home)
        assert home.end(signal.SIGTERM) == 0
    finally:
        home.process.kill()
        home.process.wait()
        letters.stop()
    held |= places(folder, "settings.toml")
    assert any("raised" in text for text in home.log().splitlines())
    assert found(held, SECRETS) == []
    tokens = {f"link {number}": link for number, link in enumerate(held["links"].decode().split())}
    del held["links"]
    assert found(held, tokens) == []


def _busy_life(home):
    """Ring, answer, fail, refuse; return what was answered."""
    http = re.search(r'"http": "([^"]+)"', home.log())[1]
    control, token = announced(home.store), SECRETS["token of a part"]
    assert control.key == SECRETS["key of the control way"]
    held = {}

    def ask(name, url, data=None, **headers):
        code, text = asked(url, data, **headers)
        held[f"answer: {name}"] = text.encode()
        return code

    bearer = {"Authorization": f"Bearer {token}"}
    assert ask("report", f"{http}/report/tap", b'{"wet": true}', **bearer) == 202
    assert ask("nonsense", f"{http}/report/tap", b"{", **bearer) == 422
    assert ask("of another", f"{http}/report/lamp", b'{"on": true}', **bearer) == 401
    assert ask("nowhere", f"{http}/nowhere", b"{}", **bearer) == 404
    assert ask("forged link", f"{http}/answer/guessed") == 404
    key = {"Authorization": f"Bearer {control.key}"}
    assert ask("status", f"{control.url}/control/status", **key) == 200
    assert ask("metrics", f"{control.url}/metrics", **key) == 200
    assert ask("no alarm", f"{control.url}/control/drill", json.dumps({"alarm": "x", "by": "y"}).encode(), **key) == 422
    assert ask("no key", f"{control.url}/control/status", Authorization="Bearer guessed") == 401
    # The mail server knows no users, so the mail fails; the gateway of Eve is not there.
    until(lambda: home.alarm("Water") is not None, "it rings")
    until(lambda: "could not tell" in home.log(), "somebody cannot be told", 60)
    home.publish("stillwell/report/tap/wet", token)  # a part that sends its token as a value
    until(lambda: "means nothing known" in json.dumps([one.reason for one in home.status().unread]), "it is counted")
    held["links"] = " ".join(_links(home, http)).encode()
    for link in held["links"].decode().split():
        assert ask(f"link {link[-5:]}", f"{http}/answer/{link}") == 200
        assert ask(f"answer {link[-5:]}", f"{http}/answer/{link}", b"answer=cannot") == 200
    return held


def _links(home, http):
    """Return the tokens of the links that were sent, or would have been: they are made from what the store holds."""
    store = look_into(home.store)
    rows = store.messages_between(0, 2**53)
    store.close()
    links = Links(SECRETS["key of the links"], "Trial home", http)
    return [links.token(Ask(row.alarm, row.person, row.asked_at_ms, row.at_ms)) for row in rows if row.alarm == "Water"]


def test_of_the_keeper(tmp_path):
    keeper = Keeper(tmp_path)
    keeper.start()
    try:
        home = Home(keeper)
        home.beat(2)
        until(keeper.letters, "a letter")
        link = keeper.letters()[0][1]
        shown = [
            keeper.ask(link.removeprefix("http://127.0.0.1"))[1],
            keeper.ask("/answer/guessed")[1],
            keeper.ask("/status")[1],
            keeper.status().encode(),
            keeper.ask("/beat", b"{}")[1],
        ]
        assert keeper.end(signal.SIGTERM) == 0
    finally:
        keeper.process.kill()
        keeper.process.wait()
    secrets = {"key": KEY.decode(), "password": "all my homes", "link": link.rpartition("/")[2]}
    held = places(tmp_path, "keeper.toml", "mill.key", "letters.txt", "letter.py")
    assert found(held | {f"answer {number}": text for number, text in enumerate(shown)}, secrets) == []

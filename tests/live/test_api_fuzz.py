"""A foreign fuzzer, schemathesis, at every way in by HTTP, over real sockets into real processes: it finds no 5xx.

Nor a status that is not written down, nor a right answer to somebody without the key.
"""

import signal
from collections import Counter
from contextlib import suppress
from functools import partial

import pytest
import requests
import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis.errors import Unsatisfiable
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import status_code_conformance
from tests.live.at_work import AtWork, Letters
from tests.live.described import CONTROL, KEEPER, WATCH
from tests.live.test_keeper import Home, Keeper

from stillwell.control.place import announced

TOKEN = "tap-token-0123456789abcdef"
EXAMPLES = 8


def fuzzed(description, base, headers=None, examples=EXAMPLES):
    """Fuzz every operation, with what it describes and with what it does not; return how often what was answered."""
    answers = Counter()
    with requests.Session() as session:
        call = partial(_called, session, base, headers, answers)
        for result in schemathesis.openapi.from_dict(description).get_all_operations():
            for mode in (GenerationMode.POSITIVE, GenerationMode.NEGATIVE):
                cases = given(result.ok().as_strategy(mode))
                with suppress(Unsatisfiable):  # where nothing can be wrong, nothing wrong is drawn
                    settings(
                        max_examples=examples,
                        database=None,
                        deadline=None,
                        phases=[Phase.generate],
                        suppress_health_check=list(HealthCheck),
                    )(cases(lambda case: call(case)))()  # noqa: PLW0108 - the library asks for a function
    return answers


def _called(session, base, headers, answers, case):
    try:
        response = case.call(base_url=base, session=session, headers=headers, allow_redirects=False, timeout=120)
    except (ValueError, requests.exceptions.InvalidHeader):
        return  # the client itself does not send that
    answers[case.operation.label, response.status_code] += 1
    case.validate_response(response, checks=[not_a_server_error, status_code_conformance])


@pytest.fixture
def watch(tmp_path, mosquitto):
    letters = Letters()
    at_work = AtWork(
        tmp_path,
        mosquitto.port,
        letters,
        settings=f'control_key = "0123456789abcdef0123456789"\n[tokens]\ntap = "{TOKEN}"',
    )
    at_work.start()
    yield at_work
    letters.stop()
    if at_work.process.poll() is None:
        at_work.process.kill()
        at_work.process.wait()


def ends_well(process):
    process.send_signal(signal.SIGTERM)
    assert process.wait(30) == 0


def test_the_watch(watch):
    http = watch.log().partition('"http": "')[2].partition('"')[0]
    answers = fuzzed(WATCH, http, {"Authorization": f"Bearer {TOKEN}"})
    assert answers["POST /report/{part}", 202] >= 1
    control = announced(watch.store)
    answers = fuzzed(CONTROL, control.url, {"Authorization": f"Bearer {control.key}"})
    assert answers["POST /control/alarm", 422] >= 1
    assert answers["GET /control/status", 200] >= 1
    strangers = fuzzed(CONTROL, control.url, {"Authorization": "Bearer guessed"}, examples=5)
    assert {status for _, status in strangers} == {401}
    assert "Traceback" not in watch.log()
    watch.status()
    ends_well(watch.process)


def test_the_keeper(tmp_path):
    keeper = Keeper(tmp_path)
    keeper.start()
    try:
        Home(keeper).beat(2)
        answers = fuzzed(KEEPER, f"http://127.0.0.1:{keeper.port}")
        assert {status for (label, status) in answers if label == "POST /beat"} <= {400, 403, 409, 413}
        assert keeper.ask("/alive")[0] == 200
        assert "Traceback" not in keeper.log()
        ends_well(keeper.process)
    finally:
        keeper.process.kill()
        keeper.process.wait()

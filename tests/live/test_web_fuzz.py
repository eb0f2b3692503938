"""Whatever is sent to whichever route, by whomever: no answer is a mistake of ours (HTTP 5xx).

The requests are made up by schemathesis from an OpenAPI description of the table of routes; what is known of each form
is in it, so that they come past the door.
"""

import re

import httpx
import pytest

schemathesis = pytest.importorskip("schemathesis")

from hypothesis import HealthCheck, Phase, given, settings  # noqa: E402
from tests.web_browser import served  # noqa: E402
from tests.web_home import PASSWORD, csrf_in, fill, web_home  # noqa: E402

from stillwell.store.accounts import ROLES  # noqa: E402
from stillwell.web.doors.attempts import Attempts  # noqa: E402
from stillwell.web.doors.passwords import Passwords  # noqa: E402
from stillwell.web.doors.sessions import Sessions  # noqa: E402
from stillwell.web.routes import table  # noqa: E402

TEXT = {"type": "string", "maxLength": 300}
FORMS = {
    "/enter": {"name": TEXT, "password": TEXT, "to": TEXT},
    "/welcome/{token}": {"name": TEXT, "password": TEXT, "again": TEXT},
    "/theme": {"theme": TEXT, "to": TEXT},
    "/today/alarm": {"deed": TEXT},
    "/today/pause": {"minutes": {"anyOf": [TEXT, {"enum": ["30", "60"]}]}, "why": TEXT},
    "/today/drill": {"alarm": {"anyOf": [TEXT, {"enum": ["Water"]}]}},
    "/people/invite": {"role": {"anyOf": [TEXT, {"enum": list(ROLES)}]}, "person": TEXT},
    "/people/renew": {"name": {"anyOf": [TEXT, {"enum": list(ROLES)}]}},
    "/people/remove": {"name": {"anyOf": [TEXT, {"enum": ["nobody"]}]}},
    "/people/password": {"old": TEXT, "new": TEXT, "again": TEXT},
}
FEW = settings(
    max_examples=10,
    deadline=None,
    derandomize=True,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
NEVER_ENDING = "/today/live"
SIGNS_OUT = "/leave"


def description(entries):
    """Describe the table of routes: OpenAPI 3.0.3."""
    paths = {}
    for entry in entries:
        if entry.path in {NEVER_ENDING, SIGNS_OUT}:
            continue
        for path in [entry.path, *([f"{entry.path}.json"] if entry.twin else [])]:
            plain = re.sub(r"\{(\w+):\w+\}", r"{\1}", path)
            operation = {
                "parameters": [
                    {
                        "name": name,
                        "in": "path",
                        "required": True,
                        "schema": {"type": "string", "maxLength": 60, "minLength": 1},
                    }
                    for name in re.findall(r"\{(\w+)\}", plain)
                ]
                + [
                    {"name": name, "in": "query", "schema": TEXT}
                    for name in ("to", "with", "look", "from", "days", "view", "limit")
                    if entry.method == "GET"
                ]
                + [{"name": "Accept", "in": "header", "schema": {"enum": ["text/html", "application/json", "*/*"]}}],
                "responses": {"default": {"description": "whatever is no mistake of ours"}},
            }
            if entry.method == "POST":
                form = {"type": "object", "properties": FORMS.get(entry.path, {})}
                operation["requestBody"] = {"content": {"application/x-www-form-urlencoded": {"schema": form}}}
            paths.setdefault(plain, {})[entry.method.lower()] = operation
    return {"openapi": "3.0.3", "info": {"title": "pages", "version": "1"}, "paths": paths}


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    folder = tmp_path_factory.mktemp("fuzz")
    return web_home(folder, fill(folder / "home.db"))


@pytest.fixture(scope="module")
def address(home):
    with served(home) as found:
        yield found


def signed_in(address, role):
    """Headers and token of somebody who has signed in; of nobody in particular for an empty role."""
    with httpx.Client(base_url=address, follow_redirects=True, timeout=10) as browser:
        token = csrf_in(browser.get("/enter").text)
        if role:
            form = {"csrf": token, "name": role, "password": PASSWORD}
            assert browser.post("/enter", data=form).status_code == 200
            token = csrf_in(browser.get("/people").text)
        return "; ".join(f"{name}={value}" for name, value in browser.cookies.items()), token


@pytest.mark.parametrize("role", ["", "responder", "fitter"])
def test_no_request_makes_the_pages_fail(home, address, role, monkeypatch):
    monkeypatch.setattr(Attempts, "wait_ms", lambda *_: 0)  # else most attempts to enter would end at the first gate
    cookie, token = signed_in(address, role)
    schema = schemathesis.openapi.from_dict(description(table(home.feed, Sessions(home.site.accounts), Passwords())))
    statuses: dict[int, int] = {}
    for found in schema.get_all_operations():
        operation = found.ok()

        @FEW
        @given(case=operation.as_strategy())
        def answers(case):
            if isinstance(case.body, dict):
                case.body = {**case.body, "csrf": token}
            case.headers = {**(case.headers or {}), "Cookie": cookie}
            answer = case.call(base_url=address, timeout=20, allow_redirects=False)
            statuses[answer.status_code] = statuses.get(answer.status_code, 0) + 1
            assert answer.status_code < 500, (case.method, case.formatted_path, case.body, answer.text[:300])

        answers()
    assert sum(statuses.values()) > 200
    assert statuses.get(200, 0) > 20 or not role

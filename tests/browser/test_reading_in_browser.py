"""Proof, Record and Plan as people meet them: on a telephone, at a desk, by keyboard alone, by paper and by lamp.

The limits are those of WCAG 2.2 AA: axe-core looks for what a machine can find; by hand 1.1.1 (each drawing has words
or a table), 1.4.1 (nothing by colour alone), 1.4.10 (reflow), 2.1.1 and 2.4.3 (keyboard), 4.1.3 (changes are told).
"""

import os
from pathlib import Path

import pytest

playwright_api = pytest.importorskip("playwright.sync_api")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright")

from tests.hostile import ATTACKS, hostile_plan, hostile_text  # noqa: E402
from tests.web_browser import DESK, PHONE, chromium, enter, served  # noqa: E402
from tests.web_home import NOW_MS, fill, plan, web_home  # noqa: E402

from stillwell.store.rows import EventRow, FactRow  # noqa: E402

PICTURES = os.environ.get("STILLWELL_PICTURES")
SIZES = {"phone": PHONE, "desk": DESK}
HOUR_MS = 3_600_000
FACTS = (
    FactRow(NOW_MS - 50 * HOUR_MS, "raised", "hall_pir has stopped reporting"),
    FactRow(NOW_MS - 40 * HOUR_MS, "returned to normal", "hall_pir has stopped reporting"),
    FactRow(NOW_MS - 30 * HOUR_MS, "raised", "No sign of life"),
    FactRow(NOW_MS - 29 * HOUR_MS, "returned to normal", "No sign of life"),
    FactRow(NOW_MS - 20 * HOUR_MS, "raised", "drill: Smoke"),
)
PAGES = {
    "proof": "/proof",
    "hazard": "/proof/1?with=ruth+unreachable",
    "record": "/record",
    "months": "/record?from=2025-12-01&days=100",
    "day": "/record/2026-03-09",
    "hour": "/record/2026-03-09/08",
    "plan": "/plan",
}


@pytest.fixture(scope="module")
def browser():
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def address(tmp_path_factory):
    folder = tmp_path_factory.mktemp("reading")
    with served(web_home(folder, fill(folder / "home.db", FACTS))) as found:
        yield found


@pytest.fixture
def opened(browser, address):
    """Open a page as somebody, at a size and in a light; what the page complains of is kept."""
    contexts = []

    def show(path, size="desk", scheme="light", role="family", at=address, **more):
        context = browser.new_context(viewport=SIZES[size], color_scheme=scheme, **more)
        contexts.append(context)
        tab = context.new_page()
        tab.wrong, tab.asked = [], []
        tab.on("console", lambda said: tab.wrong.append(said.text) if said.type == "error" else None)
        tab.on("pageerror", lambda error: tab.wrong.append(str(error)))
        tab.on("request", lambda request: tab.asked.append(request.url))
        enter(tab, at, role, "/plan")
        while context.request.get(f"{at}/proof.json").status == 202:
            pass
        tab.goto(at + path)
        return tab

    yield show
    for context in contexts:
        context.close()


def violations(tab):
    tab.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    found = axe_api.Axe().run(tab).response["violations"]
    return [(one["id"], one["impact"], [node["html"] for node in one["nodes"]][:3]) for one in found]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", PAGES)
def test_axe_finds_nothing_and_nothing_runs_over(opened, name, size, scheme):
    tab = opened(PAGES[name], size, scheme)
    if PICTURES:
        tab.screenshot(path=Path(PICTURES) / f"{name}-{size}-{scheme}.png", clip={"x": 0, "y": 0} | SIZES[size])
    assert violations(tab) == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= SIZES[size]["width"]
    assert tab.wrong == []


@pytest.mark.parametrize("name", PAGES)
def test_type_is_never_small(opened, name):
    tab = opened(PAGES[name], "phone")
    smallest = tab.evaluate("""() => Math.min(...[...document.querySelectorAll('body *')]
        .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
        .filter((e) => !e.closest('.unseen-words, title'))
        .map((e) => parseFloat(getComputedStyle(e).fontSize)))""")
    assert smallest >= 16


@pytest.mark.parametrize("name", PAGES)
def test_a_page_is_light_before_a_chart_is_opened(opened, name):
    """At most 300 kB over the wire with an empty cache, pictures and all."""
    tab = opened(PAGES[name])
    sizes = tab.evaluate("""() => ["navigation", "resource"]
        .flatMap((kind) => performance.getEntriesByType(kind)).map((one) => one.decodedBodySize)""")
    assert 0 < sum(sizes) <= 300_000
    assert not any(url.endswith("vega.js") for url in tab.asked)


@pytest.mark.parametrize("name", PAGES)
def test_every_drawing_has_its_words(opened, name):
    """1.1.1: a drawing that is read says what it shows; one that is hidden from readers has a table beside it."""
    tab = opened(PAGES[name])
    told = tab.evaluate("""() => [...document.querySelectorAll('main svg')]
        .filter((e) => !e.parentElement.closest('svg'))
        .map((e) => [e.role, e.ariaHidden, e.querySelector('title')?.textContent ?? ''])""")
    assert told
    for role, hidden, words in told:
        assert (role == "img" and len(words) > 10) or hidden == "true" or role is None
    assert tab.locator("main table").count() > 0


class TestTheChart:
    def test_it_is_drawn_on_request_by_a_policy_without_eval(self, opened):
        tab = opened(PAGES["hazard"])
        tab.get_by_role("button", name="Draw it larger").click()
        tab.wait_for_selector(".larger svg", timeout=30_000)
        assert tab.get_by_text("Drawn below. The table says the same.").is_visible()
        drawn = tab.locator(".larger svg").text_content()
        assert "collapse: how long until somebody is told" in drawn
        assert tab.wrong == []
        assert {url.split("/")[2] for url in tab.asked} == {tab.url.split("/")[2]}
        assert violations(tab) == []

    def test_by_lamp_it_is_drawn_for_the_lamp(self, opened):
        tab = opened(PAGES["hazard"], scheme="dark")
        tab.get_by_role("button", name="Draw it larger").click()
        tab.wait_for_selector(".larger svg", timeout=30_000)
        assert any("look=dark" in url for url in tab.asked)

    def test_where_nothing_can_draw_the_page_says_so_and_the_table_stays(self, opened):
        tab = opened(PAGES["hazard"])
        tab.route("**/charts/vega.js", lambda route: route.fulfill(status=409, body="{}"))
        tab.get_by_role("button", name="Draw it larger").click()
        tab.get_by_text("not installed").wait_for()
        tab.get_by_text("The same as a table").click()
        assert tab.get_by_role("rowheader", name="18:00").is_visible()

    def test_without_script_nothing_is_missing_but_the_large_drawing(self, opened):
        tab = opened(PAGES["hazard"], java_script_enabled=False)
        assert tab.locator(".tide").count() == 1
        assert not tab.get_by_role("button", name="Draw it larger").is_visible()


class TestByKeyboard:
    def test_a_fault_is_chosen_and_shown(self, opened):
        tab = opened("/proof/1")
        tab.get_by_label("One thing broken", exact=True).focus()
        tab.keyboard.type("Ruth")
        tab.keyboard.press("Tab")
        tab.keyboard.press("Enter")
        tab.wait_for_url("**with=ruth**")
        assert "With Ruth Vale out of reach" in tab.get_by_role("status").first.inner_text()

    def test_from_the_week_to_a_minute_and_back(self, opened):
        """Each step by Tab and Enter alone, as by somebody without a mouse."""
        tab = opened("/record")
        self.go(tab, "Mon 9 Mar")
        tab.wait_for_url("**/record/2026-03-09")
        self.go(tab, "08")
        tab.wait_for_url("**/record/2026-03-09/08")
        self.go(tab, "30")
        tab.wait_for_url("**/record/2026-03-09/08/30")
        tab.keyboard.press("ArrowRight")
        tab.wait_for_url("**/record/2026-03-09/08/31")
        tab.keyboard.press("ArrowLeft")
        tab.wait_for_url("**/record/2026-03-09/08/30")
        self.go(tab, "The week")
        tab.wait_for_url("**from=2026-03-09&days=7")

    def test_a_drawing_that_is_wider_than_the_screen_can_be_scrolled(self, opened):
        tab = opened("/plan", "phone")
        region = tab.get_by_role("region", name="The home, drawn to scale")
        region.focus()
        for _ in range(3):
            tab.keyboard.press("ArrowRight")
        playwright_api.expect(tab.locator(".scrolls").first).not_to_have_js_property("scrollLeft", 0)

    def go(self, tab, name):
        """Press Tab until the link of this name has the focus, then Enter."""
        tab.evaluate("document.activeElement.blur()")
        for _ in range(150):
            tab.keyboard.press("Tab")
            if tab.evaluate("document.activeElement.tagName + document.activeElement.innerText") == f"A{name}":
                break
        else:
            pytest.fail(f"no link {name!r} is reached by Tab")
        tab.keyboard.press("Enter")


class TestByHand:
    def test_a_press_on_a_day_opens_its_hour(self, opened):
        tab = opened("/record")
        box = tab.locator(".days").nth(1).bounding_box()
        tab.mouse.click(box["x"] + box["width"] * 8.5 / 24, box["y"] + box["height"] / 2)
        tab.wait_for_url("**/record/2026-03-09/08")

    def test_a_press_on_many_days_opens_that_day(self, opened):
        tab = opened(PAGES["months"])
        place = tab.locator(".days")
        box = place.bounding_box()
        tab.mouse.move(box["x"], box["y"])
        place.click(position={"x": box["width"] / 2, "y": box["height"] * 10.5 / 100})
        tab.wait_for_url("**/record/2025-12-11")

    def test_another_day_is_asked_for(self, opened):
        tab = opened("/record")
        tab.get_by_label("Begin on").fill("2026-03-09")
        tab.get_by_role("button", name="Show").click()
        tab.wait_for_url("**from=2026-03-09**")
        assert tab.locator("h1").inner_text().startswith("Mon 9 Mar")

    def test_a_finding_leads_to_the_rule_it_is_about(self, opened):
        tab = opened("/proof")
        link = tab.locator(".findings a").first
        link.click()
        tab.wait_for_url("**/plan#**")
        target = tab.url.partition("#")[2]
        assert tab.locator(f'[id="{target}"]').is_visible()


def test_paper_and_lamp_differ_in_nothing_but_colour(opened):
    """1.4.1: what is said and where it stands is the same in both."""
    for path in ("/proof", "/record", "/plan"):
        light, dark = opened(path), opened(path, scheme="dark")
        assert light.locator("main").inner_text() == dark.locator("main").inner_text()
        assert light.locator("main").bounding_box() == dark.locator("main").bounding_box()


def test_no_name_of_a_plan_is_ever_run(browser, tmp_path_factory):
    """A home whose every name, note and report is an attack, with script switched on."""
    folder = tmp_path_factory.mktemp("hostile")
    rows = tuple(EventRow(number, NOW_MS - number * 60_000, one, 1.0) for number, one in enumerate(ATTACKS, 1))
    moved = EventRow(len(rows) + 1, NOW_MS, next(iter(plan().parts)) + ".movement", 1.0)
    facts = tuple(FactRow(NOW_MS - number * 1000, "raised", one, one, one) for number, one in enumerate(ATTACKS, 1))
    home = web_home(folder, fill(folder / "home.db", facts, (*rows, moved)))
    home.site.take_plan(hostile_plan(), hostile_text())
    with served(home) as address:
        context = browser.new_context(viewport=DESK)
        tab = context.new_page()
        ran = []
        tab.on("dialog", lambda dialog: (ran.append(dialog.message), dialog.dismiss()))
        enter(tab, address, "fitter", "/plan")
        while context.request.get(f"{address}/proof.json").status == 202:
            pass
        for path in ("/plan", "/proof", "/proof/1", "/record", "/record/2026-03-10", "/record/2026-03-10/14"):
            tab.goto(address + path)
            assert tab.locator("h1").count() == 1, path
        context.close()
    assert ran == []

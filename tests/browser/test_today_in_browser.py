"""Today as people meet it: on a telephone with one thumb, at a desk, by keyboard alone, by paper and by lamp.

The limits are those of WCAG 2.2 AA: axe-core looks for what a machine can find; by hand 1.4.4 (text at 200 %), 1.4.10
(reflow), 2.1.1 and 2.4.3 (keyboard and its order), 2.4.7 (focus seen), 2.5.8 (targets; 44 px of 2.5.5 are held),
4.1.3 (what changes is told).
"""

import os
import sqlite3
from pathlib import Path

import pytest

pytest.importorskip("playwright.sync_api")
axe_api = pytest.importorskip("axe_playwright_python.sync_playwright")

from tests.hostile import ATTACKS, hostile_facts, hostile_plan, hostile_status, hostile_text  # noqa: E402
from tests.web_browser import DESK, PHONE, chromium, enter, served  # noqa: E402
from tests.web_home import MINUTE_MS, NOW_MS, RAISED_MS, STATES, Watching, fill, web_home  # noqa: E402

from stillwell.store.rows import EventRow, FactRow  # noqa: E402

PICTURES = os.environ.get("STILLWELL_PICTURES")
SIZES = {"phone": PHONE, "desk": DESK}
FACTS = (
    FactRow(NOW_MS - 300 * MINUTE_MS, "raised", "hall_pir has stopped reporting"),
    FactRow(RAISED_MS, "raised", "No sign of life"),
    FactRow(RAISED_MS + 20_000, "told jonas by call", "No sign of life"),
    FactRow(RAISED_MS + 4 * MINUTE_MS, "answered looking", "No sign of life", "lene"),
)
ROOM_FOR_A_THUMB = 44


@pytest.fixture(scope="module")
def browser():
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    folder = tmp_path_factory.mktemp("today")
    return web_home(folder, fill(folder / "home.db", FACTS))


@pytest.fixture(scope="module")
def address(home):
    with served(home) as found:
        yield found


@pytest.fixture
def opened(browser, address, home):
    """Open the page as somebody, in a state, at a size and in a light."""
    contexts = []

    def show(state="well", role="family", size="phone", scheme="light", path="/today", **more):
        home.watching.says(STATES[state])
        context = browser.new_context(viewport=SIZES[size], color_scheme=scheme, **more)
        contexts.append(context)
        tab = context.new_page()
        tab.wrong = []
        tab.on("console", lambda said: tab.wrong.append(said.text) if said.type == "error" else None)
        tab.on("pageerror", lambda error: tab.wrong.append(str(error)))
        enter(tab, address, role, path)
        if path == "/today" and more.get("java_script_enabled", True):
            tab.wait_for_selector(f".head.{state}")
        return tab

    yield show
    for context in contexts:
        context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("state", STATES)
def test_axe_finds_nothing_and_nothing_runs_over(opened, state, size, scheme):
    tab = opened(state, size=size, scheme=scheme)
    if PICTURES:
        tab.screenshot(path=Path(PICTURES) / f"today-{state}-{size}-{scheme}.png", full_page=True)
    tab.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    found = axe_api.Axe().run(tab).response["violations"]
    assert [(one["id"], one["impact"], [node["html"] for node in one["nodes"]][:3]) for one in found] == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= SIZES[size]["width"]
    assert tab.wrong == []


@pytest.mark.parametrize("path", ["/people", "/enter", "/nothing-here"])
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_nothing_on_the_other_pages(opened, address, path, scheme):
    tab = opened(role="fitter", scheme=scheme)
    if path == "/enter":
        tab.get_by_role("button", name="Sign out").click()
        tab.wait_for_url("**/enter")
    else:
        tab.goto(address + path)
    if PICTURES:
        tab.screenshot(path=Path(PICTURES) / f"{path.strip('/')}-phone-{scheme}.png", full_page=True)
    tab.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    found = axe_api.Axe().run(tab).response["violations"]
    assert [(one["id"], one["impact"], [node["html"] for node in one["nodes"]][:3]) for one in found] == []
    assert tab.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


@pytest.mark.parametrize("state", STATES)
def test_five_seconds_on_a_telephone_are_enough(opened, state):
    """The first screen of 360 x 740 holds the word, the whole first sentence and, where one is needed, the button."""
    tab = opened(state)
    # at one instant: what is heard from the home may draw the head anew at any time
    bottoms = tab.evaluate("""() => [".word", "h1", ".deed"].map((each) =>
        [...document.querySelectorAll(".head " + each)].map((e) => e.getBoundingClientRect().bottom))""")
    word, sentence, deeds = bottoms
    assert max(*word, *sentence, *deeds) <= PHONE["height"]
    assert (len(word), len(sentence), len(deeds)) == (1, 1, {"unanswered": 2, "answered": 2}.get(state, 0))


@pytest.mark.parametrize("state", STATES)
def test_type_is_never_small(opened, state):
    tab = opened(state)
    smallest = tab.evaluate("""() => Math.min(...[...document.querySelectorAll('body *')]
        .filter((e) => [...e.childNodes].some((n) => n.nodeType === 3 && n.textContent.trim()))
        .filter((e) => !e.closest('.unseen-words, title'))
        .map((e) => parseFloat(getComputedStyle(e).fontSize)))""")
    assert smallest >= 16


def test_a_thumb_hits_what_can_be_pressed(opened):
    tab = opened("unanswered")
    for one in tab.locator("button, summary, nav a").all():
        box = one.bounding_box()
        if box is not None:
            assert box["height"] >= ROOM_FOR_A_THUMB, one.inner_text()
            assert box["width"] >= 24, one.inner_text()


def test_an_alarm_is_answered_with_one_press_and_the_page_says_so(opened, home):
    tab = opened("unanswered")
    home.watching.asked_for.clear()
    with tab.expect_navigation():
        tab.get_by_role("button", name="I am looking after it").click()
    assert home.watching.asked_for == [
        ("alarm", {"name": "No sign of life", "do": "acknowledge", "by": "lene", "why": "", "until_ms": None})
    ]
    home.watching.says(STATES["answered"])
    tab.wait_for_selector(".head.answered")
    assert "Lene Rowan is looking after" in tab.locator("h1").inner_text()


def test_what_changes_comes_by_itself_and_is_told_to_who_cannot_see(opened, home):
    tab = opened("well")
    assert tab.locator("#head").get_attribute("aria-live") == "polite"
    for state in ("unanswered", "answered", "less", "blind", "well"):
        home.watching.says(STATES[state])
        tab.wait_for_selector(f".head.{state}")


def test_news_do_not_take_the_button_from_under_the_finger(opened, home):
    tab = opened("unanswered")
    tab.get_by_role("button", name="All is well").focus()
    tab.get_by_text("The same in words").click()
    tab.get_by_role("button", name="All is well").focus()
    home.watching.says(STATES["answered"])
    tab.wait_for_selector(".head.answered")
    assert tab.evaluate("document.activeElement.value") == "clear No sign of life"
    assert tab.locator("#day details").get_attribute("open") is not None


def test_by_keyboard_alone_an_alarm_is_answered_and_the_watch_paused(opened, home):
    tab = opened("unanswered")
    home.watching.asked_for.clear()
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.textContent") == "To the page itself"
    tab.keyboard.press("Enter")
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.value") == "acknowledge No sign of life"
    assert tab.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)") >= 2
    with tab.expect_navigation():
        tab.keyboard.press("Enter")
    presses = 0
    while tab.evaluate("document.activeElement.textContent").strip() != "Pause the watch":
        tab.keyboard.press("Tab")
        presses += 1
        assert presses < 40
    tab.keyboard.press("Enter")
    tab.keyboard.press("Tab")
    tab.keyboard.type("2 hours")
    tab.keyboard.press("Tab")
    tab.keyboard.type("a visit")
    with tab.expect_navigation():
        tab.keyboard.press("Enter")
    assert [path for path, _ in home.watching.asked_for] == ["alarm", "pause"]
    assert home.watching.asked_for[1][1] == {"until_ms": NOW_MS + 120 * MINUTE_MS, "by": "lene", "why": "a visit"}


def test_without_script_all_is_there_and_works(opened, home):
    tab = opened("unanswered", java_script_enabled=False)
    home.watching.asked_for.clear()
    assert tab.locator(".head.unanswered").count() == 1
    assert "Load the page again for news." in tab.locator("#age").inner_text()
    with tab.expect_navigation():
        tab.get_by_role("button", name="I am looking after it").click()
    assert [path for path, _ in home.watching.asked_for] == ["alarm"]


def test_at_twice_the_size_and_half_the_width_nothing_is_lost(opened):
    for width in (320, 180):
        tab = opened("unanswered")
        tab.set_viewport_size({"width": width, "height": 740})
        assert tab.evaluate("document.documentElement.scrollWidth") <= width


@pytest.mark.parametrize(("word", "theme", "dark"), [("lamp", "lamp", True), ("daylight", "paper", False)])
def test_the_light_can_be_chosen_and_is_kept(opened, word, theme, dark):
    tab = opened("well", scheme="light" if dark else "dark")
    with tab.expect_navigation():
        tab.get_by_role("button", name=word).click()
    tab.reload()
    assert tab.evaluate("document.documentElement.dataset.theme") == theme
    red = tab.evaluate("parseInt(getComputedStyle(document.body).backgroundColor.match(/\\d+/)[0])")
    assert (red < 128) is dark


def test_when_the_connection_drops_the_page_says_how_old_it_is(browser, tmp_path):
    home = web_home(tmp_path, fill(tmp_path / "home.db", FACTS))
    context = browser.new_context(viewport=PHONE)
    tab = context.new_page()
    with served(home) as address:
        enter(tab, address, "family")
        tab.wait_for_selector(".head.well")
        tab.clock.install()
        assert tab.locator("#lost").is_hidden()
    tab.clock.fast_forward("03:20")
    tab.wait_for_selector("#lost:not([hidden])")
    said = tab.locator("#lost").inner_text()
    assert said == "No connection. What you see is 3 minutes old: it stood so on Tue 10 Mar 2026 14:32."
    with served(home, int(address.rpartition(":")[2])):
        tab.clock.run_for(20_000)
        tab.wait_for_selector("#lost[hidden]", state="attached")
    context.close()


def test_no_script_that_somebody_has_stored_runs(browser, tmp_path):
    rows = tuple(EventRow(number, NOW_MS - number * MINUTE_MS, one, 1.0) for number, one in enumerate(ATTACKS, 1))
    home = web_home(tmp_path, fill(tmp_path / "home.db", hostile_facts(), rows), Watching(hostile_status()))
    home.site.take_plan(hostile_plan(), hostile_text())
    context = browser.new_context(viewport=PHONE)
    tab = context.new_page()
    ran, asked = [], []
    tab.on("dialog", lambda dialog: (ran.append(dialog.message), dialog.dismiss()))
    tab.on("request", lambda request: asked.append(request.url))
    tab.add_init_script("window.alert = (said) => { window.ran = said; }")
    with served(home) as address:
        enter(tab, address, "fitter")
        for path in ("/today", "/people"):
            tab.goto(address + path)
            tab.wait_for_load_state("load")
            assert tab.evaluate("window.ran === undefined"), path
            assert tab.locator("iframe, img, body script").count() == 0
        tab.goto(address + "/today")
        home.watching.says(hostile_status())
        tab.wait_for_selector(".head.unanswered")
        assert tab.evaluate("window.ran === undefined")
    assert ran == []
    assert all(url.startswith(address) for url in asked)
    context.close()


def test_the_policy_is_in_force(opened):
    """That the attacks above fail twice over: even a script that got onto the page would not run."""
    tab = opened("well")
    ran = tab.evaluate("""() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1';
        document.body.append(s); return window.ran === 1; }""")
    assert ran is False


def test_the_store_is_only_read(home, opened):
    opened("well")
    connection = sqlite3.connect(home.site.look.url)
    before = connection.execute("PRAGMA data_version").fetchone()
    opened("well")
    assert connection.execute("PRAGMA data_version").fetchone() == before
    connection.close()

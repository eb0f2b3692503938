"""The page as text: what it shows is escaped, and its headers keep the address to itself."""

import base64
import hashlib
import re
from html.parser import HTMLParser

from hypothesis import given
from hypothesis import strategies as st

from stillwell.watch.answer_page import BUTTONS, HEADERS, Page, html


class Reader(HTMLParser):
    """Reads a page as the standard library does: tags, attributes, text."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_data(self, data):
        self.text.append(data)


PAGE = Page("Water", "Trial home", ["Nobody has answered yet."], "Danger.", tuple(BUTTONS), open=True)
USUAL = Reader(html(PAGE)).tags


@given(st.text(max_size=80), st.text(max_size=80), st.text(max_size=80), st.booleans())
def test_no_text_becomes_anything_else(title, place, line, drill):
    read = Reader(html(Page(title, place, [line], "Danger.", tuple(BUTTONS), drill=drill)))
    expected = [tag for tag in USUAL if tag != "p"]
    assert [tag for tag in read.tags if tag != "p"] == expected
    names = {name for name, _ in read.attributes}
    assert names <= {"lang", "charset", "name", "content", "class", "method", "type", "value"}


def test_nothing_runs_and_nothing_comes_from_elsewhere():
    text = html(PAGE)
    assert not {"script", "link", "img", "iframe"} & set(Reader(text).tags)
    assert "url(" not in text
    assert "@import" not in text


def test_the_policy_lets_in_our_style_and_nothing_else():
    """Content Security Policy Level 3: the hash is over the text between the tags, as it stands."""
    style = re.search(r"<style>(.*)</style>", html(PAGE), re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    policy = dict(part.split(" ", 1) for part in HEADERS["Content-Security-Policy"].split("; "))
    assert policy["default-src"] == "'none'"
    assert policy["style-src"] == f"'sha256-{digest}'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["form-action"] == "'self'"


def test_the_address_stays_here():
    assert HEADERS["Referrer-Policy"] == "no-referrer"
    assert HEADERS["Cache-Control"] == "no-store"
    assert HEADERS["X-Content-Type-Options"] == "nosniff"


def test_a_button_for_each_answer_that_is_open():
    read = Reader(html(Page("Water", answers=("well", "cannot"))))
    assert [value for name, value in read.attributes if name == "value"] == ["well", "cannot"]
    assert "form" not in Reader(html(Page("Water"))).tags


def test_the_title_may_be_cut_by_a_tab_and_still_says_what_it_is():
    assert "<title>Water, Trial home</title>" in html(PAGE)

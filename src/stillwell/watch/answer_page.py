"""The page behind a link: what it is, since when, who knows, and three buttons. No script, nothing from elsewhere."""

import base64
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

BUTTONS: Final[Mapping[str, str]] = {
    "looking": "I am looking after it",
    "well": "All is well",
    "cannot": "I cannot",
}
"""Each answer, and what its button says."""


@dataclass(frozen=True, slots=True)
class Page:
    """What the page shows. ``open``: somebody must still answer. ``lines`` are sentences; ``answers`` get a button."""

    title: str
    place: str = ""
    lines: Sequence[str] = ()
    warning: str = ""
    answers: Sequence[str] = ()
    open: bool = False
    drill: bool = False


STYLE: Final = """
:root { color-scheme: light dark; --page: #eef1f4; --card: #fff; --ink: #1b2530; --soft: #4d5a67; --line: #6b7785;
  --mark: #2f6b4f; --deed: #14532d; --deed-ink: #fff; }
main.open { --mark: #b3261e; }
main.drill { --mark: #5b4b8a; }
@media (prefers-color-scheme: dark) { :root { --page: #12171c; --card: #1d252d; --ink: #eef2f5; --soft: #b4bfca;
  --line: #8794a1; --mark: #6fbf97; --deed: #8fd6b1; --deed-ink: #0c2417; }
  main.open { --mark: #ff8a80; } main.drill { --mark: #b9a7f0; } }
* { box-sizing: border-box; }
body { margin: 0; padding: 1rem; background: var(--page); color: var(--ink);
  font: 1.125rem/1.5 system-ui, -apple-system, "Segoe UI", "Noto Sans", sans-serif; }
main { max-width: 30rem; margin: 0 auto; background: var(--card); border-radius: .75rem;
  border-top: .5rem solid var(--mark); padding: 1.25rem 1.25rem 1.5rem; box-shadow: 0 1px 4px rgb(0 0 0 / .15); }
.place { margin: 0; color: var(--soft); }
.exercise { display: inline-block; margin: 0 0 .5rem; padding: .1rem .6rem; border: 2px solid var(--mark);
  border-radius: 1rem; color: var(--mark); font-weight: 600; }
h1 { margin: 0 0 .75rem; font-size: 1.6rem; line-height: 1.25; overflow-wrap: anywhere; }
p { margin: .5rem 0; overflow-wrap: anywhere; }
.warning { padding: .6rem .8rem; border-left: .3rem solid var(--mark); background: var(--page); font-weight: 600; }
form { margin-top: 1.25rem; display: grid; gap: .75rem; }
button { min-height: 3.25rem; padding: .6rem 1rem; border: 2px solid var(--line); border-radius: .6rem;
  background: var(--card); color: var(--ink); font: inherit; font-weight: 600; cursor: pointer; }
button:first-child { background: var(--deed); border-color: var(--deed); color: var(--deed-ink); }
button:focus-visible { outline: 3px solid var(--mark); outline-offset: 3px; }
"""

_STYLE_HASH: Final = base64.b64encode(hashlib.sha256(STYLE.encode()).digest()).decode()

HEADERS: Final[Mapping[str, str]] = {
    "Content-Security-Policy": (
        f"default-src 'none'; style-src 'sha256-{_STYLE_HASH}'; form-action 'self'; base-uri 'none'; "
        "frame-ancestors 'none'"
    ),
    "Cache-Control": "no-store",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "X-Robots-Tag": "noindex, nofollow",
}
"""The address is the key: it must not get into a cache, a referrer, a search engine or a frame."""


def html(page: Page) -> str:
    """Return the page as HTML. Whatever it shows is escaped."""
    classes = " ".join(name for name, so in (("open", page.open), ("drill", page.drill)) if so)
    mark = f' class="{classes}"' if classes else ""
    pieces = [
        '<p class="exercise">Drill</p>' if page.drill else "",
        f'<p class="place">{escape(page.place)}</p>' if page.place else "",
        f"<h1>{escape(page.title)}</h1>",
        *(f"<p>{escape(line)}</p>" for line in page.lines),
        f'<p class="warning">{escape(page.warning)}</p>' if page.warning else "",
        _form(page.answers) if page.answers else "",
    ]
    body = "\n".join(piece for piece in pieces if piece)
    title = f"{page.title}, {page.place}" if page.place else page.title
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main{mark}>\n{body}\n</main>\n</body>\n</html>\n"
    )


def _form(answers: Sequence[str]) -> str:
    buttons = "\n".join(
        f'<button type="submit" name="answer" value="{escape(word)}">{escape(BUTTONS[word])}</button>'
        for word in answers
    )
    return f'<form method="post">\n{buttons}\n</form>'

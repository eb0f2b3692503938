"""Small drawings written by hand as SVG, for pages. Whatever is written into one is escaped here."""

from collections.abc import Iterable
from typing import TypeAlias
from xml.sax.saxutils import escape, quoteattr

Value: TypeAlias = str | float | None


def tag(name: str, children: Iterable[str] = (), /, **attributes: Value) -> str:
    """Return an element. ``children`` are elements made here or by ``text``; an attribute of None is left out.

    Underscores in names of attributes become hyphens: ``class_`` is class, ``stroke_width`` is stroke-width.
    """
    written = "".join(
        f" {_attribute(key)}={quoteattr(number(value) if isinstance(value, float | int) else value)}"
        for key, value in attributes.items()
        if value is not None
    )
    inside = "".join(children)
    return f"<{name}{written}>{inside}</{name}>" if inside else f"<{name}{written}/>"


def text(said: str) -> str:
    """Return what somebody wrote as text within an element."""
    return escape(said)


def title(said: str) -> str:
    """Return what is told of an element when one points at it, and to whoever cannot see it."""
    return tag("title", [escape(said)])


def number(value: float) -> str:
    """Write a number as short as it may be: three decimals at most."""
    return f"{value:.3f}".rstrip("0").rstrip(".") if value != int(value) else str(int(value))


def percent(share: float) -> str:
    """Write a share of the width, from 0 to 1."""
    return f"{number(share * 100)}%"


def _attribute(name: str) -> str:
    kept = {"viewBox": "viewBox", "preserveAspectRatio": "preserveAspectRatio", "class_": "class"}
    return kept.get(name, name.replace("_", "-"))

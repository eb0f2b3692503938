"""The colours of every picture and page: ink on paper by day, the same by lamplight. docs/look.md says why."""

from dataclasses import dataclass, fields
from typing import Any, Final


@dataclass(frozen=True, slots=True)
class Look:
    """Colours as ``#rrggbb``.

    ``raised`` is a sheet that lies on the paper, ``shade`` a stretch of it set apart (night, a gap), ``wash`` the
    ground under something that is wrong. ``shades`` go from little to much, the last is the ink itself; ``marks``
    are the colours of kinds of mark, the first is ``warning``. ``water`` is the depth of the tide table and the one
    colour of what can be pressed.
    """

    paper: str
    raised: str
    ink: str
    quiet_ink: str
    hairline: str
    rule: str
    shade: str
    wash: str
    warning: str
    water: str
    deep: str
    well: str
    shades: tuple[str, str, str]
    marks: tuple[str, str, str, str, str, str, str]


LIGHT: Final = Look(
    paper="#fbfaf5",
    raised="#fffefb",
    ink="#27262b",
    quiet_ink="#6b675f",
    hairline="#e3dfd3",
    rule="#8d887c",
    shade="#efe9da",
    wash="#f9e6df",
    warning="#b5341c",
    water="#1c6a87",
    deep="#a9cbd6",
    well="#2f6b3c",
    shades=("#c3beb2", "#837f77", "#27262b"),
    marks=("#b5341c", "#1d6a86", "#b97d08", "#67508e", "#47763a", "#8a5340", "#55524c"),
)

DARK: Final = Look(
    paper="#1a1916",
    raised="#23221e",
    ink="#ebe6d8",
    quiet_ink="#aaa497",
    hairline="#3a3731",
    rule="#7f796d",
    shade="#2b2923",
    wash="#41241c",
    warning="#ff8f70",
    water="#7fc1d9",
    deep="#2f5c6d",
    well="#8cc796",
    shades=("#545048", "#969083", "#ebe6d8"),
    marks=("#ff8f70", "#7fc2da", "#e6b14a", "#b7a1e0", "#93c583", "#d7a08a", "#b3ada0"),
)


def css_variables(look: Look) -> str:
    """Return the colours as custom properties of a style sheet: ``--ink: #27262b; --mark-1: ...``."""
    found = []
    for field in fields(look):
        value = getattr(look, field.name)
        name = field.name.replace("_", "-")
        if isinstance(value, str):
            found.append(f"--{name}: {value};")
        else:
            found += [f"--{name.removesuffix('s')}-{number}: {each};" for number, each in enumerate(value, 1)]
    return " ".join(found)


def in_look(spec: Any, look: Look) -> Any:
    """Return a specification made in the light look with each of its colours as another look has it."""
    if look == LIGHT:
        return spec
    return _exchanged(spec, dict(zip(_colours(LIGHT), _colours(look), strict=True)))


def for_page(spec: Any, least: int = 16) -> Any:
    """Return a specification with no type smaller than so many pixels, as it is read on a screen."""
    match spec:
        case dict():
            return {
                key: max(each, least) if key.lower().endswith("fontsize") else for_page(each, least)
                for key, each in spec.items()
            }
        case list():
            return [for_page(each, least) for each in spec]
        case _:
            return spec


def _colours(look: Look) -> list[str]:
    found: list[str] = []
    for field in fields(look):
        value = getattr(look, field.name)
        found += [value] if isinstance(value, str) else value
    return found


def _exchanged(value: Any, other: dict[str, str]) -> Any:
    match value:
        case str():
            return other.get(value, value)
        case dict():
            return {key: _exchanged(each, other) for key, each in value.items()}
        case list():
            return [_exchanged(each, other) for each in value]
        case _:
            return value

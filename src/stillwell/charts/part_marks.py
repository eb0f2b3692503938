"""How each kind of part is drawn on a plan of the home: a shape for what it is for, a letter for what it is."""

from collections import Counter
from collections.abc import Mapping
from typing import Final

from stillwell.charts.svg import tag, text, title
from stillwell.plan.model import Part, PartKind

RADIUS: Final = 17
"""Half the width of a mark, in pixels."""

PURPOSES: Final[Mapping[str, str]] = {
    "circle": "notices somebody",
    "square": "notices the house",
    "diamond": "is switched",
    "hexagon": "is pressed",
    "octagon": "hears and decides",
}

_MARKS: Final[Mapping[PartKind, tuple[str, str]]] = {
    "movement": ("circle", "M"),
    "contact": ("circle", "C"),
    "vibration": ("circle", "V"),
    "pressure": ("circle", "P"),
    "water": ("square", "W"),
    "smoke": ("square", "S"),
    "carbon monoxide": ("square", "G"),
    "temperature": ("square", "T"),
    "air": ("square", "A"),
    "outlet": ("diamond", "O"),
    "lamp": ("diamond", "L"),
    "sounder": ("diamond", "N"),
    "camera": ("diamond", "E"),
    "push button": ("hexagon", "B"),
    "wearable call button": ("hexagon", "H"),
    "radio hub": ("octagon", "R"),
    "controller": ("octagon", "K"),
}

_PATHS: Final = {
    "circle": "M-16 0A16 16 0 1 0 16 0A16 16 0 1 0-16 0Z",
    "square": "M-15-15H15V15H-15Z",
    "diamond": "M0-22L22 0L0 22L-22 0Z",
    "hexagon": "M-19 0L-10-16H10L19 0L10 16H-10Z",
    "octagon": "M-7-17H7L17-7V7L7 17H-7L-17 7V-7Z",
}


def part_labels(parts: Mapping[str, Part]) -> dict[str, str]:
    """Return the letter of each part by its name, with a number where there is more than one of its kind."""
    many = Counter(part.kind for part in parts.values())
    seen: Counter[str] = Counter()
    labels = {}
    for name, part in parts.items():
        seen[part.kind] += 1
        letter = _MARKS[part.kind][1]
        labels[name] = f"{letter}{seen[part.kind]}" if many[part.kind] > 1 else letter
    return labels


def part_mark(kind: PartKind, label: str, said: str, x: float, y: float) -> str:
    """Return the mark of a part at a place in pixels."""
    shape, _ = _MARKS[kind]
    return tag(
        "g",
        [
            title(said),
            tag("path", d=_PATHS[shape], class_="part"),
            tag("text", [text(label)], y=6, text_anchor="middle", class_="letter"),
        ],
        transform=f"translate({x:.1f} {y:.1f})",
    )


def kind_key(kind: PartKind) -> str:
    """Return the mark of a kind for a legend, with its letter alone."""
    shape, letter = _MARKS[kind]
    drawn = [
        tag("path", d=_PATHS[shape], class_="part"),
        tag("text", [text(letter)], y=6, text_anchor="middle", class_="letter"),
    ]
    return tag("svg", drawn, viewBox="-24 -24 48 48", width=48, height=48, class_="key", aria_hidden="true")


def purpose_of(kind: PartKind) -> str:
    """Return what the shape of a kind says."""
    return PURPOSES[_MARKS[kind][0]]

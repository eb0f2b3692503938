"""Style, scripts and marks: read once, sent from memory, addressed by what is in them so that they may be kept."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from starlette.responses import Response

from stillwell.charts.look import DARK, LIGHT, css_variables

KINDS: Final = {"css": "text/css", "js": "text/javascript", "svg": "image/svg+xml"}
KEPT: Final = "public, max-age=31536000, immutable"


@dataclass(frozen=True, slots=True)
class Asset:
    """A file and what names its content."""

    body: bytes
    kind: str
    digest: str


@cache
def assets() -> Mapping[str, Asset]:
    """Return everything in the folder ``static`` by name."""
    found = {}
    for path in files("stillwell.web").joinpath("static").iterdir():
        kind = KINDS.get(path.name.rpartition(".")[2])
        if kind is not None:
            found[path.name] = asset(path.read_bytes(), kind)
    found["style.css"] = asset(colours().encode() + found["style.css"].body, KINDS["css"])
    return found


def colours() -> str:
    """Return the colours of pages: those of the charts, by paper and by lamp."""
    dark = css_variables(DARK)
    return (
        f":root {{ color-scheme: light; {css_variables(LIGHT)} }}\n"
        f"@media (prefers-color-scheme: dark) {{ [data-theme=auto] {{ color-scheme: dark; {dark} }} }}\n"
        f"[data-theme=lamp] {{ color-scheme: dark; {dark} }}\n"
    )


def asset(body: bytes, kind: str) -> Asset:
    """Return content with its digest."""
    return Asset(body, kind, hashlib.sha256(body).hexdigest()[:12])


def address(name: str) -> str:
    """Return the address of a file in ``static``; it changes with the content."""
    return f"/static/{name}?{assets()[name].digest}"


def sent(one: Asset) -> Response:
    """Answer with an asset."""
    return Response(one.body, media_type=one.kind, headers={"Cache-Control": KEPT, "ETag": f'"{one.digest}"'})

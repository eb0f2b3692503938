"""A page as HTML or as its JSON twin."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, is_dataclass
from typing import Any, ClassVar, Final, Protocol

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup
from starlette.responses import HTMLResponse, JSONResponse, Response

from stillwell.web.assets import address
from stillwell.web.visit import Visit

THEMES: Final = ("paper", "lamp", "auto")
"""Light, dark, and whichever the device is set to."""


class Page(Protocol):
    """What a page shows: a frozen dataclass of plain values and finished sentences."""

    title: ClassVar[str]
    template: ClassVar[str]
    place: ClassVar[str]


@dataclass(frozen=True, slots=True)
class Frame:
    """What stands around every page: the home's name, who looks, their token for forms, the pages they may open."""

    home: str
    name: str
    role: str
    csrf: str
    theme: str
    path: str
    pages: frozenset[str]

    def may(self, *roles: str) -> bool:
        """Tell whether the visitor has one of these roles."""
        return self.role in roles

    def sees(self, path: str) -> bool:
        """Tell whether there is this page for the visitor."""
        return path in self.pages

    def token(self) -> Markup:
        """Return the hidden field that each form must hold."""
        return Markup('<input type="hidden" name="csrf" value="{}">').format(self.csrf)


def environment() -> Environment:
    """Return where the templates are read from. Whatever they show is escaped."""
    made = Environment(
        loader=PackageLoader("stillwell.web"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals["static"] = address
    return made


TEMPLATES: Final = environment()


def shown(visit: Visit, page: Any, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """Answer with a page: as JSON where that was asked for, else as HTML."""
    if visit.wants_json:
        return JSONResponse(values(page), status, headers)
    return HTMLResponse(html(page, frame_of(visit)), status, headers)


def html(page: Any, frame: Frame) -> str:
    """Return a page as HTML."""
    return TEMPLATES.get_template(page.template).render(page=page, frame=frame)


def values(page: Any) -> dict[str, Any]:
    """Return what a page shows as plain values."""
    assert is_dataclass(page)
    assert not isinstance(page, type)
    return {"title": type(page).__dict__.get("title", ""), **asdict(page)}


def frame_of(visit: Visit) -> Frame:
    """Return what stands around a page for this visitor. The home is named only to those who have signed in."""
    theme = visit.request.cookies.get("theme", "")
    return Frame(
        visit.site.plan.home.name if visit.account is not None else "",
        "" if visit.account is None else visit.account.name,
        visit.role,
        visit.csrf,
        theme if theme in THEMES else "auto",
        visit.request.url.path.removesuffix(".json"),
        frozenset(path for path, roles in visit.site.open_to.items() if visit.role in roles),
    )

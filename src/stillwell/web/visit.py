"""One request of somebody to one home."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from starlette.requests import Request

from stillwell.store.accounts import Account, Session, Trace
from stillwell.web.site import Site


@dataclass(frozen=True, slots=True)
class Visit:
    """Who asks for what. ``session`` and ``account`` are None for somebody who has not signed in.

    ``csrf`` is what a form of this visitor must bring back; ``form`` what one has brought (a POST).
    """

    request: Request
    site: Site
    session: Session | None
    account: Account | None
    csrf: str
    form: Mapping[str, str] = field(default_factory=dict)

    @property
    def role(self) -> str:
        """The visitor's role; empty for somebody who has not signed in."""
        return "" if self.account is None else self.account.role

    @property
    def address(self) -> str:
        """Where the request came from."""
        return self.request.client.host if self.request.client else ""

    @property
    def wants_json(self) -> bool:
        """Whether JSON was asked for: by the address, or by an Accept that names it and no HTML."""
        accepts = self.request.headers.get("accept", "")
        return self.request.url.path.endswith(".json") or ("application/json" in accepts and "text/html" not in accepts)

    def note(self, what: str, subject: str = "", who: str = "") -> None:
        """Keep in the trail what this visitor did."""
        name = who or ("" if self.account is None else self.account.name)
        self.site.accounts.note(Trace(self.site.now_ms(), name, what, subject[:200], self.address))

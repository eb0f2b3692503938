"""What `stillwell serve` shows, put together from files."""

from pathlib import Path
from typing import TYPE_CHECKING

from stillwell.cli.home import plan_path
from stillwell.files import read_text
from stillwell.plan.read import read_plan
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.web.site import Site

_HOSTED = ("postgresql://", "postgres://")


def site_of(home: str, store: str | None, record: str | None, accounts: str | None) -> "Site":
    """Return the home to show. Raises Refusal for a plan that is wrong or a record that is not there."""
    from stillwell.control.client import Control
    from stillwell.store.accounts import Accounts
    from stillwell.store.look import Look
    from stillwell.web.site import Site

    file = plan_path(home)
    text = read_text(file)
    plan = read_plan(text, str(file))
    if record is not None and not Path(record).is_file():
        raise refuse("there is no such record", "Name the file that `simulate` or `import` wrote.", file=record)
    return Site(
        plan,
        text,
        file,
        Accounts(Path(accounts) if accounts else _accounts(file, store)),
        None if store is None else Look(store),
        None if store is None else Control(store),
        None if record is None else Path(record),
    )


def _accounts(plan: Path, store: str | None) -> Path:
    if store is not None and not store.startswith(_HOSTED):
        return Path(f"{store}.accounts")
    return plan.with_suffix(".accounts")

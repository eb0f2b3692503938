"""The home that a command is about."""

from pathlib import Path
from typing import TYPE_CHECKING, Final

from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.plan.model import Plan

PLAN_FILE: Final = "home.toml"


def plan_path(home: str) -> Path:
    """Return the plan's file; ``home`` is that file or its folder. Raises Refusal for a folder without one."""
    path = Path(home)
    if not path.is_dir():
        return path
    if not (path / PLAN_FILE).exists():
        raise refuse(f"there is no {PLAN_FILE} in this folder", "Name the folder that holds it.", file=home)
    return path / PLAN_FILE


def read_home(home: str) -> "Plan":
    """Return the plan of a home. Raises Refusal with everything that is wrong with it."""
    from stillwell.files import read_text
    from stillwell.plan.read import read_plan

    path = plan_path(home)
    return read_plan(read_text(path), str(path))

from pathlib import Path

import pytest

from stillwell.plan.read import read_plan

COTTAGE = Path(__file__).parents[3] / "examples" / "cottage" / "home.toml"


@pytest.fixture(scope="session")
def cottage():
    return read_plan(COTTAGE.read_text(encoding="utf-8"), str(COTTAGE))

"""The exported JSON Schema, judged by the ``jsonschema`` library (draft 2020-12)."""

import json
import tomllib
from pathlib import Path

import pytest

jsonschema = pytest.importorskip("jsonschema")

ROOT = Path(__file__).parents[2]
SCHEMA = json.loads((ROOT / "docs/reference/home.schema.json").read_text("utf-8"))
SMALL = (ROOT / "tests/unit/plan/small.toml").read_text("utf-8")


def accepts(text: str) -> bool:
    return jsonschema.Draft202012Validator(SCHEMA).is_valid(tomllib.loads(text))


def test_it_is_a_schema():
    jsonschema.Draft202012Validator.check_schema(SCHEMA)


def test_every_default_fits_its_own_key():
    keys = [key for table in (SCHEMA, *SCHEMA["$defs"].values()) for key in table["properties"].values()]
    defaults = [key for key in keys if "default" in key]
    assert len(defaults) > 10
    for key in defaults:
        jsonschema.Draft202012Validator({**key, "$defs": SCHEMA["$defs"]}).validate(key["default"])


@pytest.mark.parametrize("file", sorted(ROOT.glob("examples/*/home.toml")), ids=lambda file: file.parent.name)
def test_plans_fit(file):
    jsonschema.Draft202012Validator(SCHEMA).validate(tomllib.loads(file.read_text("utf-8")))


def test_the_small_plan_fits():
    assert accepts(SMALL)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ('supervision = "2h"', 'supervison = "2h"'),
        ('supervision = "2h"', "supervision = 2"),
        ('supervision = "2h"', 'supervision = "2 hours"'),
        ('kind = "movement"', 'kind = "motion"'),
        ('kind = "movement"', ""),
        ("[parts.kettle]", "[parts.Kettle]"),
        ("[upkeep]", "[upkep]"),
        ("[[0, 2], [4, 2], [4, 6], [0, 6]]", "[[0, 2], [4, 2]]"),
        ('name = "Ada Hill"', "name = 3"),
        ('name = "Ada Hill"', 'name = "Ada Hill "'),
        ('then = "repeat"', 'then = "again"'),
        ('claim = "kettle.on and holiday is on"', ""),
    ],
)
def test_mistakes_of_shape_do_not_fit(old, new):
    text = SMALL.replace('steps = [\n    { whom = ["ben"]', 'then = "repeat"\nsteps = [\n    { whom = ["ben"]')
    assert accepts(text)
    assert old in text
    assert not accepts(text.replace(old, new, 1))

"""The schema for editors stands in the docs as the program would write it, and says something about each key."""

from pathlib import Path

import pytest

from stillwell.plan.fields import keys_at
from stillwell.plan.schema import json_schema, schema_text

pytestmark = pytest.mark.base

FILE = Path(__file__).parents[3] / "docs/reference/home.schema.json"


def test_the_file_in_the_docs_is_what_the_program_writes():
    assert FILE.read_text("utf-8") == schema_text(), "write schema_text() of stillwell.plan.schema to this file"


def test_keys_are_those_that_the_reader_takes():
    schema = json_schema()
    assert tuple(schema["properties"]) == keys_at(())
    assert tuple(schema["$defs"]["Alarm"]["properties"]) == keys_at(("alarm", 0))
    assert schema["additionalProperties"] is False


def test_texts_below_the_fields_reach_the_editor():
    part = json_schema()["$defs"]["Part"]
    assert part["properties"]["supervision"]["description"] == "The longest silence before it counts as lost."
    assert part["properties"]["supervision"]["type"] == "string"  # TOML has no null to choose

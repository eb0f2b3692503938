"""The JSON Schema of ``home.toml``, for editors that help while it is written."""

import ast
import inspect
import json
from itertools import pairwise
from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import GenerateJsonSchema, JsonSchemaWarningKind

from stillwell.plan import model as models
from stillwell.plan.model import Plan
from stillwell.plan.texts import days_text
from stillwell.rules.words import duration_text


def json_schema() -> dict[str, Any]:
    """Return the schema (draft 2020-12); each key carries the text that stands below it in the model."""
    schema = Plan.model_json_schema(by_alias=True, schema_generator=_Generator)
    for name, definition in schema["$defs"].items():
        _describe(definition, getattr(models, name))
    _describe(schema, Plan)
    schema["$defs"]["Part"]["properties"]["power"].pop("default")  # it depends on the kind
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "home.toml",
        "description": "One home as a plan: the place, its parts, the people and the rules.",
    }


def schema_text() -> str:
    """Return the schema as the text of docs/reference/home.schema.json."""
    return json.dumps(json_schema(), indent=2, ensure_ascii=False) + "\n"


class _Generator(GenerateJsonSchema):
    # a default that is a rule; the annotation is the base class's
    ignored_warning_kinds: set[JsonSchemaWarningKind] = {"non-serializable-default"}  # noqa: RUF012


def _describe(definition: dict[str, Any], model: type[BaseModel]) -> None:
    texts = _texts_below_fields(model)
    for name, field in model.model_fields.items():
        shown = definition["properties"][field.alias or name]
        _leave_out_null(shown)
        _refuse_other_names(shown)
        _write_durations(shown)
        _write_days(shown)
        shown.pop("title", None)
        if name in texts:
            shown["description"] = texts[name]


def _leave_out_null(shown: dict[str, Any]) -> None:
    """TOML knows no null: what may be missing is simply left out."""
    choices = [choice for choice in shown.get("anyOf", ()) if choice != {"type": "null"}]
    if len(choices) == 1 and shown["default"] is None:
        del shown["anyOf"], shown["default"]
        shown.update(choices[0])


def _refuse_other_names(shown: dict[str, Any]) -> None:
    if "patternProperties" in shown:
        shown["additionalProperties"] = False


def _write_durations(shown: dict[str, Any]) -> None:
    if shown.get("type") == "string" and isinstance(shown.get("default"), int):
        default = shown.pop("default")
        if default:
            shown["default"] = duration_text(default)


def _write_days(shown: dict[str, Any]) -> None:
    if shown.get("type") == "string" and isinstance(shown.get("default"), list):
        shown["default"] = days_text(frozenset(shown["default"]))


def _texts_below_fields(model: type[BaseModel]) -> dict[str, str]:
    (body,) = (node.body for node in ast.parse(inspect.getsource(model)).body if isinstance(node, ast.ClassDef))
    found = {}
    for field, text in pairwise(body):
        if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name) and isinstance(text, ast.Expr):
            found[field.target.id] = str(ast.literal_eval(text.value))
    return found

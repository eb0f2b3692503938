"""A settings file to settings; where that cannot be, everything that is wrong in it, each in its place."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeAlias

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from stillwell.channels.ways import unusable
from stillwell.civiltime import find_zone, nearest_zone_names
from stillwell.files import read_text
from stillwell.heartbeat import SHORTEST_KEY_BYTES
from stillwell.keeper.settings import Call, CallStep, Home, Keeping, Mail, Person, Settings, Sources
from stillwell.plan.naming import nearest, path_name, short
from stillwell.plan.positions import Positions
from stillwell.plan.tables import read_tables
from stillwell.plan.texts import RuleFault
from stillwell.problem import Place, Problem, Refusal, refuse


def read_settings(path: Path, environment: Mapping[str, str]) -> Settings:
    """Read a settings file. Raises Refusal with everything that is wrong in it."""
    _private(path)
    return parse_settings(read_text(path), str(path), Sources(path.parent, environment))


def parse_settings(text: str, file: str, sources: Sources) -> Settings:
    """Read settings from their text; ``file`` is only the name that problems are told with."""
    data = read_tables(text, file)
    try:
        settings = Settings.model_validate(data, context=sources)
        faults = list(_unfit(settings))
    except ValidationError as error:
        faults = [_fault(each) for each in error.errors(include_url=False, include_input=False)]
    if not faults:
        return settings
    positions = Positions(text)
    problems = []
    for path, what, remedy in faults:
        line, column = positions.place(path)
        problems.append(Problem(what, Place(file, line, column, path_name(path, data)), remedy))
    raise Refusal(sorted(problems, key=lambda one: (one.place.line or 0, one.place.column or 0)))


_Fault: TypeAlias = tuple[tuple[str | int, ...], str, str]
"""Where, what, and what would be right."""


def _unfit(settings: Settings) -> Iterator[_Fault]:
    """Yield what is wrong between tables that are each well formed."""
    zone = settings.keeper.timezone
    if find_zone(zone) is None:
        near = " or ".join(nearest_zone_names(zone)) or "Europe/London"
        yield ("keeper", "timezone"), f'there is no time zone "{short(zone)}"', f"Write a name such as {near}."
    if (settings.keeper.certificate is None) != (settings.keeper.certificate_key is None):
        yield ("keeper",), "certificate and certificate_key belong together", "Name both, or neither."
    for name, home in settings.homes.items():
        if len(home.key.get_secret_value().encode()) < SHORTEST_KEY_BYTES:
            remedy = f"Take {SHORTEST_KEY_BYTES} characters or more, as from: openssl rand -hex 32"
            yield ("homes", name, "key"), "this key is too short", remedy
        if home.dark_after < 1000:
            yield ("homes", name, "dark_after"), "this is too short", "Take five heartbeats of the home or more."
        if home.call not in settings.calls:
            hint = nearest(home.call, settings.calls, "Call lists")
            yield ("homes", name, "call"), f'there is no call list "{short(home.call)}"', hint
    addresses = {
        name: {channel: secret.get_secret_value() for channel, secret in person.channels.items()}
        for name, person in settings.people.items()
    }
    for person, channel, why in unusable(addresses, settings.mail_server):
        yield ("people", person, "channels", channel), "this address cannot be right", f"For {why}."
    for name, call in settings.calls.items():
        yield from _unfit_steps(settings, name, call)


def _unfit_steps(settings: Settings, name: str, call: Call) -> Iterator[_Fault]:
    for number, step in enumerate(call.steps):
        path = ("calls", name, "steps", number)
        for place, person in enumerate(step.whom):
            if person not in settings.people:
                hint = nearest(person, settings.people, "People")
                yield (*path, "whom", place), f'there is no person "{short(person)}"', hint
            elif step.by not in settings.people[person].channels:
                channels = settings.people[person].channels
                yield (
                    (*path, "by"),
                    f'"{short(step.by)}" does not reach {person}',
                    nearest(step.by, channels, "Channels"),
                )
    if call.steps[-1].wait < 1000:
        path = ("calls", name, "steps", len(call.steps) - 1)
        yield (*path, "wait"), "after the last step it must wait before it goes on", 'Write "5min" or so.'
    if call.still_true_after < 1000:
        yield ("calls", name, "still_true_after"), "this is too short", 'Write "4h" or so.'


def _fault(error: ErrorDetails) -> _Fault:
    path = tuple(piece for piece in error["loc"] if piece != "[key]")
    context: Mapping[str, Any] = error.get("ctx", {})
    match error["type"], context.get("error"):
        case "missing", _:
            return path, f"{path[-1]} is missing", "Add it."
        case "extra_forbidden", _:
            return (
                path,
                f'there is no key "{short(str(path[-1]))}" here',
                nearest(str(path[-1]), _keys(path), "Keys here"),
            )
        case "literal_error", _:
            return path, "this word is not known here", f"It is one of: {context['expected'].replace(chr(39), '')}."
        case "unfit", _:
            return path, context["what"], context["remedy"]
        case "value_error", RuleFault() as fault:
            return path, fault.mistake.what, fault.mistake.hint
        case "string_pattern_mismatch", _ if path[-1:] == ("public",):
            return path, "this is no address", 'Write it as in "https://keeper.example.org".'
        case "string_pattern_mismatch", _:
            return path, "this cannot be a name", "Names of tables are small letters, digits and _."
        case _:
            return path, "this does not fit here", f"{error['msg']}."


def _keys(path: tuple[str | int, ...]) -> list[str]:
    tables: dict[object, type[BaseModel]] = {
        "keeper": Keeping, "homes": Home, "people": Person, "calls": Call, "mail": Mail, "steps": CallStep,
    }  # fmt: skip
    outer = next((piece for piece in reversed(path[:-1]) if piece in tables), None)
    return list((Settings if outer is None else tables[outer]).model_fields)


def _private(path: Path) -> None:
    try:
        open_to_others = path.stat().st_mode & 0o007
    except OSError:
        return  # whoever reads it says so
    if open_to_others:
        raise refuse("everybody on this machine can read the keys in this file", f"chmod 600 {path}", file=str(path))

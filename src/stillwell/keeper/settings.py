"""The keeper's settings: which homes it watches over, by which keys, and whom it tells. Its own file, its own lists.

A key, password or address is a text, ``{ file = "name" }`` for the first line of a file (beside the settings, unless
it says where) or ``{ env = "NAME" }`` for a variable of the environment. None of them is ever quoted.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import (
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    SecretStr,
    ValidationInfo,
    model_validator,
)
from pydantic_core import PydanticCustomError

from stillwell.alarms.call_list import CallList, Channel, Responder, Step
from stillwell.channels.mail import MailServer
from stillwell.civiltime import find_zone
from stillwell.files import read_text
from stillwell.keeper.dark import Terms
from stillwell.plan.model import Name, Title
from stillwell.plan.naming import short
from stillwell.plan.texts import DurationMs
from stillwell.problem import Refusal


@dataclass(frozen=True, slots=True)
class Sources:
    """Where secrets may be read from."""

    folder: Path
    environment: Mapping[str, str]


def _secret(value: object, info: ValidationInfo) -> object:
    if not isinstance(value, Mapping):
        return value
    sources = info.context
    assert isinstance(sources, Sources)  # nothing else reads this file
    match dict(value):
        case {"file": str(name), **rest} if not rest:
            return _first_line(sources.folder / name)
        case {"env": str(name), **rest} if not rest:
            if name not in sources.environment:
                raise _wrong(f'there is no variable "{short(name)}" in the environment', "Set it, or name another.")
            return sources.environment[name]
    raise _wrong("this does not fit here", 'Write a text, { file = "name" } or { env = "NAME" }.')


def _first_line(path: Path) -> str:
    try:
        lines = read_text(path, 64 * 1024).splitlines()
    except Refusal as refusal:
        problem = refusal.problems[0]
        raise _wrong(f"{path}: {problem.what}", problem.remedy) from refusal
    if not lines:
        raise _wrong(f"{path}: this file is empty", "The first line is what counts.")
    return lines[0].strip()


def _wrong(what: str, remedy: str) -> PydanticCustomError:
    return PydanticCustomError("unfit", "{what}", {"what": what, "remedy": remedy})


Secret = Annotated[SecretStr, Field(min_length=1, max_length=4096), BeforeValidator(_secret)]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class Keeping(_Table):
    """Where the keeper listens and how people reach it."""

    public: Annotated[str, Field(pattern=r"^https?://[^\s?#]+$", max_length=200)]
    """The address under which people reach it; the links in its messages begin so."""
    timezone: str = "UTC"
    """The clock that its messages tell time by."""
    host: str = "127.0.0.1"
    port: Annotated[int, Field(ge=1, le=65_535)] = 8480
    certificate: str | None = None
    certificate_key: str | None = None
    """Files, for HTTPS without a proxy before it."""
    status_password: Secret | None = None
    """Without it nobody sees the page of all homes."""
    settle: DurationMs = 180_000
    """After it was down itself, how long it waits at most for a home to be heard before it calls it dark."""


class Home(_Table):
    """A home that is watched over."""

    name: Title
    key: Secret
    dark_after: DurationMs = 600_000
    """How long no sign of life may come."""
    call: str


class Person(_Table):
    """Somebody who can be told: by each channel, an address, a service://... or a run:PROGRAM."""

    name: Title
    channels: Annotated[Mapping[Name, Secret], Field(min_length=1, max_length=20)]


class CallStep(_Table):
    """One step: whom, by what, how long to wait for an answer, how often before the next."""

    whom: Annotated[tuple[str, ...], Field(min_length=1, max_length=20)]
    by: str
    wait: DurationMs
    repeat: Annotated[int, Field(ge=1, le=20)] = 1


class Call(_Table):
    """Who is told, in order, until somebody acknowledges."""

    steps: Annotated[tuple[CallStep, ...], Field(min_length=1, max_length=50)]
    then: Literal["repeat", "everyone"] = "everyone"
    still_true_after: DurationMs = 4 * 3_600_000
    """So long after an answer it asks again if the home is still dark."""


class Mail(_Table):
    """The server that takes our mail."""

    host: str
    port: Annotated[int, Field(ge=1, le=65_535)] = 587
    security: Literal["starttls", "tls", "none"] = "starttls"
    user: str | None = None
    password: Secret | None = None
    sender: str
    ca_file: str | None = None
    """Certificates to trust; without it those of the system."""


class Settings(_Table):
    """The file, whole."""

    keeper: Keeping
    homes: Annotated[Mapping[Name, Home], Field(min_length=1, max_length=500)]
    people: Annotated[Mapping[Name, Person], Field(min_length=1, max_length=500)]
    calls: Annotated[Mapping[Name, Call], Field(min_length=1, max_length=100)]
    mail: Mail | None = None

    @model_validator(mode="after")
    def _private_keys(self) -> Self:
        keys = [home.key.get_secret_value() for home in self.homes.values()]
        if len(set(keys)) < len(keys):
            # Whoever holds the key of one home could then speak for the other.
            raise _wrong("two homes have the same key", "Make one for each, as from: openssl rand -hex 32")
        return self

    @property
    def zone(self) -> ZoneInfo:
        """The clock that messages tell time by."""
        return find_zone(self.keeper.timezone) or ZoneInfo("UTC")

    @property
    def mail_server(self) -> MailServer | None:
        """Return the server that takes our mail."""
        if self.mail is None:
            return None
        given = self.mail
        password = None if given.password is None else given.password.get_secret_value()
        return MailServer(given.host, given.port, given.security, given.sender, given.user, password, given.ca_file)

    def address(self, person: str, channel: str) -> str | None:
        """Return the address of a person on a channel, None where there is none (any more)."""
        found = self.people.get(person)
        secret = None if found is None else found.channels.get(channel)
        return None if secret is None else secret.get_secret_value()

    def terms(self, home: str) -> Terms:
        """Return what was agreed for a home."""
        agreed = self.homes[home]
        return Terms(home, agreed.dark_after, self.keeper.settle, self._call_list(agreed.call))

    def _call_list(self, name: str) -> CallList:
        call = self.calls[name]
        people = tuple(
            Responder(key, tuple(Channel(kind) for kind in person.channels)) for key, person in self.people.items()
        )
        steps = tuple(Step(step.whom, step.by, step.wait / 1000, step.repeat) for step in call.steps)
        return CallList(name, people, steps, call.then, call.still_true_after / 1000)


def secrets_in(table: object) -> Iterator[str]:
    """Yield every secret, for the log to hide."""
    if isinstance(table, SecretStr):
        yield table.get_secret_value()
    elif isinstance(table, Mapping):
        for value in table.values():
            yield from secrets_in(value)
    elif isinstance(table, BaseModel):
        for _, value in table:
            yield from secrets_in(value)

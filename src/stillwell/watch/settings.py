"""What does not belong into a plan: addresses, keys, passwords, where the broker is. A TOML file of its own."""

import tomllib
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, SecretStr, ValidationError

from stillwell.files import read_text
from stillwell.plan.naming import nearest
from stillwell.problem import Place, Problem, Refusal, refuse

Port = Annotated[int, Field(ge=1, le=65_535)]
Filter = Annotated[str, Field(pattern=r"^[a-z0-9_/-]{1,60}$")]


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


class Broker(_Table):
    """The message broker."""

    host: str = "127.0.0.1"
    port: Port = 1883
    user: str | None = None
    password: SecretStr | None = None
    tls: bool = False
    ca_file: str | None = None
    """Certificates to trust; without it those of the system."""
    client: str | None = None
    """The name of this watch at the broker; without it one made from the plan's name."""
    prefix: Filter = "stillwell"
    """How topics of parts begin that name none of their own."""
    version: Literal["5", "3.1.1"] = "5"


class Http(_Table):
    """Where parts may report by HTTP, and answers come in."""

    host: str = "127.0.0.1"
    port: Port = 8470
    public: str = ""
    """The address that people reach it by; links in messages begin with it."""


class Mail(_Table):
    """The server that takes our mail."""

    host: str
    port: Port = 587
    security: Literal["starttls", "tls", "none"] = "starttls"
    user: str | None = None
    password: SecretStr | None = None
    sender: str
    ca_file: str | None = None
    """Certificates to trust; without it those of the system."""


class Keeper(_Table):
    """The keeper outside."""

    url: Annotated[str, Field(pattern=r"^https?://[^/\s]+")]
    home: str
    key: SecretStr
    ca_file: str | None = None
    """Certificates to trust; without it those of the system."""


class Metrics(_Table):
    """The figures for a collector, at /metrics on this machine."""

    open: bool = False
    """Whether anybody on this machine may read them; else they need the control key."""
    port: Port | None = None
    """A port of their own to be found at; without it that of the control way, another at each start."""


class Settings(_Table):
    """The file, whole."""

    broker: Broker | None = None
    http: Http | None = None
    mail: Mail | None = None
    keeper: Keeper | None = None
    metrics: Metrics | None = None
    link_key: SecretStr | None = None
    """Signs the links in messages."""
    control_key: SecretStr | None = None
    """What the command line shows to a running watch."""
    tokens: Mapping[str, SecretStr] = Field(default_factory=dict)
    """Of each part that reports by HTTP."""
    people: Mapping[str, Mapping[str, SecretStr]] = Field(default_factory=dict)
    """Of each person and channel, the address."""


SHORTEST_KEY: Final = 16


def read_settings(path: Path) -> Settings:
    """Read a settings file. Raises Refusal with everything that is wrong in it; no value is ever quoted."""
    _private(path)
    settings = parse_settings(read_text(path), str(path))
    weak = [name for name, key in _keys(settings) if len(key.get_secret_value()) < SHORTEST_KEY]
    if weak:
        raise Refusal(
            Problem(
                "this key is too short",
                Place(str(path), name=name),
                f"Take {SHORTEST_KEY} letters and digits or more, as from: openssl rand -hex 16",
            )
            for name in weak
        )
    return settings


def parse_settings(text: str, file: str = "") -> Settings:
    """Read settings from their text."""
    try:
        return Settings.model_validate(tomllib.loads(text))
    except tomllib.TOMLDecodeError as error:
        raise refuse(f"this is not TOML: {error}", "Look at that line.", file=file) from None
    except ValidationError as error:
        raise Refusal([_problem(each, file) for each in error.errors(include_url=False, include_input=False)]) from None


def secrets_in(settings: BaseModel | Mapping[str, Any]) -> Iterator[str]:
    """Yield every secret, for the log to hide."""
    values = settings.values() if isinstance(settings, Mapping) else (value for _, value in settings)
    for value in values:
        if isinstance(value, SecretStr):
            yield value.get_secret_value()
        elif isinstance(value, BaseModel | Mapping):
            yield from secrets_in(value)


def _keys(settings: Settings) -> Iterator[tuple[str, SecretStr]]:
    for name in ("link_key", "control_key"):
        key = getattr(settings, name)
        if key is not None:
            yield name, key
    if settings.keeper is not None:
        yield "keeper, key", settings.keeper.key
    for part, token in settings.tokens.items():
        yield f"tokens, {part}", token


def _problem(error: Any, file: str) -> Problem:
    path = [str(piece) for piece in error["loc"]]
    place = Place(file, name=", ".join(path))
    if error["type"] == "extra_forbidden":
        hint = nearest(path[-1], _keys_of(path[:-1]), "Keys here")
        return Problem(f'there is no key "{path[-1]}" here', place, hint, code="unknown-key")
    if error["type"] == "missing":
        return Problem(f"{path[-1]} is missing", place, "Add it.", code="missing-key")
    return Problem("this does not fit here", place, f"{error['msg']}.", code="unfit")


def _keys_of(path: list[str]) -> list[str]:
    tables: dict[str, type[_Table]] = {
        "broker": Broker,
        "http": Http,
        "mail": Mail,
        "keeper": Keeper,
        "metrics": Metrics,
    }
    table = Settings if not path else tables.get(path[0])
    return [] if table is None else list(table.model_fields)


def _private(path: Path) -> None:
    try:
        open_to_others = path.stat().st_mode & 0o007
    except OSError:
        return  # whoever reads it says so
    if open_to_others:
        raise refuse("everybody on this machine can read the keys in this file", f"chmod 600 {path}", file=str(path))

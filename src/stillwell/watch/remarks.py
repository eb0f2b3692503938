"""What is found wanting in the settings when a watch starts, in plain words. It runs all the same."""

from collections.abc import Iterator, Mapping
from typing import Final
from urllib.parse import urlsplit

from stillwell.channels.mail import MailServer
from stillwell.channels.ways import unusable
from stillwell.plan.model import Plan
from stillwell.watch.settings import Settings
from stillwell.wording.rules import name_alone

_HERE: Final = frozenset({"127.0.0.1", "::1", "localhost"})


def remarks(plan: Plan, settings: Settings, without_address: list[tuple[str, str]]) -> Iterator[str]:
    """Yield a sentence for each thing; ``without_address`` holds persons and channels that call lists use in vain."""
    for person, channel in without_address:
        yield (
            f"{_name(plan, person)} cannot be told by {channel}: write their address under [people.{person}], "
            f"{channel}, in the settings."
        )
    for person, channel, why in unusable(addresses(settings), mail_server(settings)):
        yield f"The address for {_name(plan, person)} by {channel} cannot be right: {why}."
    for person in sorted(set(settings.people) - set(plan.people)):
        yield f"The settings have an address for {person}, whom the plan does not know."
    for part in sorted(set(settings.tokens) - set(plan.parts)):
        yield f"The settings have a token for {part}, a part that the plan does not know."
    if plan.upkeep is None:
        yield "The plan has no [upkeep], so nobody hears of lost parts, nor of what ails the watch itself."
    if settings.keeper is None:
        yield "No [keeper] is named in the settings, so nobody notices if this home goes dark."
    if settings.http is None or not settings.http.public:
        yield (
            "Links in messages lead nowhere outside of this machine: name the address that people reach it by as "
            "public under [http] in the settings."
        )
    yield from _in_the_clear(settings)


def _in_the_clear(settings: Settings) -> Iterator[str]:
    """Yield a sentence for each secret that anybody on the way could read."""
    broker, http, mail = settings.broker, settings.http, settings.mail
    if broker is not None and not broker.tls and broker.host not in _HERE:
        yield "What goes to the broker and back can be read and altered on the way: set tls = true under [broker]."
    if broker is not None and broker.user is None and broker.host not in _HERE:
        yield "The broker asks for no name and password, so anybody who reaches it can speak for any part."
    if mail is not None and mail.security == "none" and mail.host not in _HERE:
        yield 'Mail can be read on the way: set security = "starttls" or "tls" under [mail].'
    if http is not None and http.host not in _HERE:
        yield (
            "Reports by HTTP, with their tokens, can be read on the way: let the watch listen to this machine alone, "
            "behind a proxy that brings HTTPS."
        )
    if http is not None and http.public.startswith("http://") and urlsplit(http.public).hostname not in _HERE:
        yield "Links in messages can be read on the way: public under [http] begins with http, not https."


def mail_server(settings: Settings) -> MailServer | None:
    """Return the server that takes our mail; None where none is named."""
    own = settings.mail
    if own is None:
        return None
    password = None if own.password is None else own.password.get_secret_value()
    return MailServer(own.host, own.port, own.security, own.sender, own.user, password, own.ca_file)


def addresses(settings: Settings) -> Mapping[str, Mapping[str, str]]:
    """Return the addresses by person and channel."""
    return {
        person: {channel: secret.get_secret_value() for channel, secret in by_channel.items()}
        for person, by_channel in settings.people.items()
    }


def _name(plan: Plan, person: str) -> str:
    known = plan.people.get(person)
    return name_alone(known.name) if known is not None else person

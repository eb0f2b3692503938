"""From the form of an address to the way of telling."""

import re
from collections.abc import Iterator, Mapping
from typing import Final

from stillwell.channels.command import command
from stillwell.channels.mail import MailServer, mail
from stillwell.channels.notice import Channel, Delivery, Notice, failed
from stillwell.channels.through_apprise import through_apprise

RUN: Final = "run:"
_MAIL: Final = re.compile(r"(?:mailto:)?([^\s@:/]+@[^\s@:/]+)")


def by_address(server: MailServer | None) -> Channel:
    """Return the channel that takes any address: ``ruth@example.org``, ``run:PROGRAM ...``, ``service://...``."""
    by_mail = None if server is None else mail(server)

    def send(address: str, notice: Notice) -> Delivery:
        address = address.strip()
        if address.startswith(RUN):
            return command(address.removeprefix(RUN), notice)
        if found := _MAIL.fullmatch(address):
            return failed("the settings name no mail server") if by_mail is None else by_mail(found[1], notice)
        if "://" in address:
            return through_apprise(address, notice)
        return failed("the address has no form that is known here")

    return send


def unusable(addresses: Mapping[str, Mapping[str, str]], server: MailServer | None) -> Iterator[tuple[str, str, str]]:
    """Yield (person, channel, why) of each address that cannot be right, without sending anything."""
    for person, by_channel in addresses.items():
        for channel, given in by_channel.items():
            address = given.strip()
            if _MAIL.fullmatch(address):
                if server is None:
                    yield person, channel, "it is a mail address, and the settings name no mail server"
            elif not address.removeprefix(RUN) or not (address.startswith(RUN) or "://" in address):
                yield person, channel, "it is no mail address, no run:PROGRAM and no service://..."

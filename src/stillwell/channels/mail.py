"""Mail, handed to the mail server by us: one connection for each mail, so that none waits for another."""

import smtplib
import ssl
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from email.errors import MessageError
from email.message import EmailMessage
from email.utils import format_datetime, parseaddr
from typing import Literal

from stillwell.channels.notice import DELIVERED, Delivery, Notice, failed


@dataclass(frozen=True, slots=True)
class MailServer:
    """The server that takes our mail. ``ca_file``: certificates to trust; without it those of the system.

    ``patience_s``: how long one of its answers may take.
    """

    host: str
    port: int
    security: Literal["starttls", "tls", "none"]
    sender: str
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    ca_file: str | None = None
    patience_s: float = 10.0


def mail(server: MailServer) -> Callable[[str, Notice], Delivery]:
    """Return the channel that mails by a server."""

    def send(address: str, notice: Notice) -> Delivery:
        try:
            letter = written(server.sender, address, notice)
            connection = _connected(server)
            try:
                if server.user is not None:
                    connection.login(server.user, server.password or "")
                connection.send_message(letter)
            finally:
                _taken_leave(connection)
        except smtplib.SMTPRecipientsRefused as error:
            code = next(iter(error.recipients.values()))[0]
            return failed(f"the mail server refuses this address ({code})")
        except smtplib.SMTPAuthenticationError as error:
            return failed(f"the mail server refuses our user or password ({error.smtp_code})")
        except smtplib.SMTPResponseException as error:
            return failed(f"the mail server refuses ({error.smtp_code})")
        except smtplib.SMTPNotSupportedError:
            return failed("the mail server cannot do what the settings ask for")
        except ssl.SSLError as error:
            return failed(f"no safe connection to the mail server: {error.reason or 'the certificate does not fit'}")
        except (smtplib.SMTPException, OSError) as error:
            # The library puts one of its own errors in place of the time-out.
            late = isinstance(error, TimeoutError) or isinstance(error.__context__, TimeoutError)
            return failed("the mail server does not answer in time" if late else "no connection to the mail server")
        except (ValueError, MessageError):
            return failed("this is no mail address")
        return DELIVERED

    return send


def written(sender: str, address: str, notice: Notice) -> EmailMessage:
    """Write the mail. Sent twice it is the same letter: Message-ID and Date come from the notice (RFC 5322, 3.6).

    Auto-Submitted (RFC 3834) keeps absence notes from answering it; Importance is that of RFC 2156.
    """
    domain = parseaddr(sender)[1].rpartition("@")[2] or "localhost"
    letter = EmailMessage()
    letter["From"] = sender
    letter["To"] = address
    letter["Subject"] = notice.subject
    letter["Date"] = format_datetime(datetime.fromtimestamp(notice.at_ms / 1000, UTC))
    letter["Message-ID"] = f"<{notice.key}@{domain}>"
    letter["Auto-Submitted"] = "auto-generated"
    letter["Importance"] = "high"
    letter.set_content(notice.text)
    return letter


def _connected(server: MailServer) -> smtplib.SMTP:
    if server.security == "tls":
        return smtplib.SMTP_SSL(server.host, server.port, timeout=server.patience_s, context=_trust(server))
    connection = smtplib.SMTP(server.host, server.port, timeout=server.patience_s)
    if server.security == "starttls":
        try:
            connection.starttls(context=_trust(server))
        except BaseException:
            connection.close()
            raise
    return connection


def _taken_leave(connection: smtplib.SMTP) -> None:
    """Say goodbye; what goes wrong now takes nothing back of what the server has taken."""
    with suppress(smtplib.SMTPException, OSError):
        connection.quit()
    connection.close()


def _trust(server: MailServer) -> ssl.SSLContext:
    return ssl.create_default_context(cafile=server.ca_file)

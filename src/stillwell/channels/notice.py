"""What is handed to a channel, and what comes back."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeAlias


@dataclass(frozen=True, slots=True)
class Notice:
    """A message as a person gets it. The same ``key`` is the same message, sent again because nobody knew for sure.

    ``at_ms`` is when it was due, milliseconds UTC. ``link`` is where to answer, empty where there is nothing to answer;
    ``subject`` is empty in a text message.
    """

    key: str
    subject: str
    sentence: str
    link: str
    at_ms: int

    @property
    def text(self) -> str:
        """The sentence, and the link on a line of its own."""
        return f"{self.sentence}\n{self.link}" if self.link else self.sentence


@dataclass(frozen=True, slots=True)
class Delivery:
    """Whether the next station took the notice; where not, why, in a few words that hold no address and no secret."""

    ok: bool
    reason: str = ""


Channel: TypeAlias = Callable[[str, Notice], Delivery]
"""Sends to an address. It may take long, so it is called in a thread of its own; it raises nothing for the world's
mistakes."""

DELIVERED = Delivery(ok=True)


def failed(reason: str) -> Delivery:
    """Make the delivery that did not come about."""
    return Delivery(ok=False, reason=reason)

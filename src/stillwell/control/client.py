"""Asking a running watch, and waiting for its answer or not.

    control = Control("home.db")
    status = control.ask(asks.status())
    status = await control.asked(asks.status(after=status.version, wait_s=25))
    control.ask(asks.alarm("Water", "acknowledge", by="ruth"))

Either raises Refusal, as the watch puts it, where what is asked makes no sense, and NoWatch where none runs.
"""

import asyncio
import socket
from contextlib import suppress
from dataclasses import dataclass
from typing import TypeVar

from stillwell.control.asks import Ask
from stillwell.control.place import Address, announced
from stillwell.control.wire import LARGEST_ANSWER, no_watch, read, where, written

T = TypeVar("T")

_PIECE = 64 * 1024


@dataclass(frozen=True, slots=True)
class Control:
    """The way to the watch that runs on a store, if one does; it may be started, ended and started again meanwhile."""

    store: str

    def ask(self, ask: Ask[T]) -> T:
        """Ask, and wait for the answer."""
        address = self._address()
        answer = bytearray()
        try:
            with socket.create_connection(where(address), ask.patience_s) as connection:
                connection.sendall(written(ask.request, address))
                while piece := connection.recv(_PIECE):
                    answer += piece
                    if len(answer) > LARGEST_ANSWER:
                        raise no_watch("whatever listens there talks without end")
        except TimeoutError as error:
            raise no_watch("it does not answer in time") from error
        except (OSError, ValueError) as error:
            raise no_watch("what was there is gone") from error
        return _understood(ask, bytes(answer))

    async def asked(self, ask: Ask[T]) -> T:
        """Ask; others may do something meanwhile."""
        address = self._address()
        try:
            async with asyncio.timeout(ask.patience_s):
                answer = await _exchanged(address, written(ask.request, address))
        except TimeoutError as error:
            raise no_watch("it does not answer in time") from error
        except (OSError, ValueError) as error:
            raise no_watch("what was there is gone") from error
        return _understood(ask, answer)

    def _address(self) -> Address:
        found = announced(self.store)
        if found is None:
            raise no_watch("nothing says where it would be reached")
        return found


async def _exchanged(address: Address, request: bytes) -> bytes:
    answer = bytearray()
    reader, writer = await asyncio.open_connection(*where(address))
    try:
        writer.write(request)
        await writer.drain()
        while piece := await reader.read(_PIECE):
            answer += piece
            if len(answer) > LARGEST_ANSWER:
                raise no_watch("whatever listens there talks without end")
    finally:
        writer.close()
        with suppress(OSError):
            await writer.wait_closed()
    return bytes(answer)


def _understood(ask: Ask[T], answer: bytes) -> T:
    body = read(answer)
    try:
        return ask.read(body)
    except ValueError as error:
        raise no_watch("it is of another version") from error

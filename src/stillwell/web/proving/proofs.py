"""Proofs, each worked out once, one at a time, in a thread that ends soon after the program is told to."""

import hashlib
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field
from threading import Lock, Thread, main_thread
from typing import Final

from stillwell.plan.model import Plan
from stillwell.proof.prove import prove
from stillwell.proof.proved import Proved

KEPT: Final = 4
"""So many proofs are kept: the plan in use, and those looked at before."""


class EndedError(Exception):
    """The program ends while a proof is worked out."""


@dataclass
class Work:
    """A proof that is being worked out, or is there. ``share`` of it is done, ``hazard`` comes next."""

    done: Future[Proved] = field(default_factory=Future)
    share: float = 0.0
    hazard: str = ""

    def tell(self, share: float, hazard: str) -> None:
        """Take note of how far it is. Raises where the program ends: nobody will ask any more."""
        self.share, self.hazard = share, hazard
        if not main_thread().is_alive():
            raise EndedError


@dataclass
class Proofs:
    """The proofs of one home, the latest asked for last."""

    _works: dict[tuple[str, int], Work] = field(default_factory=dict)
    _at_work: Lock = field(default_factory=Lock)

    def of(self, plan: Plan, text: str, file: str, year: int) -> Work:
        """Return the work on the proof of a plan, begun if it has not been. For one thread only."""
        key = hashlib.sha256(text.encode()).hexdigest(), year
        if key not in self._works:
            while len(self._works) >= KEPT:
                self._works.pop(next(iter(self._works))).done.cancel()
            work = Work()
            Thread(
                target=self._do, args=(work, lambda: _proved(plan, text, file, year, work.tell)), daemon=True
            ).start()
            self._works[key] = work
        return self._works[key]

    def _do(self, work: Work, job: Callable[[], Proved]) -> None:
        with self._at_work:
            if not work.done.set_running_or_notify_cancel():
                return
            try:
                work.tell(0.0, "")
                work.done.set_result(job())
            except BaseException as error:  # noqa: BLE001 - whoever asks for the proof is told
                work.done.set_exception(error)


def _proved(plan: Plan, text: str, file: str, year: int, tell: Callable[[float, str], None]) -> Proved:
    proved = Proved(file, text, plan, prove(plan, year, progress=lambda share, hazard: tell(share * 0.8, hazard)))
    tell(0.8, "what may never be")
    assert proved.findings is not None  # decided here, in the thread, and kept
    tell(0.95, "the protected share of the year")
    assert proved.share is not None
    return proved

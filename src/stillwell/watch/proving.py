"""Proves a changed plan and compares it with the running one, in a process of its own.

A proof takes seconds of a processor and some memory; the watch itself must go on deciding meanwhile, and stay small.

    python -m stillwell.watch.proving < {"running": TEXT, "changed": TEXT, "year": 2026} > {"worse": [...], ...}
"""

import asyncio
import json
import sys
from collections.abc import Mapping
from typing import Any, Final

from stillwell.control.shapes import Compared
from stillwell.control.wire import problems_in, told
from stillwell.plan.read import read_plan
from stillwell.problem import Refusal, refuse

LIMIT_S: Final = 800.0


async def compared(running: str, changed: str, year: int) -> tuple[tuple[Compared, ...], tuple[Compared, ...]]:
    """Return what a changed plan makes worse, and what better. Raises Refusal where it cannot be proved."""
    question = json.dumps({"running": running, "changed": changed, "year": year}).encode()
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-P",  # whatever folder we stand in is no place to import from
        "-m",
        __name__,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        async with asyncio.timeout(LIMIT_S):
            said, _ = await process.communicate(question)
        answer = json.loads(said)
    except TimeoutError:
        raise refuse("the proof took too long", "Prove it elsewhere: stillwell prove HOME.") from None
    except ValueError:
        raise refuse("the proof broke down", "See what `stillwell prove HOME` says of it.") from None
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    if "problems" in answer:
        raise Refusal(problems_in(answer))
    worse, better = ([Compared(*one) for one in answer[name]] for name in ("worse", "better"))
    return tuple(worse), tuple(better)


def answer_to(question: Mapping[str, Any]) -> dict[str, Any]:
    """Return the comparison, or the problems of the changed plan, as plain values."""
    from stillwell.proof.claims.decide import decide_claims  # noqa: PLC0415 - only the process that proves has these
    from stillwell.proof.compare import compare, compare_claims  # noqa: PLC0415
    from stillwell.proof.prove import prove  # noqa: PLC0415
    from stillwell.wording.compared import difference_sentence  # noqa: PLC0415

    year = int(question["year"])
    try:
        plans = read_plan(question["running"], "the running plan"), read_plan(question["changed"], "home.toml")
        proofs = [prove(plan, year) for plan in plans]
    except Refusal as refusal:
        return told(refusal)
    claims = [decide_claims(proof.plan, proof.program, year) for proof in proofs]
    found = [*compare(*proofs), *compare_claims(*claims)]
    said = [(one.worse, [one.hazard, difference_sentence(one, plans[0])]) for one in found]
    return {"worse": [text for worse, text in said if worse], "better": [text for worse, text in said if not worse]}


if __name__ == "__main__":
    json.dump(answer_to(json.load(sys.stdin)), sys.stdout)

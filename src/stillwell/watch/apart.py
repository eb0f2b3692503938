"""Work that takes seconds and much memory, in a process of its own: the watch goes on deciding, and stays small.

A module that works so takes a question from its standard input and leaves the answer at its standard output, both JSON
objects; an answer with ``problems`` in it is a refusal (``control.wire.told``).
"""

import asyncio
import json
import sys
from collections.abc import Callable, Mapping
from typing import Any

from stillwell.control.wire import problems_in, told
from stillwell.problem import Refusal


async def asked(module: str, question: Mapping[str, Any], limit_s: float, late: Refusal, broken: Refusal) -> Any:
    """Run a module of ours with a question and return its answer.

    Raises the module's own Refusal, ``late`` where it takes longer than ``limit_s``, ``broken`` where no JSON comes.
    """
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-P",  # whatever folder we stand in is no place to import from
        "-m",
        module,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.DEVNULL,
    )
    try:
        async with asyncio.timeout(limit_s):
            said, _ = await process.communicate(json.dumps(question).encode())
        found = json.loads(said)
    except TimeoutError:
        raise late from None
    except ValueError:
        raise broken from None
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    if "problems" in found:
        raise Refusal(problems_in(found))
    return found


def answer(answer_to: Callable[[Mapping[str, Any]], Mapping[str, Any]]) -> None:
    """Be the other process: answer the one question that is asked."""
    try:
        found = answer_to(json.load(sys.stdin))
    except Refusal as refusal:
        found = told(refusal)
    json.dump(found, sys.stdout)

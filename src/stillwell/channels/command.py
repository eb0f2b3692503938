"""The hook for everything else: a program of your own, such as one that dials and speaks. See docs/channels.md."""

import os
import shlex
import signal
import subprocess
from contextlib import suppress
from typing import Final

from stillwell.channels.notice import DELIVERED, Delivery, Notice, failed

PATIENCE_S: Final = 120.0
"""How long the program may take: a telephone rings for a while."""

_LONGEST_REASON: Final = 120


def command(line: str, notice: Notice, patience_s: float = PATIENCE_S) -> Delivery:
    """Run a program, without a shell, with the sentence on its standard input; exit code 0: handed over.

    It finds key, subject and link in STILLWELL_KEY, STILLWELL_SUBJECT and STILLWELL_LINK. When its time is over it is
    ended, with whatever it started.
    """
    environment = os.environ | {
        "STILLWELL_KEY": notice.key,
        "STILLWELL_SUBJECT": notice.subject,
        "STILLWELL_LINK": notice.link,
    }
    try:
        words = shlex.split(line)
        program = subprocess.Popen(  # noqa: S603 - the settings file names it, and only its owner writes that
            words,
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            env=environment,
            start_new_session=True,
        )
    except (OSError, ValueError, IndexError) as error:
        why = error.strerror if isinstance(error, OSError) and error.strerror else "the line is no command"
        return failed(f"the command could not be run: {why}")
    try:
        _, complaint = program.communicate(f"{notice.sentence}\n".encode(), patience_s)
    except subprocess.TimeoutExpired:
        return failed("the command took too long")
    finally:
        _end(program)
    if program.returncode == 0:
        return DELIVERED
    first = complaint.decode("utf-8", "replace").strip().partition("\n")[0][:_LONGEST_REASON]
    return failed(f"the command ended with {program.returncode}{f': {first}' if first else ''}")


def _end(program: "subprocess.Popen[bytes]") -> None:
    """End it and what it started; both may be over already."""
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(program.pid, signal.SIGKILL)
    program.wait()
    for pipe in (program.stdin, program.stderr):
        if pipe is not None:
            with suppress(OSError):
                pipe.close()

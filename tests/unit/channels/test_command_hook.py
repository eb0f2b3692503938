import os
import select
import sys

import pytest

from stillwell.channels.command import command
from stillwell.channels.notice import Notice

NOTICE = Notice("the-key", "Smoke", "There is smoke, ring Ada.", "https://home.example/answer/t", 0)


def line(folder, program):
    script = folder / "a hook.py"
    script.write_text(program)
    return f"'{sys.executable}' '{script}' +440000"


def test_the_program_gets_the_sentence_and_ends_with_0(tmp_path):
    out = tmp_path / "out"
    program = f"""
import os, sys
keep = [sys.stdin.read(), sys.argv[1], *(os.environ["STILLWELL_" + name] for name in ("KEY", "SUBJECT", "LINK"))]
open({str(out)!r}, "w").write("|".join(keep))
"""
    assert command(line(tmp_path, program), NOTICE).ok
    assert out.read_text() == "There is smoke, ring Ada.\n|+440000|the-key|Smoke|https://home.example/answer/t"


def test_any_other_ending_is_told_with_the_first_complaint(tmp_path):
    delivery = command(line(tmp_path, "import sys; sys.stderr.write('line busy\\nmore'); sys.exit(3)"), NOTICE)
    assert (delivery.ok, delivery.reason) == (False, "the command ended with 3: line busy")


def test_a_program_that_never_ends_is_ended_with_its_children(tmp_path):
    pid = tmp_path / "pid"
    program = f"""
import subprocess, sys, time
child = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(600)"])
open({str(pid)!r}, "w").write(str(child.pid))
time.sleep(600)
"""
    assert command(line(tmp_path, program), NOTICE, patience_s=1.0).reason == "the command took too long"
    assert ended(int(pid.read_text()))


def ended(pid):
    """Wait until a process, which was sent a signal, has ended; False where it goes on."""
    try:
        handle = os.pidfd_open(pid)
    except ProcessLookupError:
        return True
    try:
        return bool(select.select([handle], [], [], 20)[0])
    finally:
        os.close(handle)


@pytest.mark.parametrize("wrong", ["/no/such/program", "", "'never closed"])
def test_what_cannot_be_run_is_a_failed_delivery(wrong):
    delivery = command(wrong, NOTICE)
    assert not delivery.ok
    assert delivery.reason.startswith("the command could not be run")


def test_no_shell_reads_the_line(tmp_path):
    target = tmp_path / "made"
    command(f"/bin/echo hello; touch {target}", NOTICE)
    assert not target.exists()

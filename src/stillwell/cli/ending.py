"""How every command ends: whose fault it was, said in a line, and an exit code."""

import sys
from collections.abc import Sequence
from io import TextIOWrapper
from typing import Final

import click

from stillwell.cli.program import program
from stillwell.problem import EXIT_REFUSED, Refusal

EXIT_OURS: Final = 70
EXIT_STOPPED: Final = 130


def run(arguments: Sequence[str]) -> int:
    """Run one command and return its exit code. Only ``--debug`` lets an exception out."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # a terminal that knows few letters shows the others by number
            stream.reconfigure(errors="backslashreplace")
    try:
        code = program.main(list(arguments), prog_name="stillwell", standalone_mode=False)
    except Refusal as refusal:
        _tell(refusal, as_json="--json" in arguments)
        return EXIT_REFUSED
    except click.ClickException as wrong:
        wrong.show()
        return EXIT_REFUSED
    except (KeyboardInterrupt, click.Abort):
        click.echo("Stopped.", err=True)
        return EXIT_STOPPED
    except SystemExit:  # click leaves so when whoever read our output has gone away
        return 0
    except Exception as ours:
        if "--debug" in arguments:
            raise
        _own_up(ours, arguments)
        return EXIT_OURS
    return code if isinstance(code, int) else 0


def _tell(refusal: Refusal, *, as_json: bool) -> None:
    if as_json:
        from stillwell.cli.answer import problem_answer, say

        say({"problems": [problem_answer(problem) for problem in refusal.problems]})
        return
    for problem in refusal.problems:
        click.echo(problem, err=True)
    if len(refusal.problems) > 1:
        click.echo(f"\n{len(refusal.problems)} things to mend.", err=True)


def _own_up(error: Exception, arguments: Sequence[str]) -> None:
    """Keep the report of a mistake of ours in a file, and say where."""
    import tempfile
    from traceback import format_exception

    said = [f"stillwell {' '.join(arguments)}\n\n", *format_exception(error)]
    try:
        with tempfile.NamedTemporaryFile(
            "w", encoding="utf-8", prefix="stillwell-mistake-", suffix=".txt", delete=False
        ) as report:
            report.writelines(said)
        where = f"The report is in {report.name}."
    except OSError:
        where = "Its report could not be written; --debug shows it."
    click.echo(f"This is a mistake in Stillwell itself ({type(error).__name__}). {where}", err=True)

"""The commands by name; each is imported when it is asked for."""

from importlib import import_module
from typing import Final, cast

import click

COMMANDS: Final = {
    "check": "stillwell.cli.check",
    "schema": "stillwell.cli.schema",
    "import": "stillwell.cli.import_log",
    "inspect": "stillwell.cli.inspect_record",
    "prove": "stillwell.cli.prove",
    "simulate": "stillwell.cli.simulate",
    "replay": "stillwell.cli.replay",
    "limits": "stillwell.cli.limits",
    "watch": "stillwell.cli.watch",
    "status": "stillwell.cli.status",
    "alarm": "stillwell.cli.alarm",
    "pause": "stillwell.cli.pause",
    "drill": "stillwell.cli.drill",
    "change": "stillwell.cli.change",
    "export": "stillwell.cli.export",
    "erase": "stillwell.cli.erase",
    "serve": "stillwell.cli.serve",
    "keep": "stillwell.cli.keep",
}


class _Commands(click.Group):
    """Finds a command in its own module, where it is called ``command``."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        module = COMMANDS.get(cmd_name)
        return None if module is None else cast("click.Command", import_module(module).command)


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="""\b
Exit codes: 0 done; 1 the answer of a check is no, where a command says so;
2 the input is refused; 70 a mistake in Stillwell itself; 130 stopped by hand.

\b
Example:
  stillwell check examples/cottage""",
)
@click.option("--debug", is_flag=True, help="Show the whole traceback where Stillwell itself is at fault.")
@click.version_option(package_name="stillwell", message="%(version)s")
def program(debug: bool) -> None:
    """Lay out, write down, prove and look after the watch over an older person living alone."""

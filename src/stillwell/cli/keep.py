"""stillwell keep: watch over the homes from outside."""

import click


@click.command(
    name="keep",
    short_help="From outside, notice when a home goes dark, and tell people.",
    epilog="""\b
Example:
  stillwell keep --settings keeper.toml --store keeper.db""",
)
@click.option(
    "--settings", required=True, metavar="FILE", help="Which homes, their keys, whom to tell: docs/keeper.md."
)
@click.option("--store", required=True, metavar="FILE", help="Where it keeps what it must not forget.")
@click.option(
    "--port", type=click.IntRange(0, 65_535), help="Listen here, not where the settings say; 0: any free one."
)
def command(settings: str, store: str, port: int | None) -> None:
    """Run the keeper: take the heartbeats of homes, and work through a call list when one stays silent.

    It belongs outside of the homes it watches over: another building, another line, another power supply. It runs until
    it is told to end (SIGTERM, Ctrl-C), and then ends with exit code 0. What happens goes to standard error as JSON,
    one line each.
    """
    import os
    import sys
    from pathlib import Path

    from stillwell.cli.extras import wanting
    from stillwell.keeper.clock import wall_ms
    from stillwell.keeper.log import Log
    from stillwell.keeper.reading import read_settings
    from stillwell.keeper.settings import secrets_in

    read = read_settings(Path(settings), os.environ)
    try:
        from stillwell.keeper.service import keep
    except ModuleNotFoundError as error:
        raise wanting("the keeper", error, "watch") from error
    keep(read, Path(store), port, Log(wall_ms, secrets_in(read), sys.stderr))

"""stillwell watch: the running watch over a home."""

import click

from stillwell.cli.options import home_argument


@click.command(
    name="watch",
    short_help="Watch over the home: decide, tell people, go on until somebody answers.",
    epilog="""\b
Examples:
  stillwell watch examples/cottage --store cottage.db
  stillwell watch /etc/stillwell/home --store /var/lib/stillwell/home.db \\
      --settings /etc/stillwell/settings.toml""",
)
@home_argument
@click.option(
    "--store",
    required=True,
    metavar="FILE",
    help="Where it keeps what it must not forget: a file, or postgresql://HOST/DATABASE#HOME.",
)
@click.option(
    "--settings", metavar="FILE", help="Broker, mail, addresses, keys: docs/watch.md. Without it, a first try."
)
@click.option(
    "--speed",
    type=click.FloatRange(0.1, 100_000),
    metavar="TIMES",
    help="For a trial on a desk: let time run so many times as fast. Nobody is safe by such a watch.",
)
def command(home: str, store: str, settings: str | None, speed: float | None) -> None:
    """Run the plan of HOME on a small computer in the home.

    It takes reports over MQTT or HTTP, acts, raises alarms, and works through the call list until somebody answers.
    Whatever matters is on the disk before it is acted on: killed at any instant, it goes on where it was. The plan that
    was accepted last is the one that runs; `stillwell change` has a changed one proved and taken.

    It runs until it is told to end (SIGTERM, Ctrl-C), and then ends with exit code 0. What happens goes to standard
    error as JSON, one line each.

    It is no certified social alarm and no smoke or CO alarm. In an emergency the emergency number comes first.
    """
    import sys
    from pathlib import Path

    from stillwell.cli.extras import wanting
    from stillwell.cli.home import plan_path

    try:
        from stillwell.watch.beginning import Trial
        from stillwell.watch.log import Log
        from stillwell.watch.service import Given, run
        from stillwell.watch.settings import Settings, read_settings, secrets_in
    except ModuleNotFoundError as error:
        raise wanting("the watch", error, "watch") from error

    read = Settings() if settings is None else read_settings(Path(settings))
    trial = None if speed is None else Trial(speed)
    secrets = list(secrets_in(read))
    given = Given(plan_path(home), store, read, trial)
    run(given, lambda now_ms: Log(now_ms, secrets, sys.stderr), click.echo)

"""stillwell erase: forget a span of what a watch has stored."""

import click

from stillwell.cli.options import by_option, json_option, store_option
from stillwell.problem import refuse


@click.command(
    name="erase",
    short_help="Erase a span of what a watch has stored, on request.",
    epilog="""\b
Example:
  stillwell erase --from 2026-11-01 --until 2026-11-08 --why "Edda asked for it" --store cottage.db""",
)
@click.option("--from", "from_", required=True, metavar="INSTANT", help="From here on, as in 2026-11-01.")
@click.option("--until", required=True, metavar="INSTANT", help="Up to here, itself not included.")
@click.option("--why", required=True, metavar="WORDS", help="Why; that it was erased, by whom and why is kept.")
@click.option("--yes", is_flag=True, help="Do not ask.")
@by_option
@store_option
@json_option
def command(from_: str, until: str, why: str, yes: bool, by: str, store: str, as_json: bool) -> int:
    """Erase reports, alarms' histories, messages, commands and answers of a span from the store of a running watch.

    It leaves no trace of them in the store's files. What is still to be sent stays, and so does what the rules need to
    know to go on: since when it has been quiet.
    """
    from stillwell.cli.asking import agree, ask, instant_ms, say_done
    from stillwell.control import asks

    status = ask(store, asks.status())
    from_ms = instant_ms(from_, status.timezone, "--from")
    until_ms = instant_ms(until, status.timezone, "--until")
    if from_ms >= until_ms:
        raise refuse("this span is empty", "--until comes after --from.", name="--until")
    if not yes and not agree(f"Erase everything from {from_} to {until} for good?"):
        raise refuse("nothing was erased", "Say --yes where nobody is there to ask.")
    say_done(ask(store, asks.erase(from_ms, until_ms, by, why)), as_json=as_json)
    return 0

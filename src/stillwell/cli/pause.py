"""stillwell pause: for a while, nobody is told of what the resident does."""

import click

from stillwell.cli.options import by_option, json_option, store_option
from stillwell.problem import refuse


@click.command(
    name="pause",
    short_help="For a while, tell nobody of what the resident does or does not do.",
    epilog="""\b
Examples:
  stillwell pause --for 3h --why "grandchildren are here" --by ruth --store cottage.db
  stillwell pause --end --store cottage.db""",
)
@click.option("--for", "length", metavar="TIME", help="For how long, as in 2h; 24 hours at most.")
@click.option("--why", default="", metavar="WORDS", help="Why; it is shown and kept.")
@click.option("--end", is_flag=True, help="End the pause now.")
@by_option
@store_option
@json_option
def command(length: str | None, why: str, end: bool, by: str, store: str, as_json: bool) -> int:
    """Pause the alarms that watch the resident, at a running watch.

    A pause ends by itself, is shown by `stillwell status` and to the keeper outside, and is kept with who and why.
    Smoke, carbon monoxide, water, power cuts, lost parts and calls for help are told all the same. What is true when it
    ends is told then.
    """
    from stillwell.cli.asking import ask, duration_ms, say_done
    from stillwell.control import asks

    if end is (length is not None):
        raise refuse("say either for how long, or --end", "As in --for 2h.", name="--for")
    if length is None:
        say_done(ask(store, asks.resume(by)), as_json=as_json)
        return 0
    for_ms = duration_ms(length, "--for")
    until_ms = ask(store, asks.status()).now_ms + for_ms
    say_done(ask(store, asks.pause(until_ms, by, why)), as_json=as_json)
    return 0

"""stillwell alarm: what a person does with an alarm."""

from typing import TYPE_CHECKING, Final, cast

import click

from stillwell.cli.options import by_option, json_option, store_option
from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.control.shapes import Do

DEEDS: Final = {
    "ack": "acknowledge",
    "cannot": "cannot",
    "clear": "clear",
    "shelve": "shelve",
    "out": "out",
    "back": "back",
}


@click.command(
    name="alarm",
    short_help="Acknowledge an alarm, set it aside, or bring it back.",
    epilog="""\b
Examples:
  stillwell alarm ack Water --by ruth --store cottage.db
  stillwell alarm shelve "Somebody at the shed" --for 3h --why "roofers" --store cottage.db
  stillwell alarm back "Somebody at the shed" --store cottage.db""",
)
@click.argument("deed", metavar="DEED", type=click.Choice(list(DEEDS)))
@click.argument("name", metavar="ALARM")
@click.option("--for", "length", metavar="TIME", help="For shelve: for how long, as in 2h; 7 days at most.")
@click.option("--why", default="", metavar="WORDS", help="For shelve and out: why; it is kept.")
@by_option
@store_option
@json_option
def command(deed: str, name: str, length: str | None, why: str, by: str, store: str, as_json: bool) -> int:
    """Do DEED with ALARM at a running watch. The words are those of alarm management (ISA-18.2).

    \b
    ack     I am looking after it: nobody else is called; still true after a while, it asks again
    cannot  I cannot look after it: the calling goes on
    clear   all is well: ends what is over, and is an ack for what is still true
    shelve  set it aside for a time; it comes back by itself
    out     take it out of service until somebody brings it back
    back    off the shelf, or back in service; what is true then is told
    """
    from stillwell.cli.asking import alarm_named, ask, duration_ms, say_done
    from stillwell.control import asks

    if (deed == "shelve") is (length is None):
        what = "shelve needs a time" if deed == "shelve" else "a time belongs to shelve only"
        raise refuse(
            what, "Say for how long, as in --for 2h." if deed == "shelve" else "Leave --for out.", name="--for"
        )
    for_ms = None if length is None else duration_ms(length, "--for")
    status = ask(store, asks.status())
    until_ms = None if for_ms is None else status.now_ms + for_ms
    done = ask(store, asks.alarm(alarm_named(status, name), cast("Do", DEEDS[deed]), by, why, until_ms))
    say_done(done, as_json=as_json)
    return 0

"""stillwell inspect: what a record says of its parts and of itself."""

import click

from stillwell.cli.options import json_option


@click.command(
    name="inspect",
    short_help="Say what a record holds, and which of its parts were dead, stuck or renamed.",
    epilog="""\b
Example:
  stillwell inspect home1.parquet""",
)
@click.argument("record", metavar="RECORD")
@click.option("--mapping", metavar="FILE", help="How to read RECORD where it is a log from elsewhere.")
@json_option
def command(record: str, mapping: str | None, as_json: bool) -> None:
    """Read RECORD and say what it holds and what ailed it.

    A part may have died, stood stuck, been renamed or hung on a weak radio link; the home may have stood empty,
    the recorder been off, the log not have followed a change of the clocks. Each is one sentence.
    """
    from stillwell.cli.answer import say
    from stillwell.cli.condition_report import print_record, record_answer
    from stillwell.cli.recorded import read_record
    from stillwell.record.condition import condition

    stored = read_record(record, mapping, shown=not as_json)
    found = condition(stored.record)
    if as_json:
        say(record_answer(stored, found))
    else:
        print_record(stored, found)

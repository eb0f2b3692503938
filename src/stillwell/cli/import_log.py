"""stillwell import: a foreign log becomes a record."""

import click

from stillwell.cli.options import json_option


@click.command(
    name="import",
    short_help="Make a record of a log from elsewhere.",
    epilog="""\b
Example:
  stillwell import log.csv.gz --mapping examples/records/inria-home1-2017/mapping.toml \\
      --out home1.parquet""",
)
@click.argument("logs", metavar="LOG...", nargs=-1, required=True)
@click.option("--mapping", metavar="FILE", required=True, help="How the log is read; see examples/records.")
@click.option("--out", metavar="RECORD", required=True, help="Where the record goes: a .parquet or a .csv file.")
@json_option
def command(logs: tuple[str, ...], mapping: str, out: str, as_json: bool) -> None:
    """Make one record of one LOG or of several that follow each other (delimited text, .gz or not).

    Every line is counted: used, left out on purpose, or impossible to read; the first few of these are shown. Then
    follows what the record says of its parts and of itself, as `stillwell inspect` tells it.
    """
    from stillwell.cli.answer import say, with_instants
    from stillwell.cli.condition_report import print_record, record_answer
    from stillwell.cli.printing import heading, items
    from stillwell.cli.recorded import check_out, import_logs, write_record
    from stillwell.record.condition import condition
    from stillwell.record.parquet import Stored
    from stillwell.wording.imports import import_sentences

    check_out(out, [*logs, mapping])
    made = import_logs(list(logs), mapping, shown=not as_json)
    write_record(out, made.record, made.about)
    stored, found = Stored(made.record, made.about), condition(made.record)
    if as_json:
        say({"out": out, "lines": with_instants(made.report), **record_answer(stored, found)})
        return
    print_record(stored, found)
    heading("The lines of the log")
    items(import_sentences(made.report))
    items(f"Line {bad.line}: {bad.reason}: {bad.text!r}" for bad in made.report.shown)
    click.echo(f"\nThe record is in {out}.")

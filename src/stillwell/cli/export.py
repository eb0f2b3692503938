"""stillwell export: what a watch has stored, as a record."""

import click

from stillwell.cli.options import home_argument, json_option, store_option


@click.command(
    name="export",
    short_help="Make a record of what a watch has stored.",
    epilog="""\b
Examples:
  stillwell export examples/cottage --store cottage.db --out cottage.parquet
  stillwell export examples/cottage --store cottage.db --out november.csv --from 2026-11-01 --until 2026-12-01""",
)
@home_argument
@click.option("--out", required=True, metavar="FILE", help="The record: .parquet, or .csv for the text form.")
@click.option("--from", "from_", metavar="INSTANT", help="From here on, as in 2026-11-01; else from the first report.")
@click.option("--until", metavar="INSTANT", help="Up to here; else to the last report.")
@store_option
@json_option
def command(home: str, out: str, from_: str | None, until: str | None, store: str, as_json: bool) -> int:
    """Write what the parts of HOME reported, as the rules took it, for `stillwell inspect`, `replay` and the shelf.

    The watch may run meanwhile. Reports that came too late for a decision are counted and left out.
    """
    from stillwell.cli.answer import say
    from stillwell.cli.asking import instant_ms
    from stillwell.cli.home import read_home
    from stillwell.cli.recorded import check_out, write_record
    from stillwell.problem import refuse
    from stillwell.record.text import iso
    from stillwell.store.export import record_of
    from stillwell.store.store import look_into
    from stillwell.wording.counting import counted

    check_out(out, [store])
    plan = read_home(home)
    zone = plan.home.timezone
    opened = look_into(store)
    try:
        span = opened.span_of_events()
        if span is None:
            raise refuse("the store holds no report yet", file=store)
        start_ms = span[0] if from_ is None else instant_ms(from_, zone, "--from")
        end_ms = span[1] + 1 if until is None else instant_ms(until, zone, "--until")
        if start_ms >= end_ms:
            raise refuse("this span is empty", "--until comes after --from.", name="--until")
        record = record_of(opened, plan, start_ms, end_ms)
    finally:
        opened.close()
    write_record(out, record)
    answer = {
        "file": out,
        "start": iso(start_ms),
        "end": iso(end_ms),
        "events": record.events,
        "late": record.late,
        "unknown": record.malformed,
        "signals": len(record.signals),
    }
    if as_json:
        say(answer)
        return 0
    left_out = [
        counted(count, what)
        for count, what in ((record.late, "late report"), (record.malformed, "report of parts the plan does not know"))
        if count
    ]
    signals = counted(len(record.signals), "signal")
    click.echo(f"{out}: {counted(record.events, 'report')} of {signals}, {iso(start_ms)} to {iso(end_ms)}.")
    if left_out:
        click.echo(f"Left out: {' and '.join(left_out)}.")
    return 0

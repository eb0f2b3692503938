"""stillwell drill: ring one alarm through to a person, as an exercise."""

from typing import TYPE_CHECKING

import click

from stillwell.cli.options import by_option, json_option, store_option

if TYPE_CHECKING:
    from stillwell.control.shapes import Drill, Status

WAIT_S = 30.0


@click.command(
    name="drill",
    short_help="Ring one alarm through to people, marked as a drill, and say how soon they answered.",
    epilog="""\b
Examples:
  stillwell drill "No sign of life" --by ruth --store cottage.db
  stillwell drill Water --no-wait --store cottage.db""",
)
@click.argument("alarm", metavar="ALARM")
@click.option("--wait", metavar="TIME", default="1h", show_default=True, help="Wait so long for an answer.")
@click.option("--no-wait", is_flag=True, help="Begin it and leave; `stillwell status` shows the times later.")
@by_option
@store_option
@json_option
def command(alarm: str, wait: str, no_wait: bool, by: str, store: str, as_json: bool) -> int:
    """Begin a drill of ALARM at a running watch: its whole call list is rung, each message says that it is a drill.

    It ends when somebody answers. Who was told when and who answered when is printed, and kept. Leaves with 1 where
    nobody has answered in the time that it waits; the drill goes on then.
    """
    from stillwell.cli.asking import alarm_named, ask, duration_ms, say_done
    from stillwell.control import asks

    wait_ms = duration_ms(wait, "--wait")
    status = ask(store, asks.status())
    named = alarm_named(status, alarm)
    done = ask(store, asks.drill(named, by))
    if no_wait:
        say_done(done, as_json=as_json)
        return 0
    if not as_json:
        click.echo(done.sentence)
    found = _watched(store, named, status.now_ms, wait_ms, shown=not as_json)
    if as_json:
        _say(found)
    elif found.answered_ms is None:
        click.echo("Nobody has answered yet; the drill goes on.")
    return 0 if found.answered_ms is not None else 1


def _watched(store: str, alarm: str, since_ms: int, wait_ms: int, *, shown: bool) -> "Drill":
    """Wait until the drill is answered or the time is over; tell meanwhile what happens."""
    from stillwell.cli.asking import ask
    from stillwell.control import asks

    told: tuple[str, ...] = ()
    version, left_s = None, 0.0
    while True:
        status = ask(store, asks.status(version, left_s))
        found = _newest(status, alarm)
        version = status.version
        if shown and found.told != told:
            told = _tell(found, told)
        left_s = min(WAIT_S, (since_ms + wait_ms - status.now_ms) / 1000)
        if found.answered_ms is not None or left_s <= 0:
            if shown and found.answered_ms is not None:
                _tell_answer(found)
            return found


def _newest(status: "Status", alarm: str) -> "Drill":
    return max((one for one in status.drills if one.alarm == alarm), key=lambda one: one.begun_ms)


def _tell(found: "Drill", before: tuple[str, ...]) -> tuple[str, ...]:
    from stillwell.wording.counting import listed
    from stillwell.wording.durations import rounded

    new = [name for name in found.told if name not in before]
    first = found.told_ms is not None and not before
    after = f" after {rounded(found.told_ms - found.begun_ms)}" if first and found.told_ms is not None else ""
    click.echo(f"Told: {listed(new)}{after}.")
    return found.told


def _tell_answer(found: "Drill") -> None:
    from stillwell.wording.durations import rounded

    assert found.answered_ms is not None
    click.echo(f"Answered by {found.answered_by} after {rounded(found.answered_ms - found.begun_ms)}.")


def _say(found: "Drill") -> None:
    from stillwell.cli.answer import say
    from stillwell.record.text import iso

    def after(at_ms: int | None) -> float | None:
        return None if at_ms is None else (at_ms - found.begun_ms) / 1000

    say(
        {
            "alarm": found.alarm,
            "begun": iso(found.begun_ms),
            "by": found.by,
            "told": list(found.told),
            "told_after_s": after(found.told_ms),
            "answered_by": found.answered_by,
            "answered_after_s": after(found.answered_ms),
        }
    )

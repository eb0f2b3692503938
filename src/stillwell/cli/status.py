"""stillwell status: how a home under watch stands."""

from typing import TYPE_CHECKING, Any

import click

from stillwell.cli.options import json_option, store_option

if TYPE_CHECKING:
    from stillwell.control.shapes import Status


@click.command(
    name="status",
    short_help="Say how a home under watch stands.",
    epilog="""\b
Examples:
  stillwell status --store cottage.db
  stillwell status --store cottage.db --strict --json""",
)
@store_option
@click.option("--all", "everything", is_flag=True, help="Also every part, and all that is to be mended.")
@click.option(
    "--strict", is_flag=True, help="Leave with 1 where an alarm waits for an answer or the watch is not well."
)
@json_option
def command(store: str, everything: bool, strict: bool, as_json: bool) -> int:
    """Ask the running watch how the home stands: alarms and who answered, lost parts, pauses, the watch itself.

    Where no watch runs it says when the last one left off, and leaves with 1.
    """
    from stillwell.cli.answer import say
    from stillwell.cli.asking import ask
    from stillwell.control import asks
    from stillwell.control.wire import NoWatch

    try:
        found = ask(store, asks.status())
    except NoWatch as none:
        _without(store, none, as_json=as_json)
        return 1
    if as_json:
        say({"running": True, **_plain(found)})
    else:
        from stillwell.cli.status_print import print_status

        print_status(found, everything=everything)
    return 1 if strict and _needs_somebody(found) else 0


def _needs_somebody(status: "Status") -> bool:
    waits = any(one.asked_ms is not None and one.acknowledged_ms is None and not one.drill for one in status.alarms)
    return waits or bool(status.trouble)


def _without(store: str, none: Exception, *, as_json: bool) -> None:
    """Say that no watch runs, and what the store knows of the last one."""
    from stillwell.cli.answer import say
    from stillwell.cli.printing import paragraph
    from stillwell.problem import refuse
    from stillwell.record.text import iso
    from stillwell.store.database import StoreTrouble
    from stillwell.store.store import look_into

    opened = look_into(store)
    try:
        state = opened.state()
    except StoreTrouble as trouble:
        raise refuse(f"the store cannot be read: {trouble}", file=store) from trouble
    finally:
        opened.close()
    left_off_ms = None if state is None else state.decided_ms
    if as_json:
        say({"running": False, "left_off": None if left_off_ms is None else iso(left_off_ms)})
        return
    paragraph(f"NOBODY WATCHES: {str(none).splitlines()[0]}.")
    if left_off_ms is not None:
        paragraph(f"The last watch left off at {iso(left_off_ms)}; when one starts, the silence since then counts.")
    paragraph("Start it: stillwell watch HOME --store FILE")


def _plain(status: "Status") -> dict[str, Any]:
    from stillwell.control.shapes import plain

    found: dict[str, Any] = _with_instants(plain(status))
    return found


def _with_instants(value: Any) -> Any:
    """Turn milliseconds into ISO 8601 UTC under the name without ``_ms``, as the other commands do."""
    from stillwell.record.text import iso

    if isinstance(value, list):
        return [_with_instants(one) for one in value]
    if not isinstance(value, dict):
        return value
    found: dict[str, Any] = {}
    for name, inner in value.items():
        if name == "clock_ahead_ms":
            found["clock_ahead_s"] = inner / 1000
        elif name.endswith("_ms"):
            found[name.removesuffix("_ms")] = None if inner is None else iso(inner)
        else:
            found[name] = _with_instants(inner)
    return found

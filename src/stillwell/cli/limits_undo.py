"""Taking back what a watch learned in the last night it learned."""

from typing import TYPE_CHECKING

import click

from stillwell.problem import refuse

if TYPE_CHECKING:
    from stillwell.store.store import Store


def undo_last_night(store: str | None, by: str, *, as_json: bool) -> None:
    """Have the running watch take the tables as they were before its last night of learning.

    All else in the plan stays as it is now. Raises Refusal where nothing was learned, or no watch runs.
    """
    from stillwell.cli.answer import say
    from stillwell.cli.asking import ask
    from stillwell.control import asks
    from stillwell.store.store import look_into

    if not store:
        raise click.UsageError("--undo needs --store.")
    opened = look_into(store)
    try:
        text, tables = _before(opened)
    finally:
        opened.close()
    answer = ask(store, asks.plan(text, by, accept_worse=True))
    if as_json:
        say({"undone": answer.taken, "same": answer.same, "plan": answer.plan, "tables": list(tables)})
    elif answer.same:
        click.echo("The limits are as they were before that night already.")
    else:
        click.echo(
            f"{' and '.join(tables)}: as before that night. To keep it so, take relearn out of the plan's table."
        )


def _before(store: "Store") -> tuple[str, tuple[str, ...]]:
    """Return the running plan's text with the tables of before the last night, and which those are."""
    from stillwell.plan.edit import write_limits
    from stillwell.plan.read import read_plan
    from stillwell.watch.nightly import LEARNED, plan_before, table_learned

    facts = store.facts_of([LEARNED], 50)
    if not facts:
        raise refuse("this watch has not changed any limit at night", "See `stillwell limits --help`.")
    mark = plan_before(facts[0].why)
    night = [fact for fact in facts if plan_before(fact.why) == mark]
    state, text = store.state(), None if mark is None else store.plan_text(mark)
    running = None if state is None else store.plan_text(state.plan)
    if text is None or running is None:
        raise refuse("the plan before that night is no longer kept", "Write the limits by hand: `stillwell change`.")
    before = read_plan(text, "the plan before")
    learned = {table_learned(fact.why) for fact in night}
    tables = tuple(name for name in before.limits if name in learned)
    for name in tables:
        running = write_limits(running, name, before.limits[name])
    return running, tuple(f"limits.{name}" for name in tables)

"""stillwell change: a changed plan into a running watch."""

from typing import TYPE_CHECKING

import click

from stillwell.cli.options import by_option, home_argument, json_option, store_option

if TYPE_CHECKING:
    from stillwell.control.shapes import PlanAnswer


@click.command(
    name="change",
    short_help="Have a changed plan proved, and taken by the running watch without losing a timer.",
    epilog="""\b
Examples:
  stillwell change examples/cottage --store cottage.db --by ruth
  stillwell change examples/cottage --store cottage.db --compare""",
)
@home_argument
@click.option("--accept", is_flag=True, help="Take it although the proof is worse than that of the running plan.")
@click.option("--compare", "only_compare", is_flag=True, help="Only say what it makes worse and what better.")
@by_option
@store_option
@json_option
def command(home: str, accept: bool, only_compare: bool, by: str, store: str, as_json: bool) -> int:
    """Hand the plan of HOME to the running watch.

    The watch proves it and the plan that runs, and compares them hazard by hazard. Where nothing is worse it takes the
    new one: timers, alarms and callings that both share go on. Where something is worse it says what, and asks; with
    nobody there to ask it takes nothing, and leaves with 1.
    """
    from stillwell.cli.asking import agree, ask
    from stillwell.cli.home import plan_path
    from stillwell.control import asks
    from stillwell.files import read_text
    from stillwell.plan.read import read_plan

    file = plan_path(home)
    text = read_text(file)
    read_plan(text, str(file))  # what is wrong is told here, with the file's name
    if not as_json:
        click.echo("Proving the changed plan and the running one...", err=True)
    answer = ask(store, asks.plan(text, by, accept_worse=accept, only_compare=only_compare))
    if as_json:
        _say(answer)
    else:
        _print(answer)
        asks_back = bool(answer.worse) and not answer.taken and not only_compare
        if asks_back and agree("Take it all the same?"):
            answer = ask(store, asks.plan(text, by, accept_worse=True))
        click.echo(_end(answer, only_compare=only_compare))
    return 0 if answer.taken or answer.same or (only_compare and not answer.worse) else 1


def _print(answer: "PlanAnswer") -> None:
    from stillwell.cli.printing import heading, items

    for title, found in (("Worse", answer.worse), ("Better", answer.better)):
        if found:
            heading(title)
            items(one.sentence for one in found)
    if answer.worse or answer.better:
        click.echo()


def _end(answer: "PlanAnswer", *, only_compare: bool) -> str:
    if answer.same:
        return "This is the plan that runs already."
    if answer.taken:
        return f"The watch runs plan {answer.plan} now; timers that both plans share have gone on."
    if only_compare:
        return "Nothing is worse." if not answer.worse else "Something is worse; nothing was taken."
    return "Nothing was taken; the plan that ran goes on. To take it all the same: --accept."


def _say(answer: "PlanAnswer") -> None:
    from stillwell.cli.answer import say

    say(
        {
            "taken": answer.taken,
            "same": answer.same,
            "plan": answer.plan,
            "worse": [{"hazard": one.hazard, "sentence": one.sentence} for one in answer.worse],
            "better": [{"hazard": one.hazard, "sentence": one.sentence} for one in answer.better],
        }
    )

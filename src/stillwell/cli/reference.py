"""The page of all commands, made from what the commands say of themselves.

Print it with ``python -m stillwell.cli.reference``; a test holds ``docs/reference/commands.md`` to it.
"""

from collections.abc import Iterator
from inspect import cleandoc

import click

from stillwell.cli.program import COMMANDS, program


def page() -> str:
    """Return the page as Markdown."""
    context = click.Context(program, info_name="stillwell")
    sections = [_section(program, "stillwell")]
    for name in COMMANDS:
        found = program.get_command(context, name)
        assert found is not None  # it is in the table
        sections.append(_section(found, f"stillwell {name}"))
    note = "<!-- Made by `python -m stillwell.cli.reference`; change the commands, not this page. -->"
    return "\n".join(["# Commands", "", note, "", *sections])


def _section(command: click.Command, name: str) -> str:
    arguments = [param.make_metavar(click.Context(command)) for param in _of_kind(command, click.Argument)]
    usage = " ".join([name, *arguments]) if arguments else name
    lines = [f"## {usage}", "", _help(cleandoc(command.help or "")), ""]
    options = [param for param in _of_kind(command, click.Option) if isinstance(param, click.Option)]
    if options:
        lines += ["| option | meaning |", "|---|---|", *map(_row, options), ""]
    for paragraph in cleandoc((command.epilog or "").replace("\b", "")).split("\n\n"):
        lines += _example(paragraph)
    return "\n".join(lines)


def _help(text: str) -> str:
    """Return a help text as Markdown; what click must not fill becomes a block."""
    paragraphs = text.split("\n\n")
    return "\n\n".join(f"```text\n{one[2:]}\n```" if one.startswith("\b\n") else one for one in paragraphs)


def _of_kind(command: click.Command, kind: type[click.Parameter]) -> Iterator[click.Parameter]:
    return (param for param in command.params if isinstance(param, kind))


def _row(option: click.Option) -> str:
    takes = "" if option.is_flag else f" {option.metavar or 'NUMBER'}"
    notes = ["must be given"] if option.required else []
    if option.show_default and not option.required:
        notes.append(f"else {option.default}")
    note = f" ({', '.join(notes)})" if notes else ""
    return f"| `{option.opts[0]}{takes}` | {option.help}{note} |"


def _example(text: str) -> Iterator[str]:
    """Yield a paragraph of an epilog; one that is called an example becomes a block of code."""
    first, _, rest = text.strip().partition("\n")
    if first.startswith("Example"):
        yield from ("```sh", *(line.removeprefix("  ") for line in rest.splitlines()), "```", "")
    elif first:
        yield from (text.strip(), "")


if __name__ == "__main__":
    click.echo(page(), nl=False)

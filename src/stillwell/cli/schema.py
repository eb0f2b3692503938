"""stillwell schema: the shape of home.toml, for editors."""

import click


@click.command(
    name="schema",
    short_help="Write the JSON Schema of home.toml, for editors.",
    epilog="""\b
Example:
  stillwell schema > home.schema.json""",
)
def command() -> None:
    """Write the JSON Schema of home.toml to standard output.

    An editor that knows it completes keys and underlines mistakes while the file is written.
    """
    from stillwell.cli.answer import say
    from stillwell.plan.schema import json_schema

    say(json_schema())

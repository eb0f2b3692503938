"""Arguments and options that several commands share."""

import click

home_argument = click.argument("home", metavar="HOME")
"""A folder with a home.toml, or the file itself."""

json_option = click.option("--json", "as_json", is_flag=True, help="Answer with JSON, for programs.")

store_option = click.option(
    "--store",
    required=True,
    envvar="STILLWELL_STORE",
    metavar="FILE",
    help="The store of the watch: a file, or postgresql://... Also taken from STILLWELL_STORE.",
)
"""Which watch is meant."""


def _login() -> str:
    import getpass

    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return ""


by_option = click.option(
    "--by",
    default=_login,
    metavar="WHO",
    help="Who does it: a person of the plan by the name of their table, or in words. Else the one who is logged in.",
)
"""Whom the record shall name."""

"""Arguments and options that several commands share."""

import click

home_argument = click.argument("home", metavar="HOME")
"""A folder with a home.toml, or the file itself."""

json_option = click.option("--json", "as_json", is_flag=True, help="Answer with JSON, for programs.")

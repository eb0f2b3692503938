"""stillwell serve: the pages of a home."""

import click

from stillwell.cli.options import home_argument


@click.command(
    name="serve",
    short_help="Show a home in the browser: how it stands, its proof, its record.",
    epilog="""\b
Examples:
  stillwell serve examples/cottage --port 8480
  stillwell serve examples/cottage --port 8480 --store home.db
  stillwell serve examples/cottage --port 8480 --record out/cottage.parquet""",
)
@home_argument
@click.option("--port", type=click.IntRange(0, 65_535), required=True, help="Where to listen; 0: any free one.")
@click.option(
    "--host",
    metavar="ADDRESS",
    default="127.0.0.1",
    show_default=True,
    help="The address to listen at. Another than this machine's own only once there is an account.",
)
@click.option("--store", metavar="STORE", help="What a watch keeps: a file, or an address of PostgreSQL.")
@click.option(
    "--record", metavar="RECORD", type=click.Path(), help="A record to show: what `simulate` or `import` made."
)
@click.option(
    "--accounts",
    metavar="FILE",
    help="Where accounts are kept. Without it STORE.accounts, or home.accounts beside the plan.",
)
@click.option("--new-link", is_flag=True, help="Print a link for a fitter's account, although there are accounts.")
def command(
    home: str, port: int, host: str, store: str | None, record: str | None, accounts: str | None, new_link: bool
) -> None:
    """Show the home of HOME, a folder with a home.toml or the file itself, as pages for a browser.

    With the store of a watch the first page says how the home stands, and lets people answer alarms while the watch
    runs. Without one there are the plan and what can be proved of it; with a record, the days that it holds.

    The first start prints a link by which one account can be made, for whoever fits the home; that account invites
    the others. It serves until it is told to end (SIGTERM, Ctrl-C), and then ends with exit code 0.
    """
    import asyncio

    from stillwell.cli.extras import wanting

    try:
        from stillwell.web.server import serve
    except ModuleNotFoundError as error:
        raise wanting("serving the pages", error, "web") from error
    from stillwell.cli.served import site_of
    from stillwell.web.pages.entering import first_link

    site = site_of(home, store, record, accounts)
    lines = []
    if new_link or not site.accounts.there_are():
        path = first_link(site.accounts, site.now_ms())
        lines = [f"To make a fitter's account, open this link within an hour: {{}}{path}"]

    def begun(address: str) -> None:
        click.echo(f"{site.plan.home.name}: {address}")
        for line in lines:
            click.echo(line.format(address))

    try:
        asyncio.run(serve(site, host, port, begun))
    finally:
        site.close()

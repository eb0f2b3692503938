"""The libraries that draw a specification in a browser, as one script of our own: nobody else is asked for them."""

from functools import cache

from stillwell.charts.desk import converter


@cache
def bundle() -> bytes:
    """Return the script; it sets ``window.vegaEmbed``. Takes a second or two, once.

    Raises Refusal where charts cannot be drawn.
    """
    return str(converter().javascript_bundle()).encode()

"""The libraries that draw a specification in a browser, as one script of our own: nobody else is asked for them.

To write it out:

    python -m stillwell.charts.bundle > vega.js
"""

import sys

from stillwell.charts.desk import converter


def bundle() -> bytes:
    """Return the script; it sets ``window.vegaEmbed``. Takes a second or two.

    Raises Refusal where charts cannot be drawn.
    """
    return str(converter().javascript_bundle()).encode()


if __name__ == "__main__":
    sys.stdout.buffer.write(bundle())

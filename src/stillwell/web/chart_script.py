"""The script that draws charts in the browser, put together once, in a process of its own.

Putting it together takes a second or two, in which no page would be sent, and 120 MB that would never be given back;
what is kept of it is 0.9 MB.
"""

import subprocess
import sys
from contextlib import suppress
from functools import cache
from typing import Final

from stillwell.charts.desk import converter
from stillwell.problem import Refusal, refuse
from stillwell.web.assets import Asset, asset

LIMIT_S: Final = 120.0


@cache
def script() -> Asset:
    """Return the script. Raises Refusal where charts cannot be drawn."""
    converter()
    command = [sys.executable, "-P", "-m", "stillwell.charts.bundle"]  # -P: we may stand in any folder
    try:
        made = subprocess.run(  # noqa: S603 - nothing in it comes from outside
            command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=LIMIT_S, check=True
        )
    except (OSError, subprocess.SubprocessError) as error:
        raise refuse("the script that draws charts could not be put together", "Try again later.") from error
    return asset(made.stdout, "text/javascript")


def prepare() -> None:
    """Put it together before anybody asks; where that cannot be done, whoever asks is told why."""
    with suppress(Refusal):
        script()

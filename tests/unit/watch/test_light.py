"""The watch is for a small board: what only the desk needs is never loaded by it, nor by its store."""

import subprocess
import sys

HEAVY = ("scipy", "altair", "arro3", "vl_convert", "z3", "rtamt", "psycopg", "stillwell.charts", "stillwell.proof")
MODULES = ("service",)


def test_nothing_heavy_is_loaded():
    imports = "; ".join(f"import stillwell.watch.{name}" for name in MODULES)
    code = f"import sys; {imports}; print([name for name in {HEAVY!r} if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip() == "[]"

"""What must go with the light installation: everything but charts, Parquet, the watch and the pages."""

import json
import subprocess
import sys
from hashlib import sha256

import pytest

pytestmark = pytest.mark.base

PAGES = ("argon2", "itsdangerous", "jinja2", "starlette", "uvicorn")
EXTRAS = ("altair", "vl_convert", "arro3", "arro3.core", "arro3.io", "scipy", "aiomqtt", "apprise", *PAGES)
WITHOUT = """
import sys
sys.modules.update(dict.fromkeys({!r}))
from stillwell.cli import main
main()
"""


def light(*arguments, without=EXTRAS):
    command = [sys.executable, "-c", WITHOUT.format(without), *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


def test_a_plan_is_checked(home):
    done = light("check", home, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["home"] == "Lock house"


def test_a_record_of_text_is_replayed(home, record):
    done = light("replay", home, record, "--silence-at-every-instant", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    assert json.loads(done.stdout)["events"] == 47


def test_a_record_is_invented_and_inspected(home, tmp_path):
    out = tmp_path / "invented.csv"
    assert light("simulate", home, "--days", "2", "--out", out).returncode == 0
    assert light("inspect", out).returncode == 0


@pytest.mark.parametrize(
    "arguments",
    [
        ["replay", "{home}", "{record}", "--chart", "days.svg"],
        ["simulate", "{home}", "--out", "x.parquet"],
        ["replay", "{home}", "{parquet}"],
    ],
)
def test_what_needs_the_extra_says_which(home, record, tmp_path, arguments):
    parquet = tmp_path / "x.parquet"
    parquet.write_bytes(SEALED)
    done = light(*[text.format(home=home, record=record, parquet=parquet) for text in arguments])
    assert (done.returncode, done.stdout) == (2, "")
    assert "make install" in done.stderr


@pytest.mark.parametrize("package", [PAGES, *PAGES])
def test_the_pages_say_how_to_get_them_whichever_package_is_wanting(home, tmp_path, package):
    arguments = ("serve", home, "--port", "0", "--accounts", tmp_path / "accounts")
    done = light(*arguments, without=(package,) if isinstance(package, str) else package)
    assert (done.returncode, done.stdout) == (2, "")
    assert 'pip install "stillwell[web]"' in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_the_watch_says_how_to_get_it(home, tmp_path):
    done = light("watch", home, "--store", tmp_path / "store.db")
    assert (done.returncode, done.stdout) == (2, "")
    assert 'pip install "stillwell[watch]"' in done.stderr
    assert list(tmp_path.iterdir()) == []


def sealed():
    """Bytes that pass for a whole Parquet record until the library is asked to read them."""
    start, end = b"PAR1\x10stillwell.sha256\x18\x40", b"PAR1"
    return start + sha256(start + b"0" * 64 + end).hexdigest().encode() + end


SEALED = sealed()

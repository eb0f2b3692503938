from pathlib import Path

from stillwell.cli.program import COMMANDS
from stillwell.cli.reference import page

PAGE = Path(__file__).parents[3] / "docs/reference/commands.md"


def test_the_page_of_commands_is_what_the_commands_say():
    assert PAGE.read_text("utf-8") == page(), "run: python -m stillwell.cli.reference > docs/reference/commands.md"


def test_every_command_is_on_the_page():
    headings = [line.split()[2] for line in PAGE.read_text("utf-8").splitlines() if line.startswith("## stillwell ")]
    assert headings == list(COMMANDS)

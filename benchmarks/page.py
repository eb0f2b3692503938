"""The page of measured figures, docs/benchmarks.md: each script owns the section between its own two marks."""

import os
import platform
from pathlib import Path

PAGE = Path(__file__).parents[1] / "docs" / "benchmarks.md"
TITLE = """# Measured

Each section is written by the command it names. Ratios are between two things measured in one run on one machine, and
carry further than times.
"""


def write_section(name: str, text: str) -> None:
    """Replace one section of the page, or add it at the end."""
    page = PAGE.read_text(encoding="utf-8") if PAGE.exists() else TITLE
    PAGE.write_text(with_section(page, name, text), encoding="utf-8")


def with_section(page: str, name: str, text: str) -> str:
    """Return the page with the section between ``<!-- NAME -->`` and ``<!-- /NAME -->`` replaced or added."""
    first, last = f"<!-- {name} -->\n", f"<!-- /{name} -->\n"
    section = f"{first}{text.strip()}\n{last}"
    if first not in page:
        return f"{page.rstrip()}\n\n{section}"
    before, _, rest = page.partition(first)
    _, _, after = rest.partition(last)
    return before + section + after


def table(head: list[str], rows: list[list[str]]) -> str:
    """Return a Markdown table."""
    lines = [head, ["---"] * len(head), *rows]
    return "\n".join("| " + " | ".join(line) + " |" for line in lines)


def machine() -> str:
    """Say in general terms what it was measured on."""
    system = f"{platform.system()}, Python {platform.python_version()}"
    return f"{os.cpu_count() or 1} {platform.machine()} cores of which one was used, {system}"

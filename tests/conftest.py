"""The light group: ``pytest -m base`` does not even open a test file that is not marked so.

Such a file may import what only the extras bring.
"""

from pathlib import Path


def pytest_ignore_collect(collection_path: Path, config):
    light = config.getoption("markexpr") == "base"
    is_test = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    if light and is_test and "pytest.mark.base" not in collection_path.read_text("utf-8"):
        return True
    return None

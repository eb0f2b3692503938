"""The light group, and what holds for every test.

``pytest -m base`` does not even open a test file that is not marked so: it may import what only the extras bring.
"""

from pathlib import Path

from hypothesis import settings

# A machine that is busy with something else is no mistake of ours. Where CI is set, hypothesis leaves it out itself.
settings.register_profile("patient", deadline=None)
if settings.get_current_profile_name() == "default":
    settings.load_profile("patient")


def pytest_ignore_collect(collection_path: Path, config):
    light = config.getoption("markexpr") == "base"
    is_test = collection_path.name.startswith("test_") and collection_path.suffix == ".py"
    if light and is_test and "pytest.mark.base" not in collection_path.read_text("utf-8"):
        return True
    return None

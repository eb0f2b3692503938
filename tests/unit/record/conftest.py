import pytest
from invented_home import MAPPING, invented_rows, log_lines

from stillwell.record.importing import import_lines
from stillwell.record.mapping import read_mapping
from stillwell.record.rows import numbered


@pytest.fixture(scope="session")
def invented_log():
    return log_lines(invented_rows())


@pytest.fixture(scope="session")
def invented_mapping():
    return read_mapping(MAPPING)


@pytest.fixture(scope="session")
def invented(invented_log, invented_mapping):
    return import_lines(numbered(invented_log), invented_mapping)

"""A log that cannot be written stops nothing: a full disk, a reader that has gone, a stream that was closed."""

import io

import pytest

from stillwell.keeper.log import Log as KeeperLog
from stillwell.watch.log import Log


class Refusing(io.StringIO):
    def __init__(self, error):
        super().__init__()
        self.error, self.times = error, 0

    def write(self, text):
        self.times += 1
        raise self.error


@pytest.mark.parametrize("log", [Log, KeeperLog])
@pytest.mark.parametrize("error", [OSError(28, "No space left on device"), BrokenPipeError(), ValueError("closed")])
def test_what_cannot_be_written_is_let_go(log, error):
    stream = Refusing(error)
    say = log(lambda: 0, (), stream)
    say("raised", subject="Water")
    say("told", subject="Water")
    assert stream.times == 2

"""A show that is watched."""

import pytest

from eavesong.watch import blocks, examiner
from eavesong.watch.studio import Studio
from watched import until, write_all


@pytest.fixture
def order(tmp_path):
    """The order of a show in a folder of its own."""
    return write_all(tmp_path)


@pytest.fixture(autouse=True)
def _impolite(monkeypatch):
    """What is done in its own time is done at once: behind all that a busy machine does it could take minutes."""
    for module in (blocks, examiner):
        monkeypatch.setattr(module, "POLITE", 0)


@pytest.fixture
def studio(order):
    """A studio at work on it, which has drawn everything."""
    made = Studio(order)
    made.start()
    until(lambda: made.shown is not None and not made.store.left and "faults" in made.parts)
    yield made
    made.end()

"""What every test shares: repeatable examples, and one folder of compiled kernels for the whole run.

Kernels are kept where eavesong keeps them: in the folder that EAVESONG_CACHE names, where a CI keeps it between
runs, else in the user's own cache. The second run then compiles nothing.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

sys.path.append(str(Path(__file__).parent))  # for `support`

settings.register_profile(
    "repeatable", derandomize=True, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("repeatable")


@pytest.fixture(scope="session", autouse=True)
def _patient() -> None:
    """No word of a player is lost because the computer that tests is busy."""
    from eavesong.playback import teller

    teller.PATIENCE = 60.0


@pytest.fixture(scope="session", autouse=True)
def _one_kernel_folder() -> None:
    """Settle where kernels are kept before any test gives itself a cache of its own."""
    from eavesong.kernels.store import all_kernels

    all_kernels()

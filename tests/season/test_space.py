"""The room that frames need, estimated before anything is rendered."""

from collections.abc import Callable

import pytest

from eavesong.season import plan_batch, run_batch
from eavesong.season.space import BESIDE, MARGIN, estimate, seconds_of, size_text

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = pytest.mark.usefixtures("in_process")


def test_the_first_time_it_is_the_full_size(season: Make) -> None:
    made = season(2)
    plan = plan_batch(made.setlist)
    lengths = {task.number: seconds_of(task.song) for task in plan.tasks}
    assert lengths == {0: 4.0, 1: 4.0}
    needed = estimate(plan, plan.tasks, lengths)
    frames = 4 * 40 * 3 * 120  # seconds, frames a second, channels of 120 pixels
    assert needed == {made.folder / "frames": 2 * (round(frames * 1.001) + BESIDE)}


def test_later_it_is_what_the_same_show_took_and_a_tenth(season: Make) -> None:
    made = season(2)
    run_batch(made.setlist, workers=1)
    plan = plan_batch(made.setlist)
    (needed,) = estimate(plan, plan.tasks, {0: 4000.0, 1: 0.0}).values()
    full = 4000 * 40 * 360
    stored = max(path.stat().st_size for path in (made.folder / "frames").glob("*.h5"))
    assert needed < 0.9 * full
    assert needed < MARGIN * full * stored / (4 * 40 * 360) + 2 * BESIDE


def test_a_song_of_unknown_length_counts_as_none(season: Make) -> None:
    made = season(1)
    (made.folder / "song-0.wav").write_text("not a song")
    assert seconds_of(str(made.folder / "song-0.wav")) == 0.0


@pytest.mark.parametrize(
    ("count", "text"),
    [(0, "0 B"), (999, "999 B"), (4_300, "4.3 kB"), (52e6, "52 MB"), (4.3e9, "4.3 GB"), (2e12, "2.0 TB")],
)
def test_sizes(count: float, text: str) -> None:
    assert size_text(count) == text

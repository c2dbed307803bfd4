"""A song without a show gets one, once; what cannot be drafted costs the other songs nothing."""

import numpy as np
import soundfile

from eavesong.season import plan_batch
from eavesong.season.drafts import drafted_name
from eavesong.show import load_show


def without_show(made) -> None:
    lines = [line for line in made.setlist.read_text().splitlines() if not line.startswith("show")]
    made.setlist.write_text("\n".join(lines) + "\n")


def test_a_show_is_drafted_beside_the_song_and_stays(season):
    made = season(2)
    without_show(made)
    told = []
    plan = plan_batch(made.setlist, say=told.append)
    assert told[0].startswith("drafted     song-0.show.toml: song-0.wav names no show. It is for 'Hut', lies beside")
    drafted = made.folder / "song-0.show.toml"
    assert plan.tasks[0].show == str(drafted)
    assert load_show(drafted).cues
    assert plan.faults == {}
    drafted.write_text('[[cue]]\neffect = "swell"\n')
    plan_batch(made.setlist)
    assert drafted.read_text() == '[[cue]]\neffect = "swell"\n'


def test_a_song_whose_beats_are_doubtful_is_told_as_it_is_drafted(season):
    made = season(2)
    without_show(made)
    (made.folder / "song-1.beats").unlink()
    soundfile.write(made.folder / "song-1.wav", 0.1 * np.random.default_rng(3).standard_normal(64_000), 8000)  # noise
    told = []
    plan_batch(made.setlist, say=told.append)
    assert [line.split(":")[0] for line in told] == [
        "drafted     song-0.show.toml", "drafted     song-1.show.toml", "            how sure its beats are",
    ]  # fmt: skip
    assert "doubtful. Look and listen: eavesong beats " in told[-1]


def test_a_song_that_cannot_be_heard_leaves_the_others_alone(season):
    made = season(2)
    without_show(made)
    (made.folder / "song-1.wav").write_bytes(b"no sound at all")
    plan = plan_batch(made.setlist)
    assert list(plan.faults) == [1]
    assert "no show could be drafted" in plan.faults[1]
    assert set(plan.shows) == {str(made.folder / "song-0.show.toml")}


def test_a_song_that_is_missing_gets_no_show(season):
    made = season(2)
    without_show(made)
    (made.folder / "song-1.wav").unlink()
    assert list(plan_batch(made.setlist).faults) == [1]
    assert not (made.folder / "song-1.show.toml").exists()


def test_a_show_is_called_as_its_song():
    assert drafted_name("winter/waltz.part 1.flac") == "winter/waltz.part 1.show.toml"

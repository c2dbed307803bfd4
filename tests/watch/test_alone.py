"""An effect by itself."""

import numpy as np
import pytest
import soundfile

from eavesong.errors import EavesongError
from eavesong.scene import make_scene
from eavesong.watch.alone import BARS, by_itself, metronome
from eavesong.watch.edits import Turned
from eavesong.watch.studio import Studio
from shows import GLOW
from watched import until


@pytest.fixture
def glow(tmp_path):
    path = tmp_path / "glow.toml"
    path.write_text(GLOW)
    return path


def test_its_knobs_are_its_defaults_and_are_kept_in_its_file(glow):
    with by_itself(glow) as order:
        studio = Studio(order, effect=glow)
        studio.start()
        until(lambda: "faults" in studio.parts and studio.edits is not None)
        assert studio.parts["code"]["lines"][0]["text"] == "level = strength"
        studio.turn(Turned(-1, "parameters.strength", 0.5))
        until(
            lambda: (
                "edits" in studio.parts
                and studio.parts["edits"]["count"]
                and studio.shown.scene.cues[0].parameters["strength"] == 0.5
            )
        )
        assert glow.read_text() == GLOW
        said = []
        studio.ask("keep", said.append)
        until(lambda: said)
        studio.end()
    assert glow.read_text() == GLOW.replace("default = 1,", "default = 0.5,")


def test_the_metronome_clicks_on_every_beat(tmp_path):
    """At 120 beats a minute a click begins in every half second."""
    sound, rate = soundfile.read(metronome(tmp_path))
    loud = np.abs(sound).reshape(-1, rate // 100).max(axis=1) > 0.1  # in hundredths of a second
    begins = np.flatnonzero(loud & ~np.concatenate([[False], loud[:-1]])) / 100
    assert np.allclose(begins, np.arange(4 * BARS) / 2, atol=0.011)


def test_the_order_alone_makes_no_scene(glow):
    """The effect is read where it lies; what stands in its place in the temporary folder is none."""
    with by_itself(glow) as order, pytest.raises(EavesongError):
        make_scene(order)

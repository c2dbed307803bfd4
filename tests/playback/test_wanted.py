"""What cannot be played is told with what to do instead."""

import pytest

from eavesong.errors import EavesongError
from eavesong.playback.wanted import is_setlist


@pytest.mark.parametrize(
    ("name", "text", "found"),
    [
        ("frost.flac", "", "is a song; what is played are frames"),
        ("frost.show.toml", "", "is a show; what is played are frames"),
        ("house.toml", '[[prop]]\nname = "a"\n', "is a layout; what is played are frames"),
        ("sweep.toml", 'code = "level = 1"\n', "is an effect; what is played are frames"),
    ],
)
def test_what_is_no_frames_file(tmp_path, name, text, found):
    (tmp_path / name).write_text(text)
    with pytest.raises(EavesongError) as caught:
        is_setlist(tmp_path / name)
    (problem,) = caught.value.problems
    assert problem.found == found
    assert problem.instead


def test_a_setlist_and_frames_are_told_apart(tmp_path):
    (tmp_path / "december.toml").write_text('[[song]]\nsong = "frost.flac"\n')
    assert is_setlist(tmp_path / "december.toml")
    assert not is_setlist(tmp_path / "frost.h5")

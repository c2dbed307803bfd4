"""What is left of damaged songs, written as whole files."""

from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.errors import AudioError, OutputError
from eavesong.music.salvage import salvage
from eavesong.music.sound import open_sound


def song(path: Path, seconds: float = 4.0) -> np.ndarray:
    sound = 0.5 * np.sin(2 * np.pi * 220 * np.arange(int(8000 * seconds)) / 8000)
    soundfile.write(path, sound, 8000, "PCM_16")
    return sound


def test_a_whole_song_is_written_as_it_is(tmp_path: Path) -> None:
    sound = song(tmp_path / "song.wav")
    done = salvage(tmp_path / "song.wav", tmp_path / "whole.flac")
    assert (done.seconds, done.found) == (4.0, "")
    assert soundfile.read(tmp_path / "whole.flac")[0] == pytest.approx(sound, abs=1 / 32768)


def test_what_comes_before_the_damage_is_kept_and_can_be_read(tmp_path: Path) -> None:
    sound = song(tmp_path / "song.flac", 80.0)
    data = (tmp_path / "song.flac").read_bytes()
    (tmp_path / "song.flac").write_bytes(data[: len(data) // 2])
    advice = r"make a whole file of it: eavesong beats .*--salvage .*song-whole\.flac"
    with pytest.raises(AudioError, match=advice), open_sound(tmp_path / "song.flac") as opened:
        list(opened.blocks())
    done = salvage(tmp_path / "song.flac", tmp_path / "song-whole.flac")
    assert 0 < done.seconds < 80.0
    assert done.found
    kept = soundfile.read(tmp_path / "song-whole.flac")[0]
    assert kept == pytest.approx(sound[: len(kept)], abs=1 / 32768)
    with open_sound(tmp_path / "song-whole.flac") as opened:
        assert sum(map(len, opened.blocks())) == len(kept)


@pytest.mark.parametrize("name", ["song.wav", "whole.mp3"])
def test_it_goes_into_another_flac(tmp_path: Path, name: str) -> None:
    song(tmp_path / "song.wav")
    with pytest.raises(OutputError):
        salvage(tmp_path / "song.wav", tmp_path / name)


def test_what_is_no_sound_is_told(tmp_path: Path) -> None:
    (tmp_path / "song.wav").write_bytes(b"no sound at all")
    with pytest.raises(AudioError):
        salvage(tmp_path / "song.wav", tmp_path / "whole.flac")
    assert not (tmp_path / "whole.flac").exists()

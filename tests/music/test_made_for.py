"""Texts that say which sound they are for."""

from pathlib import Path

import pytest

from eavesong.music.events import Event, Events
from eavesong.music.grid import BeatGrid, Section
from eavesong.music.made_for import made_for, made_for_line
from eavesong.music.texts import read_grid, read_sections, write_beats, write_events, write_sections

HASH = "3f" * 32
GRID = BeatGrid((0.0, 0.5, 1.0, 1.5), (1, 2, 3, 4), (Section(0.0, 2.0, "A"),), 2.0)


def test_a_text_says_which_sound_it_is_for_and_is_read_as_ever(tmp_path: Path) -> None:
    import mir_eval

    beats, sections, events = (tmp_path / f"song.{part}" for part in ("beats", "sections", "events"))
    write_beats(beats, GRID, HASH)
    write_sections(sections, GRID, HASH)
    write_events(events, Events((Event(1.0, "hit"),)), HASH)
    assert [made_for(path.read_text()) for path in (beats, sections, events)] == [HASH] * 3
    assert read_grid(beats, sections, 2.0) == GRID
    assert read_sections(sections) == GRID.sections
    times, _ = mir_eval.io.load_labeled_events(str(beats))  # a line that begins with # is a comment there too
    assert times.tolist() == list(GRID.times)


@pytest.mark.parametrize("text", ["", "0.5 1\n", "# by hand\n0.5 1\n", f"# for the sound {HASH[:8]}\n"])
def test_other_texts_say_nothing(text: str) -> None:
    assert made_for(text) == ""
    assert made_for_line("") == ""


def test_the_line_is_found_wherever_an_editor_leaves_it() -> None:
    assert made_for(f"\ufeff# mine\r\n{made_for_line(HASH).strip()}\r\n0.5 1\r\n") == HASH

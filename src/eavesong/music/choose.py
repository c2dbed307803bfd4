"""Which beats count when somebody chooses: another reading, a tempo, a metre, a first downbeat, or a file."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from eavesong.errors import MisfitError
from eavesong.music.grid import BeatGrid, Section
from eavesong.music.kinds import with_kinds
from eavesong.music.letters import called_otherwise, lettered_as
from eavesong.music.listening import Heard, beats_for, hear, listen, listen_again, texts_for
from eavesong.music.reading import NO_WISHES, Reading, Wishes
from eavesong.music.recount import recounted, with_sections
from eavesong.music.texts import read_sections
from eavesong.replaced import is_ours


@dataclass(frozen=True)
class Choice:
    """What somebody has chosen; nothing, unless said."""

    reading: int | None = None
    """Number of a reading, from 1."""
    wishes: Wishes = NO_WISHES
    beats: Path | None = None
    """A beats text or a JAMS file."""

    @property
    def made(self) -> bool:
        """Whether anything was chosen."""
        return self != Choice()

    @property
    def hears(self) -> bool:
        """Whether the beats are to be those of the sound, whatever texts say."""
        return self.reading is not None or self.wishes.tempo is not None


@dataclass(frozen=True)
class Chosen:
    """The beats that count."""

    grid: BeatGrid
    readings: tuple[Reading, ...]
    """All that were heard, the most likely first; none where the beats come from a text."""
    shown: int
    """Which of the readings the grid is, from 0."""
    beats: Path | None
    sections: Path | None
    """The texts that beats and sections come from."""
    aside: Path | None
    """The beats text beside the song that does not count this time."""
    otherwise: tuple[tuple[Section, str], ...] = ()
    """Sections as they are heard where nothing is chosen that are called otherwise by this choice, each with how."""

    @property
    def reading(self) -> Reading | None:
        """The reading shown, with the grid as it was heard; None where the beats come from a text."""
        return self.readings[self.shown] if self.readings else None


def choose(song: str | Path, choice: Choice) -> Chosen:
    """The beats of ``song`` with what was chosen.

    A reading and a tempo choose among what is heard, even where a beats text lies beside the song. A metre and a
    first downbeat count the beats anew: those of a text where there is one, else those of the sound, which is heard
    again with what is now known. A sections text beside the song counts all the same, but for one that eavesong wrote
    and nobody has changed: its sections move to the nearest downbeats, as those that are heard do. Raises MisfitError
    when there is no such reading or when the song has ended before the first downbeat; BeatsError and AudioError as
    `beats_for` does.
    """
    _require_inside(song, choice.wishes.first_downbeat)
    beats, sections = (Path(text) if text else None for text in texts_for(song, choice.beats))
    theirs = sections is not None and not is_ours(sections)
    if beats and not choice.hears:
        grid = _recounted(beats_for(song, beats), choice.wishes, theirs)
        return Chosen(grid, (), 0, beats, sections, None)
    heard = _heard(song, choice)
    number = choice.reading or 1
    if number > len(heard.readings):
        count = len(heard.readings)
        known = "one reading is" if count == 1 else f"{count} readings are"
        raise MisfitError(f"{known} known of this song, so there is no reading {number}", f"Write 1 to {count}.")
    grid = heard.readings[number - 1].grid
    if choice.reading is not None:
        grid = _recounted(grid, choice.wishes, False)
    others: tuple[tuple[Section, str], ...] = ()
    if choice.made:  # shows may name sections by the letters that they have where nothing is chosen
        usual = listen(song).grid.sections
        grid = replace(grid, sections=lettered_as(grid.sections, usual))
        others = tuple(called_otherwise(grid.sections, usual))
    if sections and not theirs and choice.made:
        sections = None
    if sections:
        grid = with_kinds(replace(grid, sections=read_sections(sections)), heard.signals)
        others = ()
    return Chosen(grid, heard.readings, number - 1, None, sections, beats, others)


def _require_inside(song: str | Path, first_downbeat: float | None) -> None:
    if first_downbeat is not None and first_downbeat > (duration := hear(song).duration):
        raise MisfitError(
            f"the song is over at {duration:.2f} s, before {first_downbeat:g} s", "Write an earlier time."
        )


def _heard(song: str | Path, choice: Choice) -> Heard:
    """What is heard with the wishes: the readings among which one is chosen are those that are told with the same."""
    return listen(song) if choice.wishes == NO_WISHES else listen_again(song, choice.wishes)


def _recounted(grid: BeatGrid, wishes: Wishes, kept: bool) -> BeatGrid:
    """``grid`` in other bars, its sections moved to their downbeats unless they are to be kept."""
    again = recounted(grid, wishes.metre, wishes.first_downbeat)
    return again if kept or again == grid else with_sections(again, grid.sections)

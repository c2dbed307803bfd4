"""What deserves a look in a song's frames: one remark each, and those that hold for a house whatever the song."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from eavesong.errors import Problem
    from eavesong.layout import Layout
    from eavesong.limits.findings import Finding

GRAVE = ("texts", "dark", "wish")
"""The weights of findings of a check that are told as grave; see `eavesong.check`."""
OF_SONG = ("sections", "kinds", "turn")
"""Keys of a cue whose findings are not grave: one show serves many songs, and not each has everything. Those of the
weight ``texts`` are: they speak of the very song that the show was written for."""
OF_WISHES = ("hue", "unmet")
"""Kinds of lesser remarks that are about what people wish for their house."""
OF_HOUSE = ("pixels", "supply", "voltage", "wire", "mains", "data", "house", "photo", "unmet")
"""Kinds of remarks that are of the house where they stand for all its songs, were it only one."""
OF_FRAMES = ("flashes",)
"""Kinds of remarks that tell what was measured in a song's frames."""


def shown(path: str) -> str:
    """A file with its folder, as people tell it from others of the same name: ``pine/house.toml``."""
    return "/".join(Path(path).parts[-2:])


@dataclass(frozen=True)
class Remark:
    """Something that deserves a look."""

    grave: bool
    """Whether all is not well until somebody has looked."""
    found: str
    """In words, with what to do."""
    kind: str = ""
    """A weight of `eavesong.check`, what a finding of `eavesong.limits` is about, ``photo`` or ``page``."""
    place: str = ""
    """Where in the show: ``line 12, cue 3, on``."""
    cue: int | None = None
    """The cue, from 1."""
    props: tuple[str, ...] = ()
    """Props that it speaks of, and likewise controllers and supplies."""
    controllers: tuple[str, ...] = ()
    supplies: tuple[str, ...] = ()

    def for_programs(self) -> dict[str, Any]:
        """What is known of it."""
        return {name: value for name, value in asdict(self).items() if value or name == "grave"}


ANOTHER_SONG = Remark(
    True,
    "its song is another file now than its frames were made to before. Where the music begins earlier or later in "
    "it, or is cut, the bars of the show are others now: look at it once. `eavesong pack` with the song as it was, and "
    "`unpack` with this one, carry the show over. This is said until the show or a text of the song changes, or the "
    "batch is run with --force",
    "song",
)
"""What is said of frames that were made again to another copy of their song."""
BEFORE = "audio before"
"""What frames call the SHA-256 of the sound that they were made to before, as long as nobody has answered to that."""


def read_remark(kept: Mapping[str, Any]) -> Remark:
    """A remark from what ``asdict`` made of it, and JSON of that. Raises TypeError for anything else."""
    values: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in kept.items()}
    return Remark(**values)


def of_check(problem: Problem, weight: str, layout: Layout) -> Remark:
    """What ``check`` says."""
    cue = re.search(r"\bcue (\d+)", problem.place)
    of_song = weight != "texts" and problem.place.rpartition(", ")[2] in OF_SONG
    where = f"{problem.place}: " if problem.place else ""
    found = f"{where}{problem.found}. {problem.instead}".strip()
    number = int(cue[1]) if cue else None
    grave = weight in GRAVE and not of_song
    return Remark(grave, found, weight, problem.place, number, *_named(problem.found, layout))


def of_limits(finding: Finding, layout: Layout) -> Remark:
    """What ``limits`` says."""
    return Remark(not finding.warning, str(finding), finding.about, "", None, *_named(finding.found, layout))


def _named(found: str, layout: Layout) -> Iterator[tuple[str, ...]]:
    """The props, controllers and supplies that a sentence names in quotation marks."""
    quoted = dict.fromkeys(re.findall(r"'([^']+)'", found))
    for those in (layout.props, layout.patch.controllers, layout.power.supplies):
        names = {each.name for each in those}
        yield tuple(name for name in quoted if name in names)


def of_every_song(songs: Sequence[Sequence[Remark]]) -> Iterator[Remark]:
    """What is said of each of these songs of one house alike, and so is of the house rather than of a song; figures of
    frames may be the same by chance."""
    if songs:
        for remark in dict.fromkeys(songs[0]):
            alike = remark.kind in OF_HOUSE or (len(songs) > 1 and remark.kind not in OF_FRAMES)
            if alike and all(remark in others for others in songs):
                yield remark

"""What ``eavesong demo`` does: songs, a house and a show become frames and pictures, in a folder to play with."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.errors import OutputError, Problem
from eavesong.files import shipped, write_whole

if TYPE_CHECKING:
    from eavesong.demo.songs import DemoSong
    from eavesong.layout import Layout
    from eavesong.render import Rendered

HOUSE = "two-storey-2026.toml"
SHOW = "street.show.toml"
PAGE = "lantern-walk.html"
"""The page of the first song, to be opened first."""
HIGHLIGHTS = 6
"""Pictures in a song's filmstrip."""


@dataclass(frozen=True)
class Played:
    """One song of the demo, done."""

    song: DemoSong
    rendered: Rendered
    strip: Path
    """The filmstrip."""
    seconds: float
    """How long rendering took."""


def make_demo(folder: Path, say: Callable[[str], None], *, overwrite: bool = False) -> tuple[Played, ...]:
    """Do the whole job in ``folder`` and tell ``say`` of each step; OutputError when it cannot be written to.

    Afterwards the folder holds three songs with their beats and sections, the layout of a house, a show drafted for
    each song, a frames file and a filmstrip for each, a page that plays the first of them, drawings of the house, and a
    show written by hand as an example. A layout or a show that is there already is used as it is, so that one can
    change it and see; everything else is made anew, but for what somebody else wrote or changed, unless ``overwrite``.
    """
    from eavesong.demo.songs import names_of_songs
    from eavesong.replaced import replacing

    _make_folder(folder)
    songs = names_of_songs()
    pictures = ("house.png", "house-plan.png", PAGE, *(f"{name}.png" for name in songs))
    sounds = (f"{name}{ending}" for name in songs for ending in (".wav", ".beats", ".sections"))
    with replacing(*(folder / name for name in (*pictures, *sounds)), overwrite=overwrite):
        return _made(folder, say)


def _made(folder: Path, say: Callable[[str], None]) -> tuple[Played, ...]:
    from eavesong.demo.songs import make_songs
    from eavesong.layout import load_layout
    from eavesong.layout.draw import save_drawing

    say("Making three songs")
    songs = make_songs(folder)
    for file in shipped("layouts").iterdir():
        if (file.name == HOUSE or file.suffix == ".csv") and not (folder / file.name).exists():
            shutil.copyfile(file, folder / file.name)
    if not (folder / SHOW).exists():
        write_whole(folder / SHOW, (Path(__file__).parent / SHOW).read_text(encoding="utf-8"))
    layout = load_layout(folder / HOUSE)
    say(f"Drawing the house: {layout.pixel_count:,} pixels in {len(layout.props)} props")
    save_drawing(layout, folder / "house.png", "front")
    save_drawing(layout, folder / "house-plan.png", "plan")
    for song in songs:
        _draft(folder, song, layout, say)
    done = tuple(_play(folder, song, say) for song in songs)
    say(f"Making the page of {songs[0].title}")
    _page(folder, songs[0])
    return done


def _page(folder: Path, song: DemoSong) -> None:
    """The page that plays a song's frames; it warns where the show has been changed to flash more than people bear."""
    from eavesong.frames import open_frames
    from eavesong.limits import limits
    from eavesong.preview import write_page
    from eavesong.preview.night import WARNING
    from eavesong.scene import Reopened

    with open_frames(folder / f"{song.path.stem}.h5") as frames:
        source = Reopened(frames)
        flashes = limits(source.layout, frames).flashes
        calm = (flashes is None or flashes.passes) and not source.allows_flashes
        write_page(source, folder / PAGE, song=song.path, warning="" if calm else WARNING)


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(Problem(str(folder), "", f"cannot be made: {fault.strerror or fault}")) from None


def drafted(song: DemoSong) -> str:
    """The name of the show that is drafted for a song."""
    return f"{song.path.stem}.show.toml"


def _draft(folder: Path, song: DemoSong, layout: Layout, say: Callable[[str], None]) -> None:
    """Draft the song's show where there is none yet."""
    from eavesong.draft import draft_song

    show = folder / drafted(song)
    if not show.exists():
        say(f"Drafting a show for {song.title}")
        write_whole(show, draft_song(song.path, layout))


def _play(folder: Path, song: DemoSong, say: Callable[[str], None]) -> Played:
    from time import perf_counter

    from eavesong.frames import open_frames
    from eavesong.preview.night import filmstrip, save_picture
    from eavesong.render import Order, render

    say(f"Rendering {song.title}")
    out = folder / f"{song.path.stem}.h5"
    began = perf_counter()
    rendered = render(Order.of(folder / drafted(song), folder / HOUSE, song.path), out)
    seconds = perf_counter() - began
    strip = folder / f"{song.path.stem}.png"
    with open_frames(out) as frames:
        moments, captions = highlights(song)
        save_picture(filmstrip(frames, moments, captions), strip)
    return Played(song, rendered, strip, seconds)


def highlights(song: DemoSong) -> tuple[list[float], list[str]]:
    """Moments worth a picture, and captions: a little after the downbeat in the middle of each section, in order."""
    moments, captions = [], []
    for section in song.grid.sections[:HIGHLIGHTS]:
        middle = (section.start + section.end) / 2
        bar, downbeat = min(enumerate(song.grid.downbeats, start=1), key=lambda entry: abs(entry[1] - middle))
        moments.append(downbeat + 0.1)
        captions.append(f"{section.label}, bar {bar}")
    return moments, captions

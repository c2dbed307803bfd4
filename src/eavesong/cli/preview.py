"""``eavesong preview``: see a show before anything is hung."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from eavesong.scene import Reopened

from eavesong.cli.idle import tell_idle
from eavesong.cli.words import SomeOf, may_overwrite, moment_in, next_step, tell_outdated
from eavesong.errors import FramesError, MisfitError, Problem, SurveyError
from eavesong.scene.reopen import is_another_song
from eavesong.words import typed, visible

KINDS = (".png", ".webp", ".gif", ".mp4", ".html")

COLUMNS = 3
"""Pictures of a filmstrip side by side, at most."""
MOSTLY = 0.3
"""Share of a prop beyond the photo from which it is told."""
FLAT, STRAIGHT = 0.1, 0.98
"""Metres within which places lie on one plane, and cosine of the angle from which it is seen from straight ahead."""


@click.command(name="preview", short_help="Show the house lit: a picture, a clip or a page to play.")
@click.argument("path", metavar="FRAMES", type=click.Path(path_type=Path))
@click.option("--out", "-o", required=True, type=click.Path(path_type=Path), help="A .png, .webp, .gif, .mp4 or .html.")
@click.option("--at", "moments", multiple=True, metavar="TIME", help="A picture of this moment; several: a filmstrip.")
@click.option("--score", "as_score", is_flag=True, help="A picture of the whole song: every pixel against time.")
@click.option("--from", "start", metavar="TIME", help="Where in the song to begin.")
@click.option("--to", "stop", metavar="TIME", help="Where in the song to stop.")
@click.option(
    "--view", default="street", show_default=True, metavar="VIEW", help="street, corner, plan, front, or TURN,RISE."
)
@click.option("--height", type=click.FloatRange(0.1, 100), metavar="METRES", help="Of the eye in the street.")
@click.option("--distance", type=click.FloatRange(1, 1000), metavar="METRES", help="From the walls to the eye.")
@click.option("--field", type=click.FloatRange(5, 120), metavar="DEGREES", help="Of the view from left to right.")
@click.option(
    "--size",
    default="1280x720",
    show_default=True,
    metavar="WxH",
    help="Of pictures and clips; of a filmstrip the width.",
)
@click.option("--song", type=click.Path(path_type=Path), help="The sound file; else the one beside FRAMES.")
@click.option("--silent", is_flag=True, help="Leave the song out.")
@click.option("--photo", type=click.Path(path_type=Path), help="A photo of the house; else the one beside FRAMES.")
@click.option("--for", "name", default="", metavar="NAME", help="Whom a page is for; it stands at its head.")
@click.option("--date", default="", metavar="DATE", help="A date at the head of a page, as it shall stand there.")
@click.option(
    "--without",
    multiple=True,
    type=SomeOf(("wiring", "cues", "names")),
    help="What a page does not hold: wiring, cues, names, with commas between.",
)
@may_overwrite
@click.option("--quiet", "-q", is_flag=True, help="Print nothing but errors.")
def command(
    path: Path, out: Path, moments: tuple[str, ...], as_score: bool, start: str | None, stop: str | None, view: str,
    height: float | None, distance: float | None, field: float | None, size: str, song: Path | None, silent: bool,
    photo: Path | None, name: str, date: str, without: tuple[str, ...], overwrite: bool, quiet: bool,
) -> None:  # fmt: skip
    """Show what FRAMES does to the house, from the frames file alone.

    \b
    eavesong preview frost.h5 --out frost.html             a page that plays it, in one file
    eavesong preview frost.h5 --out larch.html --for "Family Larch" --without wiring --without cues
    eavesong preview frost.h5 --out frost.mp4              a clip with the song
    eavesong preview frost.h5 --out frost.png --at 1:05    a picture
    eavesong preview frost.h5 --out frost.png --score      the whole song as one picture
    eavesong preview frost.h5 --out strip.png --at "bar 1" --at "bar 9" --at "bar 17"
    eavesong preview frost.h5 --out loop.webp --from "bar 9" --to "bar 11"

    A TIME is seconds (83.5), minutes and seconds (1:23.5) or a bar ("bar 17").
    """
    from eavesong.frames import open_frames
    from eavesong.replaced import replacing
    from eavesong.scene import Reopened

    if (kind := out.suffix.lower()) not in KINDS:
        raise click.BadParameter(f"'{out.name}' ends with none of {', '.join(KINDS)}.", param_hint="--out")
    with open_frames(path) as frames, replacing(out, overwrite=overwrite, read=(path, song, photo)):
        source = Reopened(frames)
        if not quiet:
            tell_outdated(source.outdated)
            for stray in source.strays:
                click.echo(str(stray), err=True)
        terms = source.terms.in_words()
        sight = _sight(source, height=height, distance=distance, field=field)
        towards = _view(view)
        seen = {"photo": _photo(source, photo, towards == _view("street") and not as_score), "sight": sight}
        asked = {"size": _size(size), "seen": {"view": towards, **seen}, "quiet": quiet}
        moving = not as_score and not moments and kind in (".mp4", ".html")
        sound = _song(source, song) if moving and not silent else None
        span = [moment_in(source, text, option) for text, option in ((start, "--from"), (stop, "--to"))]
        still = (not moments and span == [None, None] and kind in (".png", ".webp")) or kind == ".png"
        if not quiet:
            picture = bool(moments) or still
            place = source.sight.photo
            through_photo = seen["photo"] is not None and (place.clicks is not None or place.camera is not None)
            tell_idle(_idle(kind, view, as_score=as_score, picture=picture, through_photo=through_photo))
            _tell_width(several=len(moments) > 1 and not as_score)
            if not as_score and kind != ".html":
                _tell_even(size)
            if as_score or not (moments or still or kind == ".html"):
                _tell_end(source, span[1], stop)
        if as_score:
            _score(source, out, span)
        elif kind == ".html" and not moments:
            _page(source, out, sound, seen | {"reader": _reader(name, date, without)}, quiet)
        elif moments or still:
            _pictures(source, out, moments, asked)
        else:
            _clip(source, out, span, sound, asked)
    if not quiet:
        told = f", of frames on these terms: {terms}" if terms else ""
        click.echo(f"{out}: {out.stat().st_size / 1e6:,.1f} MB{told}")
        next_step("a rehearsal: nothing leaves this computer", f"play {typed(path)} --to 127.0.0.1")


def _tell_width(*, several: bool) -> None:
    """Say what of a size that was given counts for pictures side by side."""
    given = click.get_current_context().get_parameter_source("size") is click.core.ParameterSource.COMMANDLINE
    if given and several:
        click.echo("Of --size the width counts here: the filmstrip is as wide, and as high as its rows.", err=True)


def _tell_even(size: str) -> None:
    """Say which size is made where an odd one was asked for."""
    width, height = _size(size)
    if [width, height] != [int(each) for each in size.lower().split("x")]:
        click.echo(f"Pictures and clips have an even width and height: {width}x{height} for --size {size}.", err=True)


def _tell_end(source: Reopened, seconds: float | None, text: str | None) -> None:
    """Say where it ends, where an end after the last frame was asked for."""
    from eavesong.words import clock_text

    if seconds is not None and seconds > source.end + 1e-3:
        whole = source.end >= source.frames.song_seconds
        end = f"the end{'' if whole else ' of these frames'}, {clock_text(source.end, 1)}"
        click.echo(f"--to {text} is after {end}, and it goes on no further.", err=True)


def _idle(kind: str, view: str, *, as_score: bool, picture: bool, through_photo: bool) -> dict[str, str]:
    """Which options change nothing, and why, where this is made."""
    page = kind == ".html"
    idle = {} if page else dict.fromkeys(("name", "date", "without"), "only a page (.html) is for somebody")
    if page:
        idle |= dict.fromkeys(("start", "stop"), "a page holds the whole song")
        idle |= dict.fromkeys(("view", "size"), "a page has all views, at the size of its window")
    elif as_score:
        looks = ("moments", "view", "height", "distance", "field", "size", "photo")
        idle |= dict.fromkeys(looks, "--score shows every pixel against time, and no house")
    elif view != "street":
        idle |= dict.fromkeys(("height", "distance", "field", "photo"), "it is for the view from the street")
    elif through_photo:
        idle |= dict.fromkeys(("height", "distance", "field"), "the house is seen as the camera of its photo saw it")
    if picture and not as_score:
        idle |= dict.fromkeys(("start", "stop"), "a picture is of one moment; --at says which")
    if not page and kind != ".mp4":
        idle |= dict.fromkeys(("song", "silent"), f"a {kind} has no sound")
    return idle


def _song(source: Reopened, asked: Path | None) -> Path | None:
    """The sound of a clip or a page; FramesError where the frames were made to a song that is not found."""
    if song := asked or source.song:
        if is_another_song(source.frames, song):
            click.echo(
                f"'{visible(song.name)}' is not the file that these frames were made to, so light may not fit it: "
                "render them again.", err=True,
            )  # fmt: skip
        return song
    if not (name := source.frames.song):
        return None
    found = f"its song '{visible(name)}' is not found{_looked(source, name, source.frames.song_path)}"
    advice = "Give it with --song FILE, or write --silent to do without sound."
    raise FramesError(Problem(str(source.frames.path), "", found, advice))


def _photo(source: Reopened, asked: Path | None, is_seen: bool) -> Path | None:
    """The photo of the house; a word where the layout names one that is not found, or, where it ``is_seen``, that does
    not reach."""
    import numpy as np

    from eavesong.preview.outlook import camera_of
    from eavesong.preview.photo import opened, opened_if_any

    if asked is not None:
        opened(asked)
    if source.photo is None and (name := source.photo_name):
        where = _looked(source, name, source.frames.photo_path)
        click.echo(f"The photo '{name}' is not found{where}: the house is drawn. Give it with --photo FILE.", err=True)
    path = asked or source.photo
    if picture := opened_if_any(path):
        if not source.sight.photo.told:
            click.echo(
                "Nothing tells where in the photo the house is, so it is laid on the whole front and lights may lie "
                "beside what they hang on. Name four corners under [photo] in the layout, or survey the house.",
                err=True,
            )
        try:
            camera = camera_of(source.sight.photo, picture.size)
        except MisfitError as fault:
            raise SurveyError(
                Problem(f"{source.frames.path}: layout", "photo, corners", fault.found, fault.instead)
            ) from None
        clicks = source.sight.photo.clicks
        if camera and clicks and float(np.ptp(clicks[1][:, 2])) < FLAT and float(camera.axes[2, 2]) > STRAIGHT:
            click.echo(
                "The corners of the photo all lie on one plane that it shows from straight ahead, which does not tell "
                "how far off it was taken: what hangs before or behind that plane may be shown beside its place. Point "
                "at a place before or behind it as well, such as a tree's foot, or survey the house.", err=True,
            )  # fmt: skip
        if is_seen:
            _tell_beside(source, path)
    return path


def _tell_beside(source: Reopened, photo: Path | None) -> None:
    """Say of which props most hangs where the photo does not reach."""
    from eavesong.preview.outlook import Outlook
    from eavesong.preview.subject import subject_of

    beside = Outlook(subject_of(source), photo=photo).beside()
    names = [
        row.name
        for row in source.frames.props
        if beside[row.first_pixel : row.first_pixel + row.pixel_count].mean() > MOSTLY
    ]
    if names:
        told = f"{', '.join(map(visible, names[:8]))}{f' and {len(names) - 8} more' if len(names) > 8 else ''}"
        click.echo(
            f"The photo does not reach as far as {told}: look with --view corner, or take a wider one.", err=True
        )


def _sight(source: Reopened, **asked: float | None) -> Any:
    """How the house is looked at: as the layout says, where nothing else is asked for."""
    from eavesong.preview.view import with_standpoint

    return with_standpoint(source.sight, **asked)


def _reader(name: str, date: str, without: tuple[str, ...]) -> Any:
    from eavesong.preview import PageReader

    return PageReader(visible(name), visible(date), frozenset(word for words in without for word in words.split(",")))


def _looked(source: Reopened, name: str, path: str) -> str:
    """Where a file was looked for, in words."""
    there = f", nor is it what it was at '{visible(path)}'" if path and path != name else ""
    return f" beside '{source.frames.path.name}'{there}"


def _pictures(source: Reopened, out: Path, moments: tuple[str, ...], asked: dict[str, Any]) -> None:
    import numpy as np

    from eavesong.preview import filmstrip, save_picture, still
    from eavesong.preview.night import GAP

    size, seen = asked["size"], asked["seen"]
    seconds = [_moment(source, text) for text in moments] or [_middle(source)]
    if out.suffix.lower() not in (".png", ".webp"):
        raise click.UsageError("--at makes a picture: let --out end with .png or .webp.")
    if len(seconds) == 1:
        save_picture(still(source.frames, seconds[0], size, **seen), out)
    else:
        columns = min(len(seconds), COLUMNS)
        width = (size[0] + GAP) // columns - GAP
        strip = filmstrip(source.frames, seconds, moments, columns, width, **seen)
        save_picture(np.pad(strip, ((0, 0), (0, size[0] - strip.shape[1]), (0, 0))), out)  # what division left over


def _moment(source: Reopened, text: str) -> float:
    """Seconds of a moment that a picture is asked of; click.BadParameter where the song is over by then."""
    from eavesong.words import clock_text

    seconds = moment_in(source, text, "--at") or 0.0
    if seconds > source.end:
        told = f"'{text}' is after the end, {clock_text(source.end, 1)}. Write an earlier moment."
        raise click.BadParameter(told, param_hint="--at")
    if seconds < source.frames.start - 1e-3:
        told = f"'{text}' is before these frames begin, {clock_text(source.frames.start, 1)}. Write a later moment."
        raise click.BadParameter(told, param_hint="--at")
    return seconds


def _middle(source: Reopened) -> float:
    return (source.frames.start + source.end) / 2


def _score(source: Reopened, out: Path, span: list[float | None]) -> None:
    from eavesong.preview import save_picture, score_picture

    if out.suffix.lower() not in (".png", ".webp"):
        raise click.UsageError("--score makes a picture: let --out end with .png or .webp.")
    save_picture(score_picture(source, span[0], span[1]).picture, out)


def _clip(source: Reopened, out: Path, span: list[float | None], song: Path | None, asked: dict[str, Any]) -> None:
    from concurrent.futures import ThreadPoolExecutor

    from eavesong.cli.words import bar_of_progress
    from eavesong.preview import Painter, write_film, write_loop

    start = source.frames.start if span[0] is None else span[0]
    end = source.end if span[1] is None else span[1]
    with ThreadPoolExecutor(1) as beside:  # compiled loops are loaded meanwhile
        looking = beside.submit(_warning, source, asked["quiet"])
        scene = Painter(source, asked["size"], **asked["seen"])
        scene.hurry()
        warning = looking.result()
    with bar_of_progress(f"Drawing {out.name}", asked["quiet"]) as progress:
        if out.suffix.lower() == ".mp4":
            write_film(source, scene, out, start, end, song=song, flashes=bool(warning), progress=progress)
        else:
            write_loop(source, scene, out, start, end, flashes=bool(warning), progress=progress)
    if warning and not asked["quiet"]:
        click.echo(f"Warning: {warning} The clip says so at its beginning.", err=True)


def _page(source: Reopened, out: Path, song: Path | None, seen: dict[str, Any], quiet: bool) -> None:
    from eavesong.preview import write_page

    def say(step: str) -> None:
        """Tell a step, unless quiet."""
        if not quiet:
            click.echo(f"{step} …", err=True)

    warning = _warning(source, quiet)
    write_page(source, out, song=song, warning=warning, **seen, say=say)
    if warning and not quiet:
        click.echo(f"Warning: {warning} The page says so before it plays.", err=True)


def _warning(source: Reopened, quiet: bool) -> str:
    """What to say before a show that flashes more than people bear, or says that it may; empty for any other."""
    from eavesong.limits import flashes_of
    from eavesong.preview.night import WARNING

    if not quiet:
        click.echo("Looking for flashes …", err=True)
    flashes = flashes_of(source.layout, source.frames)
    if flashes.passes:
        return WARNING if source.allows_flashes else ""
    first = flashes.episodes[0].start.clock if flashes.episodes else ""
    return (
        f"This show flashes up to {flashes.most_transitions / 2:g} times in a second"
        + (f", first in the one from {first} on" if first else "")
        + ". More than three flashes in a second can bring on a seizure in people with photosensitive epilepsy."
    )


def _view(text: str) -> Any:
    from eavesong.preview import parse_view

    try:
        return parse_view(text)
    except MisfitError as fault:
        raise click.BadParameter(str(fault), param_hint="--view") from None


def _size(text: str) -> tuple[int, int]:
    """Width and height, both even, as H.264 wants them."""
    parts = text.lower().split("x")
    if len(parts) != 2 or not all(part.isdigit() and 64 <= int(part) <= 7680 for part in parts):
        raise click.BadParameter(f"'{text}' is no size. Write WIDTHxHEIGHT, 64 to 7680 each.", param_hint="--size")
    width, height = (int(part) // 2 * 2 for part in parts)
    return width, height

"""The gallery: every effect as a still and a short loop on two houses, with its parameters, in one Markdown page."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING

from eavesong.demo.run import HOUSE, SHOW, highlights
from eavesong.errors import OutputError, Problem
from eavesong.files import shipped, write_whole
from eavesong.processors import processors

if TYPE_CHECKING:
    from eavesong.demo.songs import DemoSong
    from eavesong.language import Effect

HOUSES = (HOUSE, "bungalow.toml")
SIZE = (352, 198)
RATE = 10.0
"""Pictures a second of a loop."""
BARS = (13, 15)
"""The bars of the song that a loop lasts: the chorus has just begun."""
MOMENTS = 24
"""Of a loop; the still shows the brightest of them."""
QUALITY = 50
ENDINGS = ("-still.webp", ".webp")
"""Of the names of an effect's still and its loop."""
PALETTES = ("evening sky", "frost", "lagoon", "paintbox", "holly", "ember", "meadow", "berry", "pine wood", "candle")
"""Each effect is given one of them, always the same, so that not all pictures are of one colour."""
OPACITY = 0.7
"""A whole house lit by one effect would burn out in a small picture."""

HEAD = """# Effects

Every effect that comes with eavesong on two houses, as a still and for two bars of a song: its parameters as they come,
in one of the palettes that come along. `eavesong gallery` makes this page and its pictures. How an effect is written:
[language.md](language.md).

"""


def make_gallery(
    folder: Path, say: Callable[[str], None], names: Sequence[str] = (), *, overwrite: bool = False
) -> Path:
    """Write ``effects.md`` and ``pictures/`` into ``folder``; its path is returned.

    names: only these effects, and no picture for the README; all where empty. overwrite: replace what eavesong did not
    write, too. Raises EffectError for a name that is none, OutputError where nothing can be written.
    """
    from eavesong.demo.songs import LANTERN_WALK, names_of_songs
    from eavesong.language import effect_names, load_effect
    from eavesong.replaced import replacing

    effects = [load_effect(name) for name in (names or effect_names())]
    pictures = folder / "pictures"
    try:
        pictures.mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise OutputError(Problem(str(pictures), "", f"cannot be made: {fault.strerror or fault}")) from None
    stems = (_stem(effect.name, house) for effect in effects for house in HOUSES)
    targets = [pictures / f"{stem}{ending}" for stem in stems for ending in ENDINGS]
    targets += [] if names else [pictures / f"{names_of_songs((LANTERN_WALK,))[0]}.png"]
    page = folder / "effects.md"
    with replacing(page, *targets, overwrite=overwrite):
        _make(page, pictures, effects, say, readme=not names)
    return page


def _make(page: Path, pictures: Path, effects: Sequence[Effect], say: Callable[[str], None], *, readme: bool) -> None:
    from eavesong.demo.songs import LANTERN_WALK, make_songs

    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        song = make_songs(work, (LANTERN_WALK,))[0]
        song.path.with_suffix(".events").write_text(_events(song))
        if readme:
            say("the README's picture")
            _readme_picture(work, song, pictures)
        with ThreadPoolExecutor(processors()) as pool:
            for name in pool.map(lambda effect: _show(effect, song, work, pictures), effects):
                say(name)
    write_whole(page, HEAD + "\n".join(_section(effect) for effect in effects))


def _events(song: DemoSong) -> str:
    """What effects answer to in the bars that are shown: strokes throughout, a hit, a fill and a stop."""
    at = song.grid.time_of_beat
    first = round(float(song.grid.beat_at([song.grid.time_of_bar(BARS[0] - 1)])[0]))
    told: list[tuple[float, str, float]] = [
        (first + beat, "low" if beat % 2 == 0 else "middle", 0.8) for beat in range(8)
    ]
    told += [(first + beat / 2, "high", 0.5) for beat in range(16)]
    told += [(first, "hit", 1.0), (first, "arrival", 1.0), (first, "phrase", 1.0)]
    told += [
        (first + 4, "fill", 1.0),
        (first + 5.9, "fill-end", 1.0),
        (first + 6, "stop", 1.0),
        (first + 7, "stop-end", 1.0),
    ]
    return "".join(f"{float(at(beat)):.3f}\t{label}\t{strength}\n" for beat, label, strength in sorted(told))


def _show(effect: Effect, song: DemoSong, work: Path, pictures: Path) -> str:
    """A still and a loop of one effect on each house."""
    from eavesong.frames import open_frames
    from eavesong.preview import Painter, save_picture, write_loop
    from eavesong.render import Order, render
    from eavesong.scene import Reopened

    start, end = (song.grid.time_of_bar(bar - 1) for bar in BARS)
    show = work / f"{effect.name}.show.toml"
    (work / f"{effect.name}.toml").write_text(effect.text, encoding="utf-8")
    palette = PALETTES[sum(effect.name.encode()) % len(PALETTES)]
    cue = f'effect = "{effect.name}.toml"\npalette = "{palette}"\nopacity = {OPACITY}\nbars = {list(BARS)}\n'
    show.write_text(f'song = "{song.path.name}"\n[[cue]]\n{cue}', encoding="utf-8")
    for house in HOUSES:
        frames, stem = work / f"{effect.name}-{house}.h5", _stem(effect.name, house)
        render(Order.of(show, shipped("layouts") / house, start=start, stop=end), frames, workers=1)
        with open_frames(frames) as opened:
            source = Reopened(opened)
            scene = Painter(source, SIZE)
            moments = (source.light_at(start + (end - start) * at / MOMENTS) for at in range(MOMENTS))
            save_picture(
                scene.picture(max(moments, key=lambda light: int(light.sum()))), pictures / f"{stem}{ENDINGS[0]}"
            )
            write_loop(source, scene, pictures / f"{stem}{ENDINGS[1]}", start, end, rate=RATE, quality=QUALITY)
        frames.unlink()
    return effect.name


def _readme_picture(work: Path, song: DemoSong, pictures: Path) -> None:
    """The filmstrip of the demo's show that the README begins with."""
    from eavesong.frames import open_frames
    from eavesong.preview import filmstrip, save_picture
    from eavesong.render import Order, render

    frames = work / "demo.h5"
    render(Order.of(Path(__file__).parent / SHOW, shipped("layouts") / HOUSE, song.path), frames)
    with open_frames(frames) as opened:
        save_picture(filmstrip(opened, *highlights(song)), pictures / f"{song.path.stem}.png")


def _stem(effect: str, house: str) -> str:
    return f"{effect}-{house.removesuffix('.toml')}"


def _section(effect: Effect) -> str:
    """What the page says of one effect."""
    cells = [
        " | ".join(f"![{effect.title} on a {_called(house)}, {kind}](pictures/{_stem(effect.name, house)}{end})"
                   for house in HOUSES)
        for kind, end in zip(("a still", "a loop"), ENDINGS, strict=True)
    ]  # fmt: skip
    heads = " | ".join(f"on a {_called(house)}" for house in HOUSES)
    pictures = [f"| {heads} |", "|---|---|", *(f"| {row} |" for row in cells)]
    return "\n".join([f"## {effect.title}", "", f"`{effect.name}`: {effect.about}", "", *pictures, *_table(effect), ""])


def _called(house: str) -> str:
    return {HOUSE: "house of two storeys"}.get(house, house.removesuffix(".toml"))


def _table(effect: Effect) -> Iterable[str]:
    if not effect.parameters:
        return
    yield from ("", "| parameter | as it comes | from | to | |", "|---|---|---|---|---|")
    for name, parameter in effect.parameters.items():
        default = f"`{parameter.default}`" if isinstance(parameter.default, str) else f"{parameter.default:g}"
        low, high = ("" if limit is None else f"{limit:g}" for limit in (parameter.min, parameter.max))
        about = "; ".join(part for part in (parameter.about, parameter.unit) if part)
        yield f"| `{name}` | {default} | {low} | {high} | {about.replace('|', '/')} |"

"""Make the pictures of docs/craft.md from the cues that stand there: python tests/benchmarks/craft_pictures.py"""

import os
import re
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from PIL import Image

from eavesong.demo.songs import LANTERN_WALK, make_songs
from eavesong.files import shipped
from eavesong.frames import open_frames
from eavesong.preview import filmstrip, score_picture
from eavesong.render import Order, render
from eavesong.scene import Reopened

DOCS = Path(__file__).parents[2] / "docs"
HOUSE = "two-storey-2026.toml"
BLACK = 'name = "One beat of black"'
BARS = {
    1: (2, 14), 2: (2, 3.5, 4.9), 3: (6, 8.3, 11), 4: (9.4, 10.4, 11.4), 5: (12.4, 12.9, 13.05), 6: (13.1, 15.3, 18.6),
    7: (21.5, 22.5, 23), 8: (14.3, 26.3), 9: (28.5, 29.5, 31),
}  # fmt: skip
"""Of the pictures of each step."""
WIDTH, RATE, QUALITY = 480, 20.0, 80


def steps(page: str) -> list[str]:
    """The pieces of the show, one for each step of the page."""
    return re.findall(r"^```toml\n(.*?)^```", page, flags=re.DOTALL | re.MULTILINE)


def show_of(pieces: list[str]) -> str:
    """The show as far as it has come; the beat of black is there from the step that tells of it, and always on top."""
    text = "\n".join(pieces)
    if len(pieces) >= 5 and BLACK not in text:
        text += (
            f'\n[[cue]]\n{BLACK}\neffect = "plain"\non = "all"\nbars = [[12.75, 13], [24.75, 25]]\npalette = "black"\n'
        )
    return text


def save(picture: object, name: str) -> None:
    """Into the pictures of the manual, as WebP."""
    path = DOCS / "pictures" / name
    Image.fromarray(picture).save(path, "WEBP", quality=QUALITY, method=6)
    print(f"{path.name}: {path.stat().st_size / 1000:.0f} kB")


def main() -> None:
    """Render the show after each step, and draw what that step is about."""
    pieces = steps((DOCS / "craft.md").read_text())
    with tempfile.TemporaryDirectory() as temporary:
        work = Path(temporary)
        song = make_songs(work, (LANTERN_WALK,))[0]
        show, frames = work / "proud.show.toml", work / "proud.h5"
        for step in range(1, len(pieces) + 1):
            show.write_text(show_of(pieces[:step]))
            render(Order.of(show, shipped("layouts") / HOUSE, song.path, frame_rate=RATE), frames)
            with open_frames(frames) as opened:
                source = Reopened(opened)
                moments = [source.grid.time_of_bar(bar - 1) for bar in BARS[step]]
                captions = [f"bar {int(bar)}" for bar in BARS[step]]
                save(filmstrip(opened, moments, captions, width=WIDTH), f"craft-{step}.webp")
        with open_frames(frames) as opened:
            save(score_picture(Reopened(opened), width=1440).picture, "craft-score.webp")


if __name__ == "__main__":
    sys.exit(main())

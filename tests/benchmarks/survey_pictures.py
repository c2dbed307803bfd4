"""Make the example of docs/survey.md and its pictures: python tests/benchmarks/survey_pictures.py [--keep FOLDER]

The house is drawn from known truth, clicked with noise, surveyed; the sheet is photographed in Chromium.
"""

import argparse
import os
import shutil
import sys
import tempfile
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.append(str(Path(__file__).parents[1]))

import numpy as np
from PIL import Image

from survey_houses import FOUR, camera, known_of, plain_house, survey_text
from survey_photo import as_jpeg, photo_of

PICTURES = Path(__file__).parents[2] / "docs" / "pictures"
WIDTH = 1200


def make_example(folder: Path) -> Path:
    """Write the photo and the survey of the plain house to a folder; the survey's path."""
    house, rng = plain_house(), np.random.default_rng(5)
    lens = camera(house, 75, 12, rng)
    known = known_of(house, [lens], FOUR, rng, exif=True)
    (folder / "house.jpg").write_bytes(as_jpeg(photo_of(house, lens), lens))
    (folder / "house.survey.toml").write_text(survey_text(house, known, FOUR, ["house.jpg"]))
    return folder / "house.survey.toml"


def photograph_sheet(sheet: Path, survey: Path, out: Path) -> None:
    """A picture of the sheet with the corners of door and window set, one of them under the loupe."""
    from playwright.sync_api import sync_playwright

    from eavesong.survey.read import read_survey

    known = read_survey(survey).known
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=shutil.which("chromium"), args=["--headless", "--no-sandbox"])
        tab = browser.new_page(viewport={"width": 1200, "height": 720})
        tab.goto(sheet.as_uri())
        tab.wait_for_selector("body[data-ready]")
        box = tab.locator("#photo").bounding_box()
        for thing in ("door", "window", "eaves"):
            tab.click(f"#things button:text-is('{thing}')")
            names = [f"{thing} {corner}" for corner in ("bl", "br", "tr", "tl")]
            for name in names if thing != "eaves" else ["eave l"]:
                x, y = known.clicks[known.points.index(name)]
                at = tab.evaluate(f"sheet.toScreen({{ x: {x}, y: {y} }})")
                tab.mouse.click(box["x"] + at["x"], box["y"] + at["y"])
        x, y = known.clicks[known.points.index("eave r")]
        at = tab.evaluate(f"sheet.toScreen({{ x: {x}, y: {y} }})")
        tab.mouse.move(box["x"] + at["x"], box["y"] + at["y"])
        tab.mouse.down()
        tab.wait_for_timeout(300)
        tab.screenshot(path=str(out))
        browser.close()


def small(picture: Path, name: str) -> None:
    """A copy for the documentation."""
    with Image.open(picture) as whole:
        whole.thumbnail((WIDTH, WIDTH))
        whole.save(PICTURES / name, quality=80)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--keep", type=Path, help="A folder to leave the example in.")
    asked = parser.parse_args()
    from eavesong.survey import check_picture, layout_text, report_text, survey, write_sheet

    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.keep or Path(scratch)
        folder.mkdir(parents=True, exist_ok=True)
        path = make_example(folder)
        read, solution = survey(path)
        print(report_text(read, solution), "\n", layout_text(read, solution), sep="\n")
        check_picture(read, solution, folder / "check.png")
        small(folder / "check.png", "survey-check.webp")
        write_sheet(folder / "house.jpg", folder / "house.sheet.html")
        photograph_sheet(folder / "house.sheet.html", path, folder / "sheet.png")
        small(folder / "sheet.png", "survey-sheet.webp")


if __name__ == "__main__":
    main()

"""The command, as people use it, and the whole path: photo, clicks, tape, survey, layout, show."""

import json
import re
import shutil
import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from eavesong.errors import OutputError, SurveyError
from eavesong.frames import open_frames
from eavesong.layout import load_layout
from eavesong.survey.picture import check_picture
from eavesong.survey.solution import survey
from eavesong.survey.write import layout_text
from lamps import write_click
from survey_houses import PROPS, SIX, camera, known_of, plain_house, survey_text, truth_of
from survey_photo import as_jpeg, photo_of


@pytest.fixture
def folder(surveyed, tmp_path):
    """A copy of the surveyed folder, to be written to."""
    return Path(shutil.copytree(surveyed, tmp_path / "own"))


def test_solving_reports_and_writes(folder, eavesong):
    ended = eavesong("survey", folder / "house.survey.toml", "--out", folder / "house.toml")
    assert ended.code == 0, ended.err
    assert "taken 11" in ended.out
    assert "What to measure next:" in ended.out
    layout = load_layout(folder / "house.toml")
    assert {prop.member_of for prop in layout.props} == {
        "eaves",
        "gable",
        "garage door",
        "window",
        "arch",
        "tree",
        "path light",
    }
    text = (folder / "house.toml").read_text()
    assert "  # ± " in text
    assert "19 of 20" in text


def test_json_says_the_same(folder, eavesong, plain):
    ended = eavesong("survey", folder / "house.survey.toml", "--json")
    told = json.loads(ended.out)
    assert [point["name"] for point in told["points"]] == list(plain.known.points)
    for point, truth in zip(told["points"], plain.truth, strict=True):
        off = np.abs(np.array(point["place"]) - truth)
        assert (off < 4.5 * np.array(point["standard_error"]) + 0.003).all()
    assert told["cameras"][0]["place"][2] == pytest.approx(plain.lens.place[2], abs=0.5)
    assert told["findings"] == []
    assert len(told["measure_next"]) == 3


def test_a_wrong_measure_ends_with_1_and_is_named(folder, eavesong):
    text = (folder / "house.survey.toml").read_text()
    length = next(line for line in text.splitlines() if line.startswith("length = 9."))  # the front's foot
    (folder / "house.survey.toml").write_text(text.replace(length, f"length = {float(length[9:]) + 0.35:.3f}"))
    ended = eavesong("survey", folder / "house.survey.toml")
    assert ended.code == 1
    assert "from 'base l' to 'base r' disagrees with the rest by 3" in ended.out
    assert "It was left out." in ended.out
    assert "measure it again" in ended.out


def test_straight_on_without_exif_is_told_and_how_to_mend_it(tmp_path, eavesong):
    house, rng = plain_house(), np.random.default_rng(3)
    known = known_of(house, [camera(house, 60, 0, rng)], SIX[:2], rng)
    (tmp_path / "a.survey.toml").write_text(survey_text(house, known, SIX[:2], ["a.jpg"], size=True))
    ended = eavesong("survey", tmp_path / "a.survey.toml")
    assert ended.code == 1
    assert "cannot be told from the distance" in ended.out
    assert "write focal = …" in ended.out


def test_the_picture_shows_props_where_they_hang(folder, eavesong, plain):
    """At the true places of the eaves, as the true camera sees them, there are dots of light."""
    ended = eavesong("survey", folder / "house.survey.toml", "--picture", folder / "check.png", "--quiet")
    assert ended.code == 0, ended.err
    with Image.open(folder / "check.png") as picture:
        assert picture.size == (2400, 1800)
        seen = np.asarray(picture).astype(int)
    a, b = (np.array(plain.house.places[name]) for name in ("eave l", "eave r"))
    lit = 0
    along = plain.lens.see(np.linspace(a, b, 40)[3:-3]) * 2400 / 4000
    for x, y in along.round().astype(int):
        near = seen[y - 7 : y + 8, x - 7 : x + 8].reshape(-1, 3)
        lit += bool((np.abs(near - [255, 214, 140]).max(axis=1) < 12).any())
    assert lit > 0.9 * len(along)


def test_a_picture_without_a_photo(folder):
    (folder / "house.jpg").unlink()
    text = (
        (folder / "house.survey.toml")
        .read_text()
        .replace('file = "house.jpg"', 'file = "house.jpg"\nsize = [4000, 3000]')
    )
    (folder / "house.survey.toml").write_text(text)
    read, solution = survey(folder / "house.survey.toml")
    check_picture(read, solution, folder / "check.webp")
    with pytest.raises(OutputError, match="says no kind of picture"):
        check_picture(read, solution, folder / "check.pdf")
    with pytest.raises(SurveyError, match="no photo is called 'hous'"):
        check_picture(read, solution, folder / "check.png", "hous")


def test_a_sheet_needs_a_name(folder, eavesong):
    assert eavesong("survey", "--sheet", folder / "house.jpg").code == 2
    ended = eavesong("survey", "--sheet", folder / "house.jpg", "--out", folder / "sheet.html")
    assert ended.code == 0
    assert (folder / "sheet.html").stat().st_size > 100_000


@pytest.mark.parametrize(
    ("right", "wrong", "told"),
    [
        (
            'file = "house.jpg"',
            'file = "hause.jpg"',
            "line 4, photo 1, file: 'hause.jpg': there is no such photo\n +Did you mean",
        ),
        ('on = ["garage", "ground"]', 'on = ["garage", "grond"]', "no plane is called 'grond'"),
        ("length = ", "length = -", "a length must be more than 0"),
        ('title = "Plain house"', "title = Plain house", "is not TOML"),
    ],
)
def test_bad_files_end_with_3_and_change_nothing(folder, eavesong, right, wrong, told):
    import re

    text = (folder / "house.survey.toml").read_text()
    assert right in text
    (folder / "house.survey.toml").write_text(text.replace(right, wrong))
    (folder / "house.toml").write_text("as it was")
    ended = eavesong("survey", folder / "house.survey.toml", "--out", folder / "house.toml")
    assert ended.code == 3
    assert re.search(told, ended.err)
    assert (folder / "house.toml").read_text() == "as it was"


def test_a_survey_without_props_has_no_layout(folder, eavesong):
    text = (folder / "house.survey.toml").read_text()
    (folder / "house.survey.toml").write_text(text[: text.index("[[prop]]")])
    ended = eavesong("survey", folder / "house.survey.toml", "--out", folder / "house.toml")
    assert ended.code == 3
    assert "it has no prop" in ended.err


def test_points_thrown_about_are_no_crash(folder, eavesong):
    """Clicks that have nothing to do with any house: something is told, nothing breaks."""
    import re

    rng = np.random.default_rng(0)
    text = (folder / "house.survey.toml").read_text()
    text = re.sub(
        r"house = \[[^]]*\]", lambda found: f"house = [{rng.uniform(0, 4000):.0f}, {rng.uniform(0, 3000):.0f}]", text
    )
    (folder / "house.survey.toml").write_text(text)
    assert eavesong("survey", folder / "house.survey.toml").code in (1, 3)


def test_the_whole_path(tmp_path):
    """Two rendered photos of a known house, clicked with noise, surveyed; the demo's show is rendered on what comes out
    and on the true house: every pixel within 10 cm of where it is."""
    from eavesong.preview.outlook import Outlook, through
    from eavesong.preview.subject import subject_of
    from eavesong.render import Order, render
    from eavesong.scene import Reopened

    house, rng = plain_house(), np.random.default_rng(7)
    lenses = [camera(house, 70, yaw, rng) for yaw in (14, -14)]
    for file, lens in zip(("right.jpg", "left.jpg"), lenses, strict=True):
        (tmp_path / file).write_bytes(as_jpeg(photo_of(house, lens), lens))
    known = known_of(house, lenses, SIX, rng, exif=True)
    props = PROPS.replace('spacing = "5 cm"', "pixels = 180").replace("spacing = 0.05", "pixels = 200")
    props = props.replace("spacing = 0.1", "pixels = 100")
    path = tmp_path / "house.survey.toml"
    path.write_text(survey_text(house, known, SIX, ["right.jpg", "left.jpg"], props))
    read, solution = survey(path)
    (tmp_path / "house.toml").write_text(layout_text(read, solution))
    true = replace(solution, adjusted=_at(solution.adjusted, truth_of(house)))
    (tmp_path / "true.toml").write_text(layout_text(read, true))
    show = Path(__file__).parents[2] / "src/eavesong/demo/street.show.toml"
    write_click(tmp_path / "song.wav", [], 2)
    (tmp_path / "song.beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(4)))
    (tmp_path / "song.sections").write_text("0.0\t2.0\tchorus\n")
    places = []
    for name in ("house", "true"):
        order = Order.of(show, tmp_path / f"{name}.toml", tmp_path / "song.wav", frame_rate=10)
        render(order, tmp_path / f"{name}.h5")
        with open_frames(tmp_path / f"{name}.h5") as frames:
            assert frames.frames[:].any()
            places.append(frames.metres + load_layout(tmp_path / f"{name}.toml").frame.origin)
            if name == "house":
                look = Outlook(subject_of(Reopened(frames)), photo=tmp_path / "right.jpg")
                seen = np.stack(through(look.camera, 0, 0, 4000).place(frames.metres), axis=1)
    # Pictures look through the camera that was found: the lights lie in the photo where the true camera sees them.
    assert np.linalg.norm(seen - lenses[0].see(places[1].astype(float)), axis=1).max() < 0.01 * 4000
    assert places[0].shape == places[1].shape
    assert np.linalg.norm(places[0] - places[1], axis=1).max() < 0.10


def _at(adjusted, truth):
    unknowns = adjusted.unknowns.copy()
    unknowns[adjusted.misfit.at.points_at :] = truth.ravel()
    return replace(adjusted, unknowns=unknowns)


BY_HAND = """
[power]
pixel_type = "12 V, 18.5 mA"     # read off the box
[[prop]]
name = "added by hand"
shape = "line"
from = [0, 0.5]
to = [3, 0.5]
pixels = 30
[[controller]]
name = "box"
address = "192.0.2.7"
[[controller.output]]
number = 1
chain = ["added by hand"]
"""


def test_a_second_survey_keeps_what_was_added_by_hand(folder, eavesong):
    survey_file, house = folder / "house.survey.toml", folder / "house.toml"
    eavesong("survey", survey_file, "--out", house)
    first = load_layout(house)
    rest = ", ".join(f'"{name}"' for name in dict.fromkeys(prop.member_of for prop in first.props))
    text = house.read_text().replace('name = "eaves"\n', 'name = "eaves"\n# mine\n', 1) + BY_HAND
    text = text.replace('chain = ["added by hand"]', f'chain = ["added by hand", {rest}]')
    text = text.replace("\n[photo]", '\nunlit = ["added by hand"]\n\n[photo]', 1)
    house.write_text(text)
    assert eavesong("survey", survey_file, "--out", house).code == 4  # without --keep it stays
    ended = eavesong("survey", survey_file, "--keep", house, "--out", house)
    assert ended.code == 0, ended.err
    again = load_layout(house)
    assert [prop.name for prop in again.props] == [*(prop.name for prop in first.props), "added by hand"]
    assert np.array_equal(again.pixels.X[: first.pixel_count], first.pixels.X)
    assert [box.address for box in again.patch.controllers] == ["192.0.2.7"]
    assert again.power.types[0].name == "12 V, 18.5 mA"
    assert not again.props[-1].lit
    assert "# read off the box" in house.read_text()
    assert again.frame.size.tolist() == first.frame.size.tolist()


def test_the_crown_of_an_arch_is_held_above_its_feet(folder, eavesong, plain):
    """An arch 1.5 m wide and 1.2 m high stands 4 m before the front; its crown is clicked in the one photo."""
    crown = plain.lens.see(np.array([[-2.45, 1.2, 4.0]]))[0]
    text = (folder / "house.survey.toml").read_text()
    text += f'[[point]]\nname = "crown"\nat = [{crown[0]:.1f}, {crown[1]:.1f}]\n'
    text += '[[prop]]\nname = "bow"\nshape = "arch"\nfeet = ["arch 0", "arch 1"]\ncrown = "crown"\npixels = 50\n'
    (folder / "house.survey.toml").write_text(text)
    ended = eavesong("survey", folder / "house.survey.toml", "--out", folder / "house.toml")
    assert "Nothing holds" not in ended.out
    (bow,) = (entry for entry in tomllib.loads((folder / "house.toml").read_text())["prop"] if entry["name"] == "bow")
    assert bow["width"] == pytest.approx(1.5, abs=0.1)
    assert bow["height"] == pytest.approx(1.2, abs=0.1)


def test_a_survey_in_feet_tells_its_points_in_feet(folder, eavesong, plain):
    """0.3048 m a foot; the front is some nine metres wide."""
    path = folder / "house.survey.toml"
    text = path.read_text().split("[[prop]]")[0]
    in_feet = re.sub(
        r"(length|set_back) = ([\d.]+)", lambda found: f"{found[1]} = {float(found[2]) / 0.3048:.4f}", text
    )
    path.write_text('units = "ft"\n' + in_feet)
    ended = eavesong("survey", path)
    assert "point, feet " in ended.out
    (row,) = (line.split() for line in ended.out.splitlines() if line.startswith("base r "))
    right = dict(zip(plain.known.points, plain.truth, strict=True))["base r"][0]
    assert float(row[2]) == pytest.approx(right / 0.3048, abs=0.3)
    assert re.search(r"taken 3\d ft( \d+ in)? before the front", ended.out)

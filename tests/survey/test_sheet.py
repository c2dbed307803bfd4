"""The sheet in a real browser: points are set, dragged, nudged and taken back; the text is a survey."""

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from eavesong.errors import SurveyError
from eavesong.survey.photo import facts
from eavesong.survey.read import read_survey
from eavesong.survey.sheet import write_sheet
from eavesong.survey.solution import solve
from survey_photo import as_jpeg

DESKTOP, PHONE = {"width": 1280, "height": 800}, {"width": 390, "height": 800}


@pytest.fixture(scope="module")
def page(surveyed, tmp_path_factory):
    path = tmp_path_factory.mktemp("sheet") / "house.sheet.html"
    write_sheet(surveyed / "house.jpg", path)
    return path.as_uri()


@pytest.fixture(scope="module")
def tabs(browser):
    """Tabs without a network and their errors, by what their contexts are like: one that is used again opens in half
    the time."""
    kept = {}

    def of(**how):
        if (key := repr(how)) not in kept:
            own, errors = browser.new_context(offline=True, **how).new_page(), []
            own.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
            own.on("pageerror", lambda fault: errors.append(str(fault)))
            kept[key] = own, errors
        return kept[key]

    yield of
    for own, _ in kept.values():
        own.context.close()


@pytest.fixture
def tab(tabs, page, request):
    """The sheet in a tab without a network; the test fails on any error in the console."""
    own, errors = tabs(**getattr(request, "param", {"viewport": DESKTOP}))
    own.goto("about:blank")
    own.mouse.move(0, 0)
    errors.clear()
    own.goto(page)
    own.wait_for_selector("body[data-ready]")
    yield own
    own.evaluate("0")  # by which all is told that was to be told
    assert errors == []


def points(tab):
    return tab.evaluate("sheet.state.points.map(({ name, on, x, y }) => ({ name, on, x, y }))")


def screen(tab, x, y):
    """Where a place of the photo is on the screen."""
    box = tab.locator("#photo").bounding_box()
    at = tab.evaluate(f"sheet.toScreen({{ x: {x}, y: {y} }})")
    return box["x"] + at["x"], box["y"] + at["y"]


def test_a_click_sets_the_point_that_is_offered(tab):
    tab.mouse.click(*screen(tab, 1500, 2000))
    tab.mouse.click(*screen(tab, 1700, 2000))
    first, second = points(tab)
    assert (first["name"], first["on"]) == ("door bottom left", "front and ground")
    assert second["name"] == "door bottom right"
    assert [first["x"], first["y"]] == pytest.approx([1500, 2000], abs=2.5)
    assert "door top right" in tab.inner_text("#task")


def test_a_point_can_be_dragged_and_taken_back(tab):
    tab.mouse.click(*screen(tab, 1500, 2000))
    tab.mouse.move(*screen(tab, 1500, 2000))
    tab.mouse.down()
    tab.mouse.move(*screen(tab, 1600, 1900), steps=4)
    assert tab.locator("#loupe").is_visible()
    tab.mouse.up()
    assert [points(tab)[0]["x"], points(tab)[0]["y"]] == pytest.approx([1600, 1900], abs=5)
    tab.click("#undo")
    assert points(tab)[0]["x"] == pytest.approx(1500, abs=2.5)
    tab.click("#undo")
    assert points(tab) == []
    assert "door bottom left" in tab.inner_text("#task")  # it is offered again


@pytest.mark.parametrize("tab", [{"viewport": PHONE, "has_touch": True}], indirect=True)
def test_a_tap_beside_a_point_sets_the_next(tab):
    """On a phone a door is no wider than a finger; only what is dragged is meant for the point that is there."""
    x, y = screen(tab, 1500, 2000)
    for right, up in ((0, 0), (14, 0), (14, 20), (0, 20)):
        tab.touchscreen.tap(x + right, y - up)
    corners = ["bottom left", "bottom right", "top right", "top left"]
    assert [point["name"] for point in points(tab)] == [f"door {corner}" for corner in corners]
    tab.touchscreen.tap(x + 2, y)  # none is due: the point that is there is chosen
    assert "Chosen: door bottom left" in tab.inner_text("#task")
    tab.click("#undo")
    assert len(points(tab)) == 3


def test_the_loupe_shows_what_is_under_the_pointer(tab, plain):
    """The middle of the loupe has the photo's colour there: glass of the window, wall beside it."""
    names = plain.known.points
    corners = np.array([plain.known.clicks[names.index(f"window {corner}")] for corner in ("bl", "br", "tr", "tl")])
    for place, colour in (
        (corners.mean(axis=0), (90, 112, 132)),
        (corners.mean(axis=0) + np.array([0, 300]), (214, 200, 178)),
    ):
        tab.mouse.move(*screen(tab, *place))
        seen = tab.evaluate(
            "Array.from(document.querySelector('#loupe').getContext('2d').getImageData(138, 126, 1, 1).data)"
        )
        assert seen[:3] == pytest.approx(colour, abs=14)


def test_with_keys_alone(tab):
    tab.focus("#photo")
    for key in ("ArrowRight", "ArrowRight", "ArrowDown", "Enter"):
        tab.keyboard.press(key)
    (point,) = points(tab)
    tab.focus("#points button")
    tab.keyboard.press("Enter")
    tab.keyboard.press("Shift+ArrowLeft")
    tab.keyboard.press("ArrowUp")
    moved = points(tab)[0]
    assert [moved["x"], moved["y"]] == pytest.approx([point["x"] - 10, point["y"] - 1])
    tab.keyboard.press("Delete")
    assert points(tab) == []
    tab.keyboard.press("Control+z")
    assert len(points(tab)) == 1


def test_own_names_and_planes(tab):
    tab.fill("#name", "chimney")
    tab.select_option("#plane", "")
    tab.mouse.click(*screen(tab, 900, 900))
    tab.fill("#name", "chimney")
    tab.mouse.click(*screen(tab, 1100, 900))
    assert [(point["name"], point["on"]) for point in points(tab)] == [
        ("chimney", ""),
        ("chimney 2", "front and ground"),
    ]


def test_the_second_window_is_called_so(tab):
    for _ in range(2):
        tab.click("#things button:text-is('window')")
        for x, y in ((500, 900), (800, 900), (800, 600), (500, 600)):
            offset = 1000 if points(tab) and len(points(tab)) >= 4 else 0
            tab.mouse.click(*screen(tab, x + offset, y))
    names = [point["name"] for point in points(tab)]
    assert names[3:5] == ["window top left", "window 2 bottom left"]
    text = tab.evaluate("sheet.text()")
    assert 'points = ["window 2 bottom left", "window 2 top left"]\nruns = "upright"' in text


@pytest.mark.parametrize("tab", [{"viewport": PHONE, "has_touch": True}], indirect=True)
def test_with_a_finger(tab):
    """A finger that goes down, moves and lifts: the point is where it lifts; two fingers come nearer and set none."""
    tab.evaluate(
        """() => {
          const canvas = document.querySelector("#photo"), box = canvas.getBoundingClientRect();
          canvas.setPointerCapture = () => {};
          const send = (kind, id, x, y) => canvas.dispatchEvent(new PointerEvent(kind, {
            pointerId: id, pointerType: "touch", clientX: box.left + x, clientY: box.top + y, bubbles: true }));
          send("pointerdown", 1, 100, 150); send("pointermove", 1, 140, 180);
          window.lens = !document.querySelector("#loupe").hidden;
          send("pointerup", 1, 140, 180);
          window.before = sheet.toScreen({ x: 0, y: 0 }).x - sheet.toScreen({ x: 1000, y: 0 }).x;
          send("pointerdown", 2, 100, 300); send("pointerdown", 3, 200, 300); send("pointermove", 3, 300, 300);
          send("pointerup", 3, 300, 300); send("pointerup", 2, 100, 300);
          window.after = sheet.toScreen({ x: 0, y: 0 }).x - sheet.toScreen({ x: 1000, y: 0 }).x;
        }"""
    )
    assert tab.evaluate("window.lens")
    assert len(points(tab)) == 1
    assert tab.evaluate("window.after / window.before") == pytest.approx(2.0, abs=0.05)


def test_the_text_is_a_survey(tab, plain, surveyed, tmp_path):
    """The corners of the plain house are clicked, saved, measured, and solved."""
    names = plain.known.points
    things = (("door", "bl br tr tl"), ("window", "bl br tr tl"), ("garage", "bl br tr tl"), ("wall", "base"),
              ("eaves", "eave"),
              ("arch", "arch"), ("path", "path"))  # fmt: skip
    own = {
        "base": ("base l", "base r"),
        "eave": ("eave l", "eave r"),
        "arch": ("arch 0", "arch 1"),
        "path": ("path a", "path b"),
    }
    for thing, corners in things:
        tab.click(f"#things button:text-is('{thing}')")
        for name in own.get(corners) or [f"{thing} {corner}" for corner in corners.split()]:
            tab.mouse.click(*screen(tab, *plain.known.clicks[names.index(name)]))
    assert len(points(tab)) == 20
    with tab.expect_download() as download:
        tab.click("#save")
    assert download.value.suggested_filename == "house.survey.toml"
    text = download.value.path().read_text("utf-8")
    tab.click("#show")
    assert tab.input_value("#text") == text
    truth = dict(zip(names, plain.truth, strict=True))
    for one, other, a, b in (("door bottom left", "door bottom right", "door bl", "door br"),
                             ("door bottom left", "door top left", "door bl", "door tl"),
                             ("wall bottom left", "wall bottom right", "base l", "base r"),
                             ("door bottom left", "path left", "door bl", "path a")):  # fmt: skip
        text += f'[[measure]]\nfrom = "{one}"\nto = "{other}"\nlength = {np.linalg.norm(truth[a] - truth[b]):.2f}\n'
    (tmp_path / "house.survey.toml").write_text(text)
    (tmp_path / "house.jpg").write_bytes((surveyed / "house.jpg").read_bytes())
    known = read_survey(tmp_path / "house.survey.toml").known
    known = replace(known, click_give=np.full(len(known.clicks), 4.0))  # of a picture a quarter as fine as the photo
    solution = solve(known)
    for sheet, own_name in (
        ("eaves left", "eave l"),
        ("garage top right", "garage tr"),
        ("window top left", "window tl"),
    ):
        point = known.points.index(sheet)
        off = np.abs(solution.points[point] - truth[own_name])
        assert (off < 4 * solution.standard_errors[point] + 0.005).all()


@pytest.mark.parametrize("tab", [{"viewport": DESKTOP}, {"viewport": PHONE, "has_touch": True}], indirect=True)
@pytest.mark.parametrize("dialog", [False, True])
def test_no_accessibility_violation(tab, dialog):
    """axe-core, all of its rules for WCAG 2 A and AA and good practice."""
    from axe_playwright_python.sync_playwright import Axe

    tab.mouse.click(*screen(tab, 1500, 2000))
    if dialog:
        tab.click("#show")
    found = Axe().run(tab)
    assert [violation["id"] for violation in found.response["violations"]] == [], found.generate_report()


@pytest.mark.parametrize("tab", [{"viewport": PHONE, "has_touch": True}], indirect=True)
def test_what_can_be_pressed_is_large_enough(tab):
    """44 CSS pixels (WCAG 2.2, 2.5.5 target size, enhanced)."""
    sizes = tab.evaluate(
        "[...document.querySelectorAll('button, input, select')].map((each) => each.getBoundingClientRect())"
        ".filter((box) => box.width).map((box) => Math.min(box.width, box.height))"
    )
    assert len(sizes) > 15
    assert min(sizes) >= 44


def test_places_are_those_of_the_photo_even_where_the_page_has_a_smaller_copy(tmp_path):
    Image.new("RGB", (8192, 6144), (90, 120, 90)).save(tmp_path / "large.jpg")
    write_sheet(tmp_path / "large.jpg", tmp_path / "large.html")
    page = (tmp_path / "large.html").read_text("utf-8")
    about = json.loads(page.split('id="about">')[1].split("</script>")[0])
    assert about["scale"] == pytest.approx(2.0)


def test_an_upright_photo_stands_upright_and_keeps_its_secrets(tmp_path, plain):
    """Orientation 8, and a place in the EXIF that the page must not hand on."""
    exif = Image.Exif()
    exif[0x0112] = 8
    exif[0x010E] = "somewhere in particular"
    out = io.BytesIO()
    Image.new("RGB", (400, 300)).save(out, "JPEG", exif=exif)
    (tmp_path / "a.jpg").write_bytes(out.getvalue())
    write_sheet(tmp_path / "a.jpg", tmp_path / "a.html")
    import base64

    data = (tmp_path / "a.html").read_text("utf-8").split("base64,")[1].split('"')[0]
    picture = base64.b64decode(data)
    assert b"somewhere" not in picture
    with Image.open(io.BytesIO(picture)) as seen:
        assert seen.size == (300, 400)
    assert facts(tmp_path / "a.jpg").width == 300


def test_a_name_cannot_break_out_of_the_page(tmp_path):
    photo = tmp_path / "<b>{{script}}.jpg"
    photo.write_bytes(as_jpeg(Image.new("RGB", (64, 48))))
    write_sheet(photo, tmp_path / "a.html")
    text = (tmp_path / "a.html").read_text("utf-8")
    assert "<b>" not in text
    assert "{{script}}" in text


def test_a_photo_that_is_none(tmp_path):
    (tmp_path / "a.jpg").write_text("no picture")
    with pytest.raises(SurveyError, match="no picture"):
        write_sheet(tmp_path / "a.jpg", tmp_path / "a.html")
    assert not (tmp_path / "a.html").exists()

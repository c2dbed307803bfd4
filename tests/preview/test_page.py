"""The page in a real browser: it opens from disk, shows the frames that are played, and can be used by everybody."""

import base64
import json
import re
import time

import numpy as np
import pytest

from eavesong.frames import open_frames
from eavesong.preview.night import Painter
from eavesong.preview.outlook import Outlook
from eavesong.preview.page import PageReader, write_page
from eavesong.preview.subject import subject_of
from eavesong.preview.view import VIEWS
from eavesong.scene.order import Order, order_text
from eavesong.scene.reopen import Reopened
from eavesong.scene.sight import PhotoPlace, Sight
from lamps import LAMPS, TEXTS, WALL, house, known_frames, write, write_click

READY = "window.eavesong?.state().ready"
FPS = 20
DESK = {"viewport": {"width": 1120, "height": 500}}
"""Wide enough for what stands side by side on a screen, small enough for a processor to draw it quickly."""
SMALL = {"viewport": {"width": 800, "height": 490}}
"""For what has to do with no list: drawn more quickly yet."""
WARNING = "This show flashes up to 5 times in a second."


def make(folder, name="page.html", frames="lamps.h5", song="click.wav", **how):
    with open_frames(folder / frames) as opened:
        write_page(Reopened(opened), folder / name, song=folder / song if song else None, **how)
    return (folder / name).as_uri()


@pytest.fixture(scope="module")
def page(three_lamps):
    return make(three_lamps)


@pytest.fixture
def tab(browser, page, request):
    """The page in a tab; the test fails on any error in the console. Parameters are those of a browser context."""
    yield from opened(browser, page, **getattr(request, "param", SMALL))


@pytest.fixture(scope="module")
def quiet_tab(browser, page):
    """One tab for tests that only look at moments, each of which it finds by itself."""
    yield from opened(browser, page, device_scale_factor=1, **DESK)


def opened(browser, address, **how):
    """A tab with the page of that address, of a context as ``how`` says; one that was opened so before is used again,
    which takes half as long. Fails on any error in the console."""
    key = repr(sorted(how.items()))
    if key not in TABS:
        own, errors = browser.new_context(offline=True, **how).new_page(), []
        own.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
        own.on("pageerror", lambda fault: errors.append(str(fault)))
        own.on("requestfailed", lambda request: errors.append(f"asks for {request.url}"))
        TABS[key] = own, errors
    own, errors = TABS[key]
    if own.url != "about:blank":  # a test failed
        own.goto("about:blank")
    own.mouse.move(0, 0)
    errors.clear()
    own.goto(address)
    own.wait_for_function(READY)
    yield own
    own.evaluate("0")  # by which all is told that was to be told
    assert errors == []
    own.goto("about:blank")


TABS = {}
"""Tabs and their errors, by what their contexts are like."""


def state(tab):
    return tab.evaluate("eavesong.state()")


def show(tab, seconds):
    tab.evaluate(f"eavesong.seek({seconds})")
    tab.wait_for_function(f"eavesong.state().frame === {int(seconds * FPS + 1e-3)}")


AT_REST = """() => new Promise((rest) => {
  const scene = document.querySelector("#scene"), box = document.querySelector("#stage");
  const places = () => [eavesong.place(0), eavesong.place(2)];
  const now = () => String([scene.width, box.clientWidth, box.clientHeight, eavesong.state().drawn, places()]);
  let before = "", same = -2;
  const look = () => {
    same = now() === before ? same + 1 : Math.min(same + 1, 0);
    before = now();
    if (same < 5) requestAnimationFrame(look); else rest(true);
  };
  look();
})"""


def settled(tab):
    """Wait until nothing on the page moves any more, however long that takes: five pictures alike, none drawn anew."""
    assert tab.evaluate(AT_REST)


@pytest.mark.parametrize("seconds", [0.0, 1.0, 1.95, 2.0, 5.5, 3.2, 7.95])
def test_the_colours_are_those_of_the_frames_file(quiet_tab, three_lamps, seconds):
    """Every byte, forwards and backwards, across the borders of streams."""
    with open_frames(three_lamps / "lamps.h5") as frames:
        wanted = Reopened(frames).light_at(seconds)
    show(quiet_tab, seconds)
    seen = quiet_tab.evaluate("Array.from({ length: eavesong.about.pixels }, (_, pixel) => eavesong.light(pixel))")
    assert np.array_equal(seen, wanted)


def test_a_browser_whose_webgl_is_drawn_by_the_processor_gets_the_plain_canvas(quiet_tab):
    """Here Chromium has no graphics processor; where WebGL2 is missing altogether it is the same."""
    assert state(quiet_tab)["flat"]


def test_what_stands_still_is_drawn_as_finely_as_it_can_be(browser, page):
    """A machine that cannot keep up plays coarser pictures; when it pauses, the scene has the screen's elements."""
    for tab in opened(browser, page, **SMALL):
        tab.click("#play")
        tab.evaluate("eavesong.coarser()")
        wide = "document.querySelector('#scene').width"
        tab.wait_for_function(f"{wide} < 0.8 * document.querySelector('#scene').clientWidth")
        tab.click("#play")
        tab.wait_for_function(f"{wide} === document.querySelector('#scene').clientWidth")


def picture(tab):
    """The scene as the browser shows it, (height, width, 3), without what lies over it."""
    import io

    from PIL import Image

    tab.add_style_tag(content="#head { visibility: hidden } #now { display: none !important }")
    settled(tab)
    width, height = tab.evaluate("[document.querySelector('#scene').width, document.querySelector('#scene').height]")
    with Image.open(io.BytesIO(tab.screenshot())) as shot:
        return np.asarray(shot.convert("RGB")).astype(int)[:height, :width]


@pytest.fixture(scope="module")
def long_page(tmp_path_factory):
    """A song of 40 s, with a click in every second."""
    folder = tmp_path_factory.mktemp("long")
    seconds = 40
    frames = np.repeat(np.arange(seconds * FPS, dtype=np.uint8)[:, None] % 200, 9, axis=1)
    write(folder / "long.h5", house(LAMPS, texts={}, song_seconds=float(seconds)), frames)
    write_click(folder / "click.wav", range(seconds), seconds)
    return make(folder, frames="long.h5")


def test_song_and_frames_stay_together_for_half_a_minute(browser, long_page):
    """After 30 s of playing, and all the while: the frame drawn is that of the song's position, or its neighbour."""
    for tab in opened(browser, long_page, viewport={"width": 240, "height": 180}):  # half a minute of small pictures
        tab.evaluate("document.querySelector('#play').click()")
        tab.wait_for_function("eavesong.state().song > 0.1")
        begin, since, seen = state(tab)["song"], time.monotonic(), 0
        tab.evaluate(SELDOM)
        while time.monotonic() - since < 30:
            tab.wait_for_timeout(500)
            now = state(tab)
            assert abs(now["frame"] - int(now["heard"] * FPS + 1e-3)) <= 1
            seen += 1
        assert now["playing"]
        assert seen > 20
        assert now["song"] - begin == pytest.approx(time.monotonic() - since, abs=0.5)
        # Not only as it was drawn: what is on the screen now is the frame of what is heard now.
        tab.evaluate("void (self.requestAnimationFrame = often)")
        tab.wait_for_function(f"eavesong.state().drawn > {state(tab)['drawn'] + 40}")
        away = tab.evaluate(AWAY, FPS)
        assert len(away) == 40
        assert max(map(abs, away)) <= 1


SELDOM = """() => {
  self.often = requestAnimationFrame;
  self.requestAnimationFrame = (turn) => setTimeout(() => often(turn), 250);
}"""
"""As on a slow machine, so that half a minute of pictures takes little of this one."""

AWAY = """fps => new Promise((done) => {
  const away = [];
  const look = () => {
    const now = eavesong.state();
    away.push(now.frame - Math.floor(now.song * fps + 1e-3));
    if (away.length < 40) requestAnimationFrame(look); else done(away);
  };
  requestAnimationFrame(look);
})"""


def test_half_speed_is_half_as_fast(tab):
    tab.click("#half")
    tab.click("#play")
    tab.wait_for_function("eavesong.state().song > 0.2")
    begin, since = tab.evaluate("[eavesong.state().song, performance.now() / 1000]")
    tab.wait_for_timeout(1500)
    end, until = tab.evaluate("[eavesong.state().song, performance.now() / 1000]")
    assert (end - begin) / (until - since) == pytest.approx(0.5, abs=0.12)


def test_scrubbing_finds_the_moment(quiet_tab):
    box = quiet_tab.locator("#ribbon").bounding_box()
    quiet_tab.mouse.move(box["x"] + box["width"] * 0.25, box["y"] + 20)
    quiet_tab.mouse.down()
    quiet_tab.mouse.move(box["x"] + box["width"] * 0.75, box["y"] + 20, steps=4)
    quiet_tab.mouse.up()
    quiet_tab.wait_for_function("eavesong.state().frame >= 119")
    assert state(quiet_tab)["position"] == pytest.approx(6.0, abs=0.05)
    assert "bar 3 of 4, chorus" in quiet_tab.get_attribute("#ribbon", "aria-valuetext")


def test_a_loop_stays_between_its_bars(tab):
    """Bars 2 to 3 last from 2.25 to 6.25 s."""
    show(tab, 5.6)
    tab.click("#loop")
    tab.fill("#loop-from", "2")
    tab.fill("#loop-to", "3")
    assert state(tab)["loop"] == [2.25, 6.25]
    tab.click("#play")
    tab.wait_for_function("eavesong.state().position < 3")
    assert state(tab)["position"] >= 2.2


def test_keys_do_what_buttons_do(tab):
    show(tab, 2.0)
    tab.keyboard.press("ArrowRight")
    tab.wait_for_function("eavesong.state().frame === 41")
    tab.keyboard.press("ArrowLeft")
    tab.keyboard.press("ArrowLeft")
    tab.wait_for_function("eavesong.state().frame === 39")
    tab.keyboard.press("ArrowUp")  # to the next bar, which begins at 2.25 s
    tab.wait_for_function("eavesong.state().frame === 45")
    tab.keyboard.press("Home")
    tab.wait_for_function("eavesong.state().frame === 0")
    show(tab, 0.15)  # in the pick-up: before it there is the beginning alone
    tab.keyboard.press("ArrowDown")
    tab.wait_for_function("eavesong.state().frame === 0")
    tab.keyboard.press(" ")
    tab.wait_for_function("eavesong.state().playing")
    tab.keyboard.press(" ")
    tab.keyboard.press("h")
    tab.keyboard.press("3")
    now = state(tab)
    assert (now["playing"], now["rate"], now["view"]) == (False, 0.5, "plan")
    tab.keyboard.press("?")
    assert tab.locator("#notes").is_visible()
    tab.keyboard.press("Escape")
    assert not tab.locator("#notes").is_visible()


def test_a_tap_tells_about_the_prop(quiet_tab):
    settled(quiet_tab)
    x, y = quiet_tab.evaluate("eavesong.place(1)")
    box = quiet_tab.locator("#scene").bounding_box()
    quiet_tab.mouse.click(box["x"] + x, box["y"] + y)
    card = quiet_tab.inner_text("#card")
    assert "lamp row" in card
    assert "universe 7, slots 10 to 18" in card
    assert "porch box, output 2" in card
    assert "pixel 2 of its wire" in card
    quiet_tab.keyboard.press("Escape")
    assert not quiet_tab.locator("#card").is_visible()


def test_cues_that_only_darken_others_are_listed_last(quiet_tab):
    """'The wall answers' is on top; were it a shadow, what is seen would stand above it."""
    names = [cue["name"] for cue in quiet_tab.evaluate("eavesong.about.cues")]
    for darkens, first in ((1, "Lamps glow"), (0, "The wall answers")):
        quiet_tab.evaluate(f"eavesong.about.cues[{names.index('The wall answers')}].darkens = {darkens}")
        show(quiet_tab, 1.0)
        quiet_tab.wait_for_function("document.querySelectorAll('#cues button').length === 1")
        show(quiet_tab, 3.0)
        quiet_tab.wait_for_function("document.querySelectorAll('#cues button').length === 2")
        assert quiet_tab.locator("#cues button").first.inner_text().startswith(first)


def test_a_cue_that_only_darkens_says_so_on_its_page():
    from types import SimpleNamespace

    from eavesong.preview.page import _cue

    for does, told in (("darkens", 1), ("lights", None), ("changes", None)):
        plain = SimpleNamespace(title="Plain")
        cue = SimpleNamespace(name="x", effect=plain, props=(0,), weight=np.ones(3), spans=(), does=does)
        assert _cue(cue).get("darkens") == told


def of_a_part(folder, first=0, count=160, without=frozenset(), **asked):
    """(Its head, what it tells) of the page of frames that hold a part of the show."""
    order = order_text(Order("a.show.toml", "a.toml", frame_rate=FPS, **asked))
    description = house(LAMPS + WALL, texts=TEXTS | {"order": order}, start=first / FPS)
    write(folder / "lamps.h5", description, known_frames()[first : first + count])
    make(folder, song=None, reader=PageReader(without=without))
    text = (folder / "page.html").read_bytes().decode("cp1252", "replace")
    about = json.loads(text.partition('id="about">')[2].partition("</script>")[0])
    return text.partition('<p id="sub">')[2].partition("</p>")[0], about


def test_a_page_of_the_whole_does_not_speak_of_parts(tmp_path):
    head, about = of_a_part(tmp_path)
    assert head.endswith("54 lights")
    assert about["notes"].startswith("54 lights, ")
    assert [cue["pixels"] for cue in about["cues"]] == [3, 51]


def test_a_page_of_some_props_says_so_and_lists_their_cues_alone(tmp_path):
    head, about = of_a_part(tmp_path, props=("wall",))
    assert head.endswith("54 lights &#183; only wall")
    assert about["notes"].startswith("A part of the show: only wall. The rest was not made, and is dark. 54 lights, ")
    assert [(cue["name"], cue["pixels"], cue["props"]) for cue in about["cues"]] == [("The wall answers", 51, [1])]
    head, about = of_a_part(tmp_path, props=("wall",), without=frozenset({"names"}))
    assert head.endswith("only some of its props")
    assert "wall." not in about["notes"]


def test_a_page_of_some_seconds_says_so_and_lists_no_cue_beyond_them(tmp_path):
    """The lamps glow from bar 1 to bar 3, 0.25 to 4.25 s, the wall from bar 2 on, 2.25 s."""
    head, about = of_a_part(tmp_path, first=20, count=60)  # 1 s to 4 s
    assert head.endswith("54 lights &#183; only 0:01.0 to 0:04.0")
    assert [cue["spans"] for cue in about["cues"]] == [[[1, 4]], [[2.25, 4]]]
    _, about = of_a_part(tmp_path, first=20, count=20)  # 1 s to 2 s
    assert [cue["name"] for cue in about["cues"]] == ["Lamps glow"]


def test_cues_that_are_on_are_listed(quiet_tab):
    """'Lamps glow' is on from bar 1 to 3; 'The wall answers' from bar 2 to 4, by its second choice."""
    show(quiet_tab, 1.0)
    quiet_tab.wait_for_selector("#cues button")
    assert quiet_tab.locator("#cues button").all_inner_texts() == ["Lamps glow\nLamps on 1 prop, 3 pixels"]
    show(quiet_tab, 3.0)
    quiet_tab.wait_for_function("document.querySelectorAll('#cues button').length === 2")
    assert "Lamps on 1 prop, 51 pixels" in quiet_tab.inner_text("#cues li:first-child")
    quiet_tab.click("#cues li:first-child button")
    assert quiet_tab.get_attribute("#cues li:first-child button", "aria-pressed") == "true"
    quiet_tab.click("#cues li:first-child button")
    show(quiet_tab, 7.0)
    quiet_tab.wait_for_function("document.querySelector('#no-cues').checkVisibility()")


def test_dragging_turns_the_house(tab):
    tab.click("[data-view=orbit]")
    settled(tab)
    before = tab.evaluate("eavesong.place(0)")
    tab.mouse.move(300, 300)
    tab.mouse.down()
    tab.mouse.move(420, 330, steps=5)
    tab.mouse.up()
    settled(tab)
    after = tab.evaluate("eavesong.place(0)")
    assert np.hypot(after[0] - before[0], after[1] - before[1]) > 20
    assert not tab.locator("#card").is_visible()


def test_the_wheel_brings_nearer_in_every_view_and_keeps_what_is_below_it(tab):
    for view in ("street", "corner", "plan", "orbit"):
        tab.click(f"[data-view={view}]")
        settled(tab)
        box = tab.locator("#scene").bounding_box()
        before = np.array(tab.evaluate("[eavesong.place(0), eavesong.place(2)]"))
        x, y = before[0]
        tab.mouse.move(box["x"] + x, box["y"] + y)
        tab.mouse.wheel(0, -400)
        settled(tab)
        after = np.array(tab.evaluate("[eavesong.place(0), eavesong.place(2)]"))
        nearer = np.exp(400 * 0.0015)
        np.testing.assert_allclose(after[1] - after[0], nearer * (before[1] - before[0]), atol=1.5, err_msg=view)
        assert np.hypot(*(after[0] - before[0])) < 60, view  # where the house would leave the canvas it is held


def test_two_fingers_bring_nearer(browser, page):
    """Fingers 100 px apart go to 200: what lies between them is twice as large."""
    for tab in opened(browser, page, **PHONE):
        settled(tab)
        before = np.array(tab.evaluate("[eavesong.place(0), eavesong.place(2)]"))
        tab.evaluate(PINCH, [180, 200, 50, 100])
        settled(tab)
        after = np.array(tab.evaluate("[eavesong.place(0), eavesong.place(2)]"))
        np.testing.assert_allclose(after[1] - after[0], 2 * (before[1] - before[0]), rtol=0.05, atol=2)


PINCH = """([x, y, from, to]) => {
  const scene = document.querySelector("#scene"), box = scene.getBoundingClientRect();
  scene.setPointerCapture = () => {};
  const point = (type, id, reach) => scene.dispatchEvent(new PointerEvent(type, {
    pointerId: id, pointerType: "touch", bubbles: true,
    clientX: box.left + x + (id === 1 ? -reach : reach), clientY: box.top + y }));
  for (const id of [1, 2]) point("pointerdown", id, from);
  for (let reach = from; reach <= to; reach += 2) for (const id of [1, 2]) point("pointermove", id, reach);
  for (const id of [1, 2]) point("pointerup", id, to);
}"""


@pytest.mark.parametrize("tab", [DESK], indirect=True)
def test_the_card_of_a_prop_stands_beside_the_house(tab):
    tab.click("#list")  # away with the list of cues: the card makes itself room
    settled(tab)
    x, y = tab.evaluate("eavesong.place(1)")
    box = tab.locator("#scene").bounding_box()
    tab.mouse.click(box["x"] + x, box["y"] + y)
    tab.wait_for_selector("#card")
    settled(tab)
    card, scene = (tab.locator(name).bounding_box() for name in ("#card", "#scene"))
    assert card["x"] >= scene["x"] + scene["width"]


def test_the_page_begins_at_the_pick_up_and_never_at_bar_0(quiet_tab):
    """Bar 1 begins at 0.25 s."""
    show(quiet_tab, 0.0)
    assert quiet_tab.inner_text("#bar") == "pick-up"
    assert "pick-up" in quiet_tab.get_attribute("#ribbon", "aria-valuetext")
    show(quiet_tab, 0.25)
    quiet_tab.wait_for_function("document.querySelector('#bar').textContent === 'bar 1 of 4'")


@pytest.mark.parametrize("view", ["street", "corner", "plan"])
def test_no_light_stands_under_the_words_at_the_top(browser, page, view):
    """On a page so small that they would, as wide as half of it; they are there all the same."""
    for tab in opened(browser, page, viewport={"width": 620, "height": 560}):
        tab.evaluate(f"document.querySelector('[data-view={view}]').click()")
        settled(tab)
        head, scene = (tab.locator(name).bounding_box() for name in ("#head", "#scene"))
        places = np.add(tab.evaluate(PLACES), (scene["x"], scene["y"]))
        wide, tall = head["x"] + head["width"], head["y"] + head["height"]
        assert wide > 150
        assert not ((places[:, 0] < wide) & (places[:, 1] < tall)).any()


@pytest.mark.parametrize(("how", "flat"), [("#gl", False), ("#plain", True)])
def test_every_view_is_that_of_a_still(browser, page, three_lamps, how, flat):
    """The same scene by WebGL, by the plain canvas and by numpy: lamps and wall, house and ground, in patches of 32,
    and at each lamp and round it."""
    for tab in opened(browser, page + how, viewport={"width": 1024, "height": 600}):
        tab.evaluate("document.getElementById('head').hidden = true")  # a still has none that it keeps clear of
        for tall in (610, 600):
            tab.set_viewport_size({"width": 1024, "height": tall})
            settled(tab)
        show(tab, 3.0)
        assert state(tab)["flat"] == flat
        for view in ("street", "corner", "plan"):
            tab.evaluate(f"document.querySelector('[data-view={view}]').click()")  # pictures hide it from the mouse
            settled(tab)
            seen = picture(tab)
            with open_frames(three_lamps / "lamps.h5") as frames:
                source = Reopened(frames)
                drawn = Painter(source, (seen.shape[1], seen.shape[0]), VIEWS[view])
                wanted = drawn.picture(source.light_at(3.0)).astype(int)
                columns, rows = drawn.projection.place(source.metres)
            places = np.array(tab.evaluate(PLACES))
            np.testing.assert_allclose(places, np.stack([columns, rows], axis=1), atol=0.3)
            tall, wide = (side // 32 * 32 for side in seen.shape[:2])
            patches = [
                each[:tall, :wide].reshape(tall // 32, 32, wide // 32, 32, 3).mean(axis=(1, 3))
                for each in (seen, wanted)
            ]
            assert np.abs(patches[0] - patches[1]).max() < 9
            for lamp in range(3) if view == "street" else ():
                x, y = np.round(places[lamp] - 0.5).astype(int)
                assert seen[y, x].argmax() == lamp
                for reach in (0, 3, 12):
                    here = (slice(y - reach, y + reach + 1), slice(x - reach, x + reach + 1))
                    assert np.abs(seen[here].mean(axis=(0, 1)) - wanted[here].mean(axis=(0, 1))).max() < 10


def test_lights_beside_the_photo_are_seen_where_a_still_has_them(browser, three_lamps):
    """The camera of the photo stands so near that its picture holds the middle of the house alone."""
    from PIL import Image

    with open_frames(three_lamps / "lamps.h5") as frames:
        metres = Reopened(frames).metres.astype(float)
        middle, wide = (metres.max(axis=0) + metres.min(axis=0)) / 2, float(np.ptp(metres[:, 0]))
        eye = np.array([middle[0] + 0.1 * wide, middle[1], metres[:, 2].max() + wide / 2])
        corners = middle + wide * np.array(
            [[-0.1, -0.1, 0], [0.1, -0.1, 0], [0.1, 0.1, 0], [-0.1, 0.1, 0], [0, 0, -0.1]]
        )
        off = corners - eye
        seen = np.stack([200 - 300 * off[:, 0] / off[:, 2], 150 + 300 * off[:, 1] / off[:, 2]], axis=1)
        sight = Sight(photo=PhotoPlace(clicks=(seen, corners)))
        Image.new("RGB", (400, 300), "white").save(three_lamps / "near.png")
        address = make(three_lamps, "near.html", song=None, photo=three_lamps / "near.png", sight=sight)
        for tab in opened(browser, address, **SMALL):
            settled(tab)
            size = tuple(tab.evaluate("(({ clientWidth, clientHeight }) => [clientWidth, clientHeight])(scene)"))
            look = Outlook(subject_of(Reopened(frames)), photo=three_lamps / "near.png", sight=sight)
            places = np.array(tab.evaluate(PLACES))
            assert not look.beside().any()
            np.testing.assert_allclose(places, np.stack(look.projection(size).place(metres), axis=1), atol=0.3)
            assert (places.min() > 0, (places.max(axis=0) < size).tolist()) == (True, [True, True])


PLACES = "Array.from({ length: eavesong.about.pixels }, (_, at) => eavesong.place(at))"


PHONE = {"viewport": {"width": 360, "height": 740}, "device_scale_factor": 2, "has_touch": True, "is_mobile": True}


@pytest.mark.parametrize("tab", [PHONE], indirect=True)
def test_a_phone_holds_all_of_it(tab):
    """Nothing reaches beyond 360 px, and everything to press is 24 px or more (WCAG 2.2, SC 2.5.8)."""
    assert tab.evaluate("document.documentElement.scrollWidth") <= 360
    for box in (button.bounding_box() for button in tab.locator("#desk button").all() if button.is_visible()):
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 360
        assert min(box["width"], box["height"]) >= 24
    lamps = np.array(tab.evaluate("[0, 1, 2].map((lamp) => eavesong.place(lamp))"))
    scene, desk = (tab.locator(name).bounding_box() for name in ("#scene", "#desk"))
    assert np.ptp(lamps[:, 0]) > 0.6 * scene["width"]  # the lamps stand 8 m apart before a wall of 10 m
    assert desk["y"] >= scene["y"] + scene["height"]
    x, y = tab.evaluate("eavesong.place(2)")
    box = tab.locator("#scene").bounding_box()
    tab.touchscreen.tap(box["x"] + x, box["y"] + y)
    assert "lamp row" in tab.inner_text("#card")
    tab.tap("#play")
    tab.wait_for_function("eavesong.state().song > 0.3")
    assert tab.locator("#scene").bounding_box()["height"] > 200


@pytest.mark.parametrize("tab", [{"viewport": {"width": 2560, "height": 600}}], indirect=True)
def test_a_large_screen_has_large_letters(tab):
    assert float(tab.evaluate("parseFloat(getComputedStyle(document.body).fontSize)")) >= 18
    assert tab.locator("#scene").bounding_box()["width"] > 2000


@pytest.mark.parametrize("width", [360, 1120])
def test_no_accessibility_violation(browser, page, width):
    """axe-core, all of its rules for WCAG 2 A and AA and good practice: what is there while a song is looked at, and
    the keys that are told of above it."""
    from axe_playwright_python.sync_playwright import Axe

    for tab in opened(browser, page, viewport={"width": width, "height": 720}):
        show(tab, 3.0)
        x, y = tab.evaluate("eavesong.place(1)")
        tab.mouse.click(x, y)
        if width == 360:
            tab.click("#list")
        tab.click("#loop")
        for dialog in ("", "?"):
            if dialog:
                tab.keyboard.press(dialog)
            found = Axe().run(tab)
            assert [violation["id"] for violation in found.response["violations"]] == [], found.generate_report()


@pytest.fixture(scope="module")
def warned(three_lamps):
    return make(three_lamps, "warned.html", warning=WARNING)


def test_a_show_that_flashes_is_warned_of(browser, warned):
    for tab in opened(browser, warned, **SMALL):
        tab.click("#play")
        assert WARNING in tab.inner_text("#warning")
        assert not state(tab)["playing"]
        tab.click("#warning-no")
        assert not state(tab)["playing"]
        tab.click("#play")
        tab.click("#warning-play")
        tab.wait_for_function("eavesong.state().song > 0.2")


def test_less_motion_is_respected(browser, page):
    """The page asks before it plays, moves nothing by itself, and can show one picture a bar."""
    for tab in opened(browser, page, reduced_motion="reduce", **SMALL):
        tab.click("#play")
        assert "less motion" in tab.inner_text("#warning")
        tab.click("#warning-calm")
        now = tab.wait_for_function("eavesong.state().song > 1.2 && eavesong.state()").json_value()
        assert now["frame"] == 5  # the first bar begins at 0.25 s
        tab.click("[data-view=plan]")
        first = tab.evaluate("eavesong.place(40)")
        tab.wait_for_timeout(200)
        # Not to the element: a line of text above it that comes or goes changes its height by parts of one.
        assert tab.evaluate("eavesong.place(40)") == pytest.approx(first, abs=1.0)


def test_the_page_asks_for_nothing_outside(three_lamps, page):
    text = (three_lamps / "page.html").read_bytes()
    assert not re.search(rb'(src|href)="(?!data:)', text.split(b'<script type="application/json"')[0])
    script = text[text.rindex(b"<script>") :]
    assert not re.search(rb"https?://|import\(|fetch\(|XMLHttpRequest", script)


def test_a_page_without_a_song_keeps_its_own_time(browser, three_lamps):
    address = make(three_lamps, "silent.html", song=None)
    for tab in opened(browser, address, **SMALL):
        tab.click("#play")
        begin, since = tab.evaluate("[eavesong.state().position, performance.now() / 1000]")
        tab.wait_for_timeout(1000)
        end, until = tab.evaluate("[eavesong.state().position, performance.now() / 1000]")
        assert end - begin == pytest.approx(until - since, abs=0.15)


def test_names_from_a_stranger_stay_text(browser, tmp_path):
    """A prop, a title and a section that look like HTML are shown, not run."""
    from dataclasses import replace

    evil = "</script><img src=x onerror=document.title='run'>"
    description = house(LAMPS, texts=TEXTS | {"sections": f"0\t8\t{evil[:70]}\n"})
    props = tuple(replace(row, name=evil) for row in description.props)
    patch = tuple(replace(row, prop=evil) for row in description.patch)
    write(tmp_path / "lamps.h5", replace(description, title=evil, props=props, patch=patch), known_frames()[:, :9])
    write_click(tmp_path / "click.wav", [])
    for tab in opened(browser, make(tmp_path), **SMALL):
        x, y = tab.evaluate("eavesong.place(1)")
        tab.mouse.click(x, y)
        assert tab.inner_text("#card-name") == evil
        assert tab.title() == f"click · {evil}"


@pytest.mark.parametrize("count", [1, 500_000])  # the second with software GL, which draws some seconds at each frame
def test_one_pixel_and_half_a_million(browser, tmp_path, count):
    metres = np.random.default_rng(2).random((count, 3)) * [20, 6, 8]
    description = house(metres, texts=TEXTS if count == 1 else {}, song_seconds=0.25)
    frames = np.full((5, 3 * count), 40, np.uint8)
    frames[3] = 90
    write(tmp_path / "lamps.h5", description, frames)
    address = make(tmp_path, song=None)
    for tab in opened(browser, address, **SMALL):
        show(tab, 0.15)
        assert tab.evaluate(f"eavesong.light({count - 1})") == [90, 90, 90]


@pytest.fixture(scope="module")
def for_larch(three_lamps):
    reader = PageReader("Family Larch <3", "28 November 2026", frozenset({"wiring", "cues"}))
    return make(three_lamps, "larch.html", reader=reader)


def test_a_page_for_customers_holds_only_what_it_shows(browser, page, for_larch, three_lamps):
    for secret in (b"porch box", b"Lamps glow", b"The wall answers"):
        assert secret not in (three_lamps / "larch.html").read_bytes()
        assert secret in (three_lamps / "page.html").read_bytes()
    for tab in opened(browser, for_larch, **SMALL):
        assert tab.inner_text("#client") == "For Family Larch <3 \u00b7 28 November 2026"
        assert not tab.locator("#list").is_visible()
        tab.keyboard.press("c")
        tab.keyboard.press("?")
        assert not tab.locator("#no-cues").is_visible()
        assert tab.locator("#notes").is_visible()
        assert "cues that are on" not in tab.inner_text("#notes")
        tab.keyboard.press("Escape")
        x, y = tab.evaluate("eavesong.place(1)")
        tab.mouse.click(x, y)
        card = tab.inner_text("#card")
        assert "lamp row" in card
        assert "universe" not in card


@pytest.mark.parametrize("how", [PHONE, SMALL])
def test_what_is_said_of_a_moment_is_in_the_address(browser, for_larch, how):
    """Said on one page, copied, opened on another; the words are those of a person, with quotes and accents."""
    from axe_playwright_python.sync_playwright import Axe

    words = 'Plus doux ici, s\u2019il vous pla\u00eet <b>"merci"</b> \U0001f384'
    for tab in opened(browser, for_larch, **how):
        show(tab, 2.5)
        tab.click("#say")
        assert tab.inner_text("#remark-title") == "At 0:02.5, bar 2 of 4"
        tab.fill("#remark-text", words)
        assert Axe().run(tab).response["violations"] == []
        tab.click("#remark-keep")
        tab.keyboard.press("Home")
        tab.keyboard.press("s")
        tab.fill("#remark-text", "And here?")
        tab.click("#remark-keep")
        assert tab.locator("#remarks-list small").all_inner_texts() == ["0:00.0", "0:02.5"]
        assert Axe().run(tab).response["violations"] == []
        tab.click("#remarks-copy")
        tab.wait_for_function("document.querySelector('#remarks-copy').textContent !== 'Copy as a reply'")
        address = tab.evaluate("location.href")
    assert "#say=" in address
    for tab in opened(browser, address, **how):
        assert words in tab.inner_text("#remarks-list")
        tab.click("#remarks-list li:nth-child(2) button")
        tab.wait_for_function("eavesong.state().frame === 50")
        tab.click("#remarks-list li:nth-child(1) button.quiet")
        assert tab.locator("#remarks-list li").count() == 1
        assert tab.evaluate("location.href") != address


def test_what_was_said_on_another_page_is_told_to_be_of_that(browser, for_larch):
    """The page of a house is opened with the address that was copied from another's."""
    said = json.dumps({"of": ["0123456789ab", "Basket, Brook"], "say": [[2.5, "Softer here"]]}).encode()
    for tab in opened(browser, f"{for_larch}#say={base64.urlsafe_b64encode(said).decode().rstrip('=')}", **SMALL):
        assert tab.inner_text("#remarks-other") == (
            "This was said on another page, Basket, Brook. Open the address with that one."
        )
        assert tab.locator("#remarks-list button:disabled").count() == 1
        assert not tab.locator("#remarks-copy").is_visible()
        tab.click("#say")
        tab.fill("#remark-text", "Mine")
        tab.click("#remark-keep")
        assert not tab.locator("#remarks-other").is_visible()
        assert tab.locator("#remarks-list li").count() == 1
        address = tab.evaluate("location.href")
    for tab in opened(browser, address, **SMALL):
        assert not tab.locator("#remarks-other").is_visible()
        assert "Mine" in tab.inner_text("#remarks-list")


@pytest.mark.parametrize("end", ["#say=", "#say=%%%", "#say=bm9uc2Vuc2U", "#plain&say=W1sxLDJd", "#gl&say=e30"])
def test_an_address_that_holds_no_remarks_is_only_an_address(browser, for_larch, end):
    for tab in opened(browser, for_larch + end, viewport={"width": 240, "height": 180}):
        assert not tab.locator("#remarks").is_visible()

"""The page in a real browser: it shows the files as they are, by mouse, by finger and by keyboard, and turns knobs."""

import contextlib
import re
import signal
import subprocess
import sys
import time

import numpy as np
import pytest

from eavesong.watch.reading import Reader
from eavesong.watch.version import BLOCK, Version
from watched import SHOW, free_port, order_in, write_all

DESK = {"viewport": {"width": 1120, "height": 540}}
PHONE = {"viewport": {"width": 360, "height": 740}, "device_scale_factor": 2, "has_touch": True, "is_mobile": True}


class Command:
    """``eavesong watch`` in a process of its own."""

    def __init__(self, folder, *words, port=None):
        self.folder, self.port = folder, port or free_port()
        self.words = [sys.executable, "-m", "eavesong", "watch", "two.show.toml", "--layout", "house.toml",
                      "--no-browser", "--port", str(self.port), *words]  # fmt: skip
        self.start()

    def start(self):
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.PIPE}
        self.process = subprocess.Popen(self.words, cwd=self.folder, text=True, **pipes)
        self.address = re.search(r"http://\S+", self.process.stdout.readline())[0]

    def end(self, how=signal.SIGINT):
        self.process.send_signal(how)
        return self.process.wait(timeout=120)


@pytest.fixture(scope="module")
def command(tmp_path_factory):
    folder = tmp_path_factory.mktemp("live")
    write_all(folder)
    running = Command(folder, "--loop", "bar 2", "bar 4")
    yield running
    assert running.end() == 0


@pytest.fixture
def show(command):
    """The show's file; as it was, after the test."""
    path = command.folder / "two.show.toml"
    yield path
    path.write_text(SHOW)


@contextlib.contextmanager
def opened(browser, address, **how):
    """The page in a tab that nobody else has, of a context as ``how`` says. One that was opened so before is used
    again, which takes half as long. The block fails on any error in the console."""
    key = repr(sorted(how.items()))
    tab, errors = FREE[key].pop() if FREE.get(key) else new_tab(browser, how)
    errors.clear()
    tab.mouse.move(0, 0)
    tab.goto(address)
    until(tab, "window.eavesong?.state().ready")
    yield tab
    tab.goto("about:blank")
    FREE.setdefault(key, []).append((tab, errors))
    lost = ("WebSocket", "ERR_CONNECTION_REFUSED")  # where a test ends the server, whatever is asked for just then
    assert [error for error in errors if not any(word in error for word in lost)] == []


def new_tab(browser, how):
    """A tab, and a list of the errors that are told in its console."""
    tab, errors = browser.new_context(**how).new_page(), []
    tab.on("console", lambda message: errors.append(message.text) if message.type == "error" else None)
    tab.on("pageerror", lambda fault: errors.append(str(fault)))
    return tab, errors


FREE = {}
"""Tabs and their errors that nobody has at present, by what their contexts are like."""


def until(tab, true, seconds=240):
    """Wait until an expression is true; the page's policy forbids what Playwright would do for that."""
    end = time.monotonic() + seconds
    while not tab.evaluate(true):
        assert time.monotonic() < end, f"it has not become true: {true}"
        tab.wait_for_timeout(20)


def light(tab):
    return np.array(tab.evaluate("Array.from({ length: 300 }, (_, pixel) => eavesong.light(pixel))"))


def shows(tab, wanted, seconds=240):
    """Whether the page comes to show this light (n, 3): a version is told before all of its frames are there."""
    end = time.monotonic() + seconds
    while not (same := np.array_equal(light(tab), wanted)) and time.monotonic() < end:
        tab.wait_for_timeout(20)
    return same


def test_it_shows_the_files_and_every_save(browser, command, show):
    """Every pixel's light at the playhead is what the engine draws, before and after a save and beneath a mistake."""
    with opened(browser, command.address, **DESK) as tab:
        reader = Reader(order_in(command.folder))
        until(tab, "eavesong.state().position === 2 && eavesong.state().frame === 80")  # bar 2, where the loop begins
        assert tab.evaluate("eavesong.state().loop") == [2, 6]
        assert shows(tab, Version(reader.scene()).block(80 // BLOCK)[0].reshape(-1, 3))
        before = tab.evaluate("eavesong.state().version")
        show.write_text(SHOW.replace("opacity = 0.8", "opacity = 0.4"))
        until(tab, f"eavesong.state().version > {before}")
        wanted = Version(reader.scene()).block(80 // BLOCK)[0].reshape(-1, 3)
        assert shows(tab, wanted)
        show.write_text(SHOW.replace("opacity = 0.8", "opacty = 0.8"))
        until(tab, "document.querySelector('#faults').checkVisibility()")
        told = tab.inner_text("#faults")
        assert "two.show.toml, line 12, cue 1, opacty" in told
        assert "Did you mean 'opacity'?" in told
        assert np.array_equal(light(tab), wanted)
        show.write_text(SHOW)
        until(tab, "!document.querySelector('#faults').checkVisibility()")


HELD = "self.held = []; self.requestAnimationFrame = (turn) => held.push(turn)"
LET_GO = """self.requestAnimationFrame = (turn) => setTimeout(() => turn(performance.now()), 16);
held.splice(0).forEach(self.requestAnimationFrame)"""


def test_light_that_comes_before_the_page_asks_for_it_is_shown(browser, command, show):
    """As in a tab that is not looked at yet, and while the photo of the house is on its way: no picture is due."""
    with opened(browser, command.address, **DESK):  # the studio has drawn all of it
        context = browser.new_context(**DESK)
    tab, came = context.new_page(), []
    tab.add_init_script(HELD)
    tab.on("websocket", lambda socket: socket.on("framereceived", lambda data: came.append(isinstance(data, bytes))))
    tab.goto(command.address)
    while sum(came) < 4:  # blocks round the beginning, which a page is sent unasked
        tab.wait_for_timeout(20)
    tab.evaluate(LET_GO)
    until(tab, "eavesong.state().ready")
    context.close()


def test_where_a_bar_begins_that_bar_is_seen(browser, command, show):
    """Between two frames, the earlier of them shows the bar before. A breath of silence before bar 1 is no pick-up."""
    beats = command.folder / "song.beats"
    before = beats.read_text()
    beats.write_text("".join(f"{beat / 2 + 0.0149:.4f}\t{beat % 4 + 1}\n" for beat in range(16)))
    try:
        with opened(browser, command.address, **DESK) as tab:
            until(tab, "eavesong.parts.song.bars[1] === 2.0149")
            tab.reload()  # it begins with bar 2, where the loop does
            until(tab, "window.eavesong?.state().frame === 81")  # of 40 a second: at 2.025
            assert tab.evaluate("eavesong.state().loop[0]") == 2.025
            tab.keyboard.press("Home")
            until(tab, "document.querySelector('#bar').textContent === 'bar 1 of 4'")
    finally:
        beats.write_text(before)


def test_by_keyboard_alone(browser, command, show):
    """A cue is chosen, a knob turned, undone, turned again and kept; the song is played, stepped, looped and slowed."""
    with opened(browser, command.address, **DESK) as tab:
        press = tab.keyboard.press
        tab.locator("#cues button").last.focus()
        press("Enter")
        assert tab.inner_text("#knobs-title") == "Glow on the roof"
        for _ in range(8):
            press("Tab")
            if tab.evaluate("document.activeElement.closest('label')?.dataset.knob") == "opacity":
                break
        press("ArrowLeft")
        until(tab, "eavesong.parts.edits.count === 1")
        assert tab.is_visible("#turned")
        press("z")
        until(tab, "eavesong.parts.edits.count === 0 && eavesong.parts['cue/0'].knobs[2].value === 0.8")
        press("Home")
        until(tab, "eavesong.parts.edits.count === 1 && eavesong.parts['cue/0'].knobs[2].value === 0")
        assert show.read_text() == SHOW
        press("k")
        until(tab, "eavesong.parts.edits.count === 0")
        assert show.read_text() == SHOW.replace("opacity = 0.8", "opacity = 0")
        press("Escape")
        assert tab.is_visible("#cues")
        tab.locator("#scene").focus()
        press("ArrowRight")
        until(tab, "Math.abs(eavesong.state().position - 2.501) < 1e-6")  # a beat of half a second
        press("ArrowUp")
        until(tab, "Math.abs(eavesong.state().position - 4.001) < 1e-6")  # a bar of two
        press(".")
        until(tab, "eavesong.state().frame === 161")
        press("h")
        press(" ")
        until(tab, "eavesong.state().playing && eavesong.state().song > 4.2")
        assert tab.evaluate("eavesong.state().rate") == 0.5
        press(" ")
        press("l")
        assert tab.evaluate("eavesong.state().loop") is None


def test_two_windows_show_the_same_and_before_is_the_last_save(browser, command, show):
    with opened(browser, command.address, **DESK) as one, opened(browser, command.address, **DESK) as other:
        saved = light(one)
        one.evaluate("document.querySelectorAll('#cues button')[0].click()")
        slide = "slider => { slider.value = 20; slider.dispatchEvent(new Event('input')); }"
        one.locator("[data-knob=opacity] input").evaluate(slide)
        until(other, "eavesong.parts.edits.count === 1")
        until(one, "eavesong.parts['cue/0'].knobs[2].value === 0.1")
        until(one, "eavesong.light(0)[0] !== " + str(saved[0, 0]))
        until(other, f"eavesong.light(0)[0] === {light(one)[0, 0]}")
        other.keyboard.down("b")
        until(other, f"eavesong.state().before && eavesong.light(0)[0] === {saved[0, 0]}")
        assert other.is_visible("#past")
        other.keyboard.up("b")
        until(other, f"eavesong.light(0)[0] === {light(one)[0, 0]}")
        other.click("#letgo")
        until(one, f"eavesong.parts.edits.count === 0 && eavesong.light(0)[0] === {saved[0, 0]}")


@pytest.mark.parametrize("how", [DESK, PHONE], ids=["desk", "phone"])
def test_everybody_can_use_it(browser, command, show, how):
    """axe-core, all of its rules for WCAG 2 A and AA and good practice: the cues, knobs turned, a mistake, the keys."""
    from axe_playwright_python.sync_playwright import Axe

    def check(tab):
        found = Axe().run(tab)
        assert [violation["id"] for violation in found.response["violations"]] == [], found.generate_report()

    with opened(browser, command.address, bypass_csp=True, **how) as tab:
        tab.locator("#cues button").first.click()
        tab.locator("[data-knob=opacity] input").focus()
        tab.keyboard.press("ArrowLeft")
        until(tab, "document.querySelector('#turned').checkVisibility()")
        check(tab)
        show.write_text(SHOW[:100])
        until(tab, "document.querySelector('#faults').checkVisibility()")
        tab.click("#letgo")
        tab.click("#help")
        check(tab)
        width = how["viewport"]["width"]
        assert tab.evaluate("document.documentElement.scrollWidth") <= width
        tab.click("#notes-close")
        for box in (button.bounding_box() for button in tab.locator("#desk button").all() if button.is_visible()):
            assert 0 <= box["x"] <= box["x"] + box["width"] <= width
            assert min(box["width"], box["height"]) >= 24  # WCAG 2.2, SC 2.5.8


def test_a_tap_on_a_light_lists_what_lights_it(browser, command):
    with opened(browser, command.address, **PHONE) as tab:
        x, y = tab.evaluate("eavesong.place(150)")  # in the middle of the eaves
        box = tab.locator("#scene").bounding_box()
        tab.touchscreen.tap(box["x"] + x, box["y"] + y)
        until(tab, "document.querySelector('#now-title').textContent === 'What lights eaves'")
        assert tab.locator("#cues button").all_inner_texts()[-1].startswith("Glow on the roof")


def test_the_page_comes_back_by_itself(browser, tmp_path):
    """The server is killed and started again on the same port; the page shows what was saved meanwhile."""
    write_all(tmp_path)
    running = Command(tmp_path)
    with opened(browser, running.address, **DESK) as tab:
        before = tab.evaluate("eavesong.light(0)[0]")
        running.end(signal.SIGKILL)
        until(tab, "!eavesong.state().open && document.getElementById('hint').textContent.includes('Waiting')")
        (tmp_path / "two.show.toml").write_text(SHOW.replace("opacity = 0.8", "opacity = 0.4"))
        running.start()
        until(tab, f"eavesong.state().open && eavesong.light(0)[0] < {before}")
    assert running.end() == 0


@pytest.mark.parametrize(("how", "seconds"), [(signal.SIGINT, 0), (signal.SIGTERM, 0.3), (signal.SIGINT, 1)])
def test_it_ends_whatever_it_is_doing(tmp_path, how, seconds):
    """Soon after an effect's code was saved: what compiles then would abort a process that ends around it."""
    write_all(tmp_path)
    running = Command(tmp_path)
    glow = tmp_path / "glow.toml"
    glow.write_text(glow.read_text().replace("level = strength", f"level = strength * 0.{time.time_ns()}"))
    time.sleep(seconds)  # any moment will do
    assert running.end(how) == 0
    assert running.process.stderr.read() == ""

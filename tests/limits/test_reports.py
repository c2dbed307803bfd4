"""Reports for people and programs, the parts list, and the command."""

import json
import re
from html import escape
from html.parser import HTMLParser

import numpy as np
import pytest

from eavesong.cli import main
from eavesong.errors import FramesError, LayoutError
from eavesong.limits import Assumptions, limits, parts_csv, parts_page, report_page, report_text
from eavesong.limits.assumptions import CAUTIONS
from eavesong.limits.contents import _milliamperes
from eavesong.limits.findings import of_frames, of_supplies, shortfall
from powered import LINE

FED = """
[[prop]]
name = "lamp <3"
shape = "spot"
at = [0, 3]
[[controller.output]]
number = 2
chain = ["lamp <3"]
[[supply]]
name = "one"
volts = 5
watts = 100
[[supply.feed]]
controller = "box"
output = 1
lead = { gauge = 16, length = 2 }
inject = [{ prop = "eaves", lead = { gauge = 14, length = 6 } }]
"""
"""Its leads are too few and its voltage too low on purpose: that is found."""

SUPPLY = FED[FED.index("[[supply]]") :]
WARM = LINE.replace("[power]\n", "[power]\ncelsius = 30\n")
OTHERWISE = LINE.replace('"5 V, 20 mA"', '"5 V, 12 mA"')


class Tags(HTMLParser):
    """Notes what opens and closes, and every address."""

    VOID = {"meta"}  # noqa: RUF012

    def __init__(self):
        super().__init__()
        self.open, self.addresses, self.words = [], [], []

    def handle_starttag(self, tag, attributes):
        if tag not in self.VOID:
            self.open.append(tag)
        self.addresses += [value for key, value in attributes if key in ("src", "href", "xlink:href")]

    def handle_startendtag(self, tag, attributes):
        pass

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, text):
        self.words.append(text)


@pytest.fixture
def flashing(house, film):
    layout = house(LINE + FED)
    level = (np.arange(120) // 3 % 2 * 255).astype(np.uint8)
    return limits(layout, film(layout, level, show='allow_flashes = false\n[[cue]]\neffect = "x"\n'))


@pytest.fixture
def quiet(house):
    return limits(house(LINE + FED))


@pytest.mark.parametrize("write", [report_text, report_page, parts_page, lambda report: parts_csv(report.parts)])
def test_every_report_opens_with_the_cautions(flashing, write):
    text = " ".join(write(flashing).replace("\n! ", "\n").split())
    at = [text.find(caution) for caution in CAUTIONS]
    assert min(at) >= 0
    assert at == sorted(at)
    assert max(at) < re.search(r"\beaves\b", text).start()  # the prop: who made a page says so in its head
    assert "estimates" in text


def test_the_terminal_keeps_to_eighty_columns(flashing, quiet):
    for report in (flashing, quiet):
        assert max(map(len, report_text(report).splitlines())) <= 80


def test_columns_that_would_be_empty_are_left_out(flashing, house):
    assert "worst moment" in report_page(flashing)
    fed, bare = report_page(limits(house(LINE + FED))), report_page(limits(house()))
    assert ("usable W" in fed, "worst moment" in fed) == (True, False)
    assert "usable W" not in bare


def test_the_terminal_tells_power_voltage_data_flashes_and_parts(flashing):
    text = report_text(flashing)
    for words in ("the whole house", "Voltage", "Data at 40 frames a second", "WCAG 2.2", "ITU-R BT.1702", "Parts",
                  "kWh in a season", "A single pixel draws"):  # fmt: skip
        assert words in text


@pytest.mark.parametrize("write", [report_page, parts_page])
def test_pages_are_whole_and_need_nothing_from_elsewhere(flashing, write):
    reader = Tags()
    reader.feed(write(flashing))
    assert reader.open == []
    assert reader.addresses == []
    assert "lamp <3" in " ".join(reader.words)  # escaped in the page
    assert "http" not in write(flashing)


def test_text_and_page_say_the_same(flashing):
    """One document: every finding, and every figure of every row the terminal shows."""
    text, page = " ".join(report_text(flashing).split()), " ".join(report_page(flashing).split())
    for finding in flashing.findings:
        assert " ".join(str(finding).split()) in text
        assert escape(str(finding)) in page
    for load in (*flashing.power.supplies, *flashing.power.outputs):
        assert load.name in text
        assert escape(load.name) in page


def test_the_verdict_is_said_before_the_figures(flashing, quiet):
    for report in (flashing, quiet):
        text, page = report_text(report), report_page(report)
        words = "Within limits, with warnings" if report.passes else "Not within limits"
        assert report_text(report).splitlines()[1].startswith(f"{words}: ")
        assert text.index(words) < text.index("Power")
        assert page.index(words) < page.index("<h2>Power")


@pytest.mark.parametrize(
    ("volts", "needed", "words"),
    [(4.31, 4.5, "4.3 V of 4.5 V"), (4.46, 4.5, "4.46 V of 4.50 V"), (4.4991, 4.5, "4.499 V of 4.500 V"),
     (-3, 4.5, "0 V in place of 4.5 V")],
)  # fmt: skip
def test_a_shortfall_is_written_so_that_it_can_be_seen(volts, needed, words):
    assert shortfall(volts, needed) == words


def test_names_that_are_markup_stay_names(house):
    page = report_page(limits(house(LINE.replace("eaves", "<b>eaves</b>"))))
    assert "<b>eaves</b>" not in page
    assert "&lt;b&gt;eaves&lt;/b&gt;" in page


def test_json_holds_everything(flashing):
    data = json.loads(json.dumps(flashing.as_dict()))
    assert data["passes"] is False
    assert data["flashes"]["episodes"][0]["transitions"] > 6
    assert data["power"]["house"]["peak"] == pytest.approx(101 * 0.061 * 5, rel=1e-5)
    assert data["cautions"] == list(CAUTIONS)
    assert {"power", "voltages", "data", "parts", "findings", "assumed"} <= set(data)


def test_supplies_that_are_too_small_are_found(house, film):
    small = LINE + FED.replace("watts = 100", "watts = 30")
    report = limits(house(small))
    (finding,) = [finding for finding in report.findings if finding.about == "supply" and not finding.warning]
    assert "W at full white; 24 W of its 30 W are planned with" in finding.found
    assert "or take one of 50 W" in finding.instead  # 30.5 W, four fifths of 50 W
    smaller = limits(house(LINE + FED.replace("watts = 100", "watts = 15")), assumed=Assumptions(supply_share=0.5))
    (finding,) = [finding for finding in smaller.findings if finding.about == "supply" and not finding.warning]
    assert "or take one of 25 W" in finding.instead  # 15.5 W at half of full white: four fifths of 25 W are 20 W
    dim = limits(house(small), film(house(small), np.full(10, 60)))
    assert not any(finding.about == "supply" and not finding.warning for finding in dim.findings)


def test_frames_of_another_house_are_refused_and_of_another_version_told(house, film):
    other = film(house(), np.zeros(5))
    with pytest.raises(FramesError, match="its frames have 300 channels, and the layout has 303"):
        limits(house(LINE + FED), other)
    report = limits(house(LINE.replace("A line", "Another line")), other)
    assert any("another version" in finding.found and finding.warning for finding in report.findings)


@pytest.mark.parametrize(
    ("other", "limit", "told"),
    [
        (LINE + SUPPLY, (), ""),
        (LINE + SUPPLY, ("house:5W",), ""),  # of the volts that were counted with
        (LINE + SUPPLY.replace("volts = 5", "volts = 5.2"), ("house:5W",), "limited with other supplies"),
        (LINE + SUPPLY, ("supply",), "limited with other supplies"),
        (WARM, ("house:5W",), ""),
        (OTHERWISE, (), ""),
        (OTHERWISE, ("house:5W",), "limited with another [power]"),
        (LINE + "[street]\nheight = 1.5\n", ("supply",), ""),
        (LINE + "# measured again\n", ("supply",), ""),
        (LINE + '[colours]\nred = "gold"\n', (), "another version"),
    ],
)
def test_frames_are_asked_for_anew_only_where_they_depend_on_what_is_otherwise(house, film, other, limit, told):
    """Supplies as a proposal adds them change no byte that is not limited to what they give."""
    frames = film(house(), np.zeros(5), layout=LINE)
    found = [finding.found for finding in of_frames(house(other), frames, limit)]
    assert len(found) == bool(told)
    assert all(told in each for each in found)


def test_further_feeding_points_change_nothing_of_what_a_limit_counts(house, film):
    """They, the leads and where a supply hangs are of the voltage at the lights, not of whose watts they take."""
    frames = film(house(LINE + SUPPLY), np.zeros(5), layout=LINE + SUPPLY)
    for old, new in (
        ('prop = "eaves", lead', 'prop = "eaves", pixel = 40, lead'),
        ("volts = 5", "volts = 5\nat = [1, 0, 0]"),
    ):
        assert list(of_frames(house(LINE + SUPPLY.replace(old, new)), frames, ("supply",))) == []
    stronger = house(LINE + SUPPLY.replace("watts = 100", "watts = 150"))
    assert [each.about for each in of_frames(stronger, frames, ("supply",))] == ["frames"]


def test_a_rate_that_controllers_do_not_take_is_found(house):
    slow = LINE.replace('name = "box"', 'name = "box"\nframe_rate_limit = 30')
    report = limits(house(slow), None, Assumptions(frame_rate=50))
    found = [finding.found for finding in report.findings if finding.about == "data"]
    assert any("takes 30 frames a second, and 50 are sent" in one for one in found)
    assert any("more than the 44 that ANSI E1.11 allows" in one for one in found)


@pytest.mark.parametrize(
    ("stated", "found"), [({"share": 1.5}, "1.5 is no share"), ({"distance": 0}, "0 is no distance"),
                          ({"tariff": float("nan")}, "nan is no tariff"), ({"frame_rate": -1}, "-1 is no frame rate")],
)  # fmt: skip
def test_assumptions_that_cannot_be_are_told(stated, found):
    with pytest.raises(LayoutError, match=found):
        Assumptions(**stated)


# --- the command -----------------------------------------------------------------------------------------------------


def run(capsys, *arguments):
    with pytest.raises(SystemExit) as end:
        main(["limits", *map(str, arguments)])
    return int(end.value.code or 0), capsys.readouterr()


def test_the_command_proposes_supplies(house, tmp_path, capsys):
    layout, out = house(LINE), tmp_path / "out.toml"
    code, told = run(capsys, layout.path, "--propose", out)
    assert code == 1
    assert f"Wrote {out}: 1 supply proposed; within limits." in told.err
    assert run(capsys, out)[0] == 0
    code, told = run(capsys, out, "--propose", tmp_path / "again.toml")
    assert code == 4
    assert "no pixel of an output lacks a supply" in told.err


def test_the_command_says_which_written_points_it_sets_anew(house, tmp_path, capsys):
    """One lead is so short that it takes nearly all the amperes, whatever there is beside it."""
    short = LINE.replace("10.0", "1.0").replace("[power]", "[power]\nconnector_amperes = 1")
    feed = '[[supply]]\nname = "one"\nvolts = 5\nwatts = 300\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    feed += "lead = { gauge = 14, length = 12 }\n"
    points = 'inject = [{ prop = "eaves", pixel = 50, lead = { gauge = 14, length = 0.1 } }]\n'
    _, told = run(capsys, house(short + feed + points).path, "--propose", tmp_path / "out.toml")
    assert (
        "feeding points added; within limits.\nSet anew, as no points beside them are enough: 'eaves' pixel 50."
        in told.err
    )


def test_the_command_without_and_with_frames(house, film, tmp_path, capsys):
    layout = house(LINE.replace("[10.0, 0.0]", "[1.0, 0.0]").replace("5 V, 20 mA", "5 V, 12 mA"))
    code, told = run(capsys, layout.path)
    assert code == 0, told.out
    assert "no frames: figures at full white" in told.out
    frames = film(layout, np.arange(120) // 3 % 2 * 255)
    page, parts, sheet = tmp_path / "page.html", tmp_path / "parts.csv", tmp_path / "parts.html"
    code, told = run(capsys, layout.path, frames.path, "--page", page, "--parts", parts)
    assert code == 1
    assert "more than three flashes in a second" in " ".join(told.out.split())
    assert page.read_text().startswith("<!doctype html>")
    assert parts.read_text().startswith("caution,")
    code, told = run(capsys, layout.path, "--json", "--parts", sheet)
    assert json.loads(told.out)["pixels"] == 100
    assert sheet.read_text().startswith("<!doctype html>")


@pytest.mark.parametrize(
    ("arguments", "code", "found"),
    [
        (["missing.toml"], 3, "there is no such file"),
        (["house.toml", "missing.h5"], 3, "there is no such file"),
        (["house.toml", "house.toml"], 3, "house.toml"),
        (["house.toml", "--share", "7"], 3, "7 is no share"),
        (["house.toml", "--page", "nowhere/page.html"], 4, "Make it first"),
        (["house.toml", "--propose", "nowhere/out.toml"], 4, "Make it first"),
        (["house.toml", "--parts", "parts.pdf"], 2, "cannot be written as '.pdf'"),
        (["house.toml", "--spares", "-1"], 3, "-1 is no spares"),
        (["house.toml", "--fps", "many"], 2, "is not a number"),
    ],
)
def test_what_cannot_be_used_ends_with_its_code(house, tmp_path, monkeypatch, capsys, arguments, code, found):
    house()
    monkeypatch.chdir(tmp_path)
    ended, told = run(capsys, *arguments)
    assert (ended, "Traceback" in told.err) == (code, False)
    assert found in told.err


def test_the_page_shows_verdict_and_advice_and_folds_the_rest(flashing, tmp_path, browser):
    (tmp_path / "report.html").write_text(report_page(flashing))
    page = browser.new_page(viewport={"width": 390, "height": 844})
    page.goto((tmp_path / "report.html").as_uri())
    assert page.get_by_text("Render with --soften").is_visible()
    assert not page.locator("table").first.is_visible()
    assert page.evaluate("document.documentElement.scrollHeight") < 3 * 844
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("table").first.is_visible()
    page.close()


def test_json_names_the_house_and_the_terms(flashing):
    told = flashing.as_dict()
    assert told["house"].endswith(".toml")
    assert told["asked"]


def test_the_wiring_stands_on_the_page_and_with_the_parts(quiet):
    for page in (report_page(quiet), parts_page(quiet)):
        assert "<h2>Wiring</h2>" in page
        assert "box, output 2" in page
    assert quiet.as_dict()["wiring"][0]["prop"] == "eaves"
    assert "\nWiring\n" not in report_text(quiet)  # the terminal has it from 'layout --wiring'


def test_options_stay_whole_in_the_terminal(house):
    text = report_text(limits(house(LINE.replace("pixels = 100", "pixels = 800"))))
    assert "--propose" in text
    assert not any(line.rstrip().endswith(" --") for line in text.splitlines())


def test_a_house_in_feet_is_told_in_feet(house):
    """100 ft between two props, and 15 % of slack; cables are bought in feet there."""
    text = 'title = "H"\nunits = "ft"\n' + "".join(
        f'[[prop]]\nname = "{name}"\nshape = "line"\nfrom = [{x}, 9]\nto = [{x + 20}, 9]\npixels = 60\n'
        for name, x in (("eaves", 0), ("hedge", 120))
    )
    text += '[[controller]]\nname = "box"\n[[controller.output]]\nnumber = 1\nchain = ["eaves", "hedge"]\n'
    report = limits(house(text))
    told = " ".join(report_text(report).split())
    assert re.search(
        r"data goes more than 16 ft 5 in without a pixel in 1 place, up to 11\d ft( \d+ in)? from 'eaves'", told
    )
    assert {part.unit for part in report.parts if part.group == "extensions"} == {"ft"}
    assert next(part.count for part in report.parts if part.group == "extensions") == pytest.approx(115, abs=3)


@pytest.mark.parametrize(
    ("limited", "advice"), [(True, "These frames keep to it by their limit"), (False, "Render with")]
)
def test_frames_that_keep_to_a_supply_are_told_so(house, film, limited, advice):
    """Full white asks for more than the supply is rated for, and the frames are dim."""
    small = house(LINE + FED.replace("watts = 100", "watts = 30"))
    power = limits(small, film(small, np.full(10, 60))).power
    (finding,) = of_supplies(power, Assumptions(), limited)
    assert (finding.warning, finding.instead.startswith(advice)) == (True, True)


@pytest.mark.parametrize(
    ("amperes", "words"), [(0.0565, "56.5 mA"), (0.06, "60 mA"), (1.2, "1200 mA"), (0.05649, "56.5 mA")]
)
def test_what_a_pixel_draws_is_told_to_a_tenth(amperes, words):
    """18.5 mA for each colour and 1 mA of its own: frames cannot seem to draw more than full white."""
    assert _milliamperes(amperes) == words

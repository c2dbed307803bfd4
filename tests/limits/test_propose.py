"""Proposed supplies pass the checks that everything else has to pass, and their text is the layout."""

import re
import tomllib

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.errors import OutputError
from eavesong.files import shipped
from eavesong.layout import load_layout
from eavesong.limits import Assumptions, limits, with_supplies, write_proposal
from powered import LINE


def wrong(report):
    return [finding for finding in report.findings if not finding.warning]


def proposed(house, text, assumed=None):
    """The report on a layout, and on what is proposed for it, loaded from its text."""
    layout = house(text)
    report = limits(layout, None, assumed)
    return report, limits(house(with_supplies(layout, report.proposal.supplies)), None, assumed)


def test_a_layout_without_supplies_gets_a_worked_proposal(house):
    report, after = proposed(house, LINE)
    # 100 pixels of 61 mA at 5 V: 30.5 W, four fifths of 50 W.
    assert [(supply.volts, supply.watts) for supply in report.proposal.supplies] == [(5.0, 50.0)]
    assert not report.passes
    assert after.passes, wrong(after)
    assert after.power.unfed_pixels == 0
    assert after.power.supplies[0].pixels == 100
    (finding,) = [finding for finding in report.findings if finding.about == "supply"]
    assert "100 pixels have no supply in the layout" in finding.found
    assert re.search(r"1 supply is proposed, with \d+ feeding points: --propose OUT.toml writes them", finding.instead)


@pytest.mark.parametrize(
    ("lead", "written"), [("", "14"), ("lead = { gauge = 12 }\n", "12"), ("lead = { gauge = 10 }\n", "10")]
)
def test_no_lead_is_proposed_that_is_thinner_than_the_usual_one_of_the_house(house, lead, written):
    layout = house(LINE.replace('pixel_type = "5 V, 20 mA"\n', f'pixel_type = "5 V, 20 mA"\n{lead}'))
    text = with_supplies(layout, limits(layout).proposal.supplies)
    assert set(re.findall(r"lead = \{ gauge = (\d+), length", text)) == {written}
    after = limits(house(text))
    assert after.passes, wrong(after)


@pytest.mark.parametrize("name", ["bungalow.toml", "two-storey-2027.toml"])
def test_the_houses_that_come_with_eavesong_can_be_fed_as_proposed(name, tmp_path):
    for file in shipped("layouts").glob("*.csv"):
        (tmp_path / file.name).write_bytes(file.read_bytes())
    (tmp_path / name).write_text((shipped("layouts") / name).read_text().split("[[supply]]")[0])
    layout = load_layout(tmp_path / name)
    report = limits(layout)
    (tmp_path / name).write_text(with_supplies(layout, report.proposal.supplies))
    after = limits(load_layout(tmp_path / name))
    assert report.proposal.missing == ()
    assert wrong(after) == []
    # What is bought for the proposal is what the proposed layout needs.
    assert [part for part in report.parts if part.group == "fuses"] == [p for p in after.parts if p.group == "fuses"]
    assert sum(part.count for part in report.parts if part.group == "supplies") == len(report.proposal.supplies)


@pytest.mark.parametrize("name", ["bungalow.toml", "estate.toml", "two-storey-2026.toml"])
def test_the_houses_that_come_with_supplies_are_within_limits_at_full_white(name):
    report = limits(load_layout(shipped("layouts") / name))
    assert wrong(report) == []
    assert report.power.unfed_pixels == 0


ROWS = """\
title = "Rows"
units = "{units}"
[power]
pixel_type = "{kind}"
{extension}
{props}
[[controller]]
name = "box"
"""


@settings(max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    st.sampled_from(["m", "ft", "cm"]), st.sampled_from(["5 V, 20 mA", "12 V, 18.5 mA", "5 V, 12 mA"]),
    st.sampled_from(["", "extension = { gauge = 16 }", "connector_amperes = 3"]),
    st.lists(st.tuples(st.integers(1, 300), st.floats(0.5, 15), st.integers(1, 3)), min_size=1, max_size=5),
)  # fmt: skip
def test_whatever_is_proposed_passes_every_check(house, units, kind, extension, rows):
    """Strings of any length, on one to three outputs; nothing is proposed that a check would find."""
    size = {"m": 1, "ft": 3.28, "cm": 100}[units]
    props = "".join(
        f'[[prop]]\nname = "row {n}"\nshape = "line"\nat = [0, {n * size}]\n'
        f"to = [{length * size}, 0]\npixels = {count}\n"
        for n, (count, length, _) in enumerate(rows)
    )
    outputs = ""
    for number in sorted({output for *_, output in rows}):
        chain = ", ".join(f'"row {n}"' for n, (*_, output) in enumerate(rows) if output == number)
        outputs += f"[[controller.output]]\nnumber = {number}\nchain = [{chain}]\n"
    text = ROWS.format(units=units, kind=kind, extension=extension, props=props) + outputs
    report, after = proposed(house, text)
    assert report.proposal.missing == ()
    assert not [finding for finding in wrong(after) if finding.about != "data"]
    assert after.power.unfed_pixels == 0


def test_what_is_fed_already_stays_as_it_is(house):
    fed = LINE + '[[supply]]\nname = "one"\nvolts = 5\nwatts = 50\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    fed += "pixels = [1, 40]\nlead = { gauge = 14, length = 1 }\n"
    report, after = proposed(house, fed)
    assert [load.name for load in after.power.supplies] == ["one", "eaves supply"]
    (feed,) = report.proposal.supplies[0].feeds
    assert (feed.start, feed.stop) == (40, 100)
    assert [cut.position for cut in after.cuts] == [41]
    # 50 W, four fifths of which are planned with, less 40 pixels of 5 V and 61 mA.
    (advice,) = (finding.instead for finding in report.findings if "have no supply" in finding.found)
    assert "'one' has 28 W to spare at full white: a [[supply.feed]] more, and less is to be bought." in advice


def test_a_supply_that_has_no_room_for_an_output_is_not_named(house):
    """24 W are planned with, of which 40 pixels take 12: the other 60 would take 18."""
    fed = LINE + '[[supply]]\nname = "one"\nvolts = 5\nwatts = 30\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'
    report, _ = proposed(house, fed + "pixels = [1, 40]\nlead = { gauge = 14, length = 1 }\n")
    (advice,) = (finding.instead for finding in report.findings if "have no supply" in finding.found)
    assert "to spare" not in advice


def test_supplies_are_sized_for_full_white_unless_a_share_is_stated(house):
    # 100 pixels, 5 V: 30.5 W at full white, 15.5 W at half; four fifths of 25 W are 20 W.
    watts = [limits(house(), None, Assumptions(supply_share=share)).proposal.supplies[0].watts for share in (1.0, 0.5)]
    assert watts == [50, 25]
    report, after = proposed(house, LINE, Assumptions(supply_share=0.5))
    assert after.passes
    (line,) = [part for part in report.parts if part.group == "supplies"]
    assert "at 50% of full white: render with --limit supply" in line.note
    assert any("Render with --limit supply" in finding.instead for finding in after.findings)


def test_wire_that_no_fuse_guards_is_told_and_not_fed(house):
    """AWG 30 may carry 0.5 A (NFPA 79 table 12.5.1, from memory); the smallest blade fuse has 1 A."""
    kind = '[[pixel_type]]\nname = "own"\nvolts = 5\namperes = [0.02, 0.02, 0.02]\nwire = { gauge = 30 }\n'
    report = limits(house(LINE.replace("5 V, 20 mA", "own") + kind))
    assert report.proposal.supplies == ()
    assert "too little for a fuse" in report.proposal.missing[0]
    assert any("no supply can be proposed" in finding.found for finding in wrong(report))


def test_a_draft_is_told_what_it_lacks(house):
    report = limits(house('title = "Draft"\n[[prop]]\nname = "a"\nshape = "spot"\n'))
    assert report.proposal.supplies == ()
    assert any("Describe controllers and their outputs" in finding.instead for finding in report.findings)


def test_the_text_is_the_layout_with_more_below(house, tmp_path):
    layout = house(LINE.replace('"eaves"', '"the \\"old\\" eaves, ü"'))
    report = limits(layout)
    write_proposal(layout, report.proposal, tmp_path / "out.toml")
    text = (tmp_path / "out.toml").read_text()
    assert text.startswith(layout.text.rstrip())
    assert tomllib.loads(text)["supply"][0]["name"] == 'the "old" eaves, ü supply'
    after = load_layout(tmp_path / "out.toml")
    assert np.array_equal(after.pixels.X, layout.pixels.X)
    for now, then in zip(after.power.supplies[0].feeds, report.proposal.supplies[0].feeds, strict=True):
        assert [point.position for point in now.points] == [point.position for point in then.points]
        assert [point.lead.length for point in now.points] == pytest.approx([p.lead.length for p in then.points])


def test_what_cannot_be_written_is_told(house, tmp_path):
    (tmp_path / "dots.csv").write_text("x,y,z\n0,0,0\n1,0,0\n")
    dots = '[[prop]]\nname = "dots"\nshape = "points"\nfile = "dots.csv"\n[[controller]]\nname = "box"\n'
    layout = house('title = "Dots"\n' + dots + '[[controller.output]]\nnumber = 1\nchain = ["dots"]\n')
    proposal = limits(layout).proposal
    with pytest.raises(OutputError, match="names files that stand beside it"):
        write_proposal(layout, proposal, tmp_path / "elsewhere" / "out.toml")
    write_proposal(layout, proposal, tmp_path / "out.toml")
    fed = load_layout(tmp_path / "out.toml")
    with pytest.raises(OutputError, match="no pixel of an output lacks a supply"):
        write_proposal(fed, limits(fed).proposal, tmp_path / "again.toml")


FEED = '[[supply]]\nname = "one"\nvolts = 5\nwatts = 300\n[[supply.feed]]\ncontroller = "box"\noutput = 1\n'


@pytest.mark.parametrize(
    "own",
    [
        "",
        "inject = []\n",
        'inject = [ # "one" ]\n  { prop = "eaves", pixel = 3 },\n]\nlead = { gauge = 16, length = 1 }\n',
    ],
)
def test_feeds_that_are_described_and_lack_points_get_them(house, tmp_path, own):
    layout = house(LINE + FEED + own + "# the end\n")
    report = limits(layout)
    assert [finding for finding in wrong(report) if finding.about == "wire" or finding.about == "voltage"]
    write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
    mended = limits(load_layout(tmp_path / "out.toml"))
    assert not [finding for finding in wrong(mended) if finding.about == "voltage"]
    assert (tmp_path / "out.toml").read_text().endswith("# the end\n")


def test_a_thin_lead_to_the_first_point_is_mended_with_the_points(house, tmp_path):
    """All leads are reckoned as thick as the thickest: what was reckoned is what is written."""
    points = '[{ prop = "eaves", pixel = 60, lead = { gauge = 14, length = 6 } }]'
    own = f"lead = {{ gauge = 24, length = 1 }}  # too thin\ninject = {points}\n"
    layout = house(LINE + FEED + own)
    report = limits(layout)
    assert any(finding.about == "wire" for finding in wrong(report))
    write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
    assert "gauge = 24" not in (tmp_path / "out.toml").read_text()
    mended = limits(load_layout(tmp_path / "out.toml"))
    assert not [finding for finding in wrong(mended) if finding.about in ("wire", "voltage")]


COMPLETED = [
    (
        """\
inject = [
  # measured in May
  { prop = "eaves", pixel = 30, lead = { length = 11.3, gauge = 14, bundled = 2 } },  # along the gutter
  { pixel = 77, prop = "eaves" }  # by the door, no comma
]""",
        """\
inject = [
  # measured in May
  { prop = "eaves", pixel = 30, lead = { length = 11.3, gauge = 14, bundled = 2 } },  # along the gutter
  { pixel = 77, prop = "eaves" },  # by the door, no comma
  { prop = "eaves", """,
    ),
    ('inject = [{ prop = "eaves", pixel = 30 }]', 'inject = [{ prop = "eaves", pixel = 30 },\n    { prop = "eaves", '),
    ('inject = [ { prop = "eaves" }, ]', 'inject = [ { prop = "eaves" },\n    { prop = "eaves", '),
    ("inject = [  # none yet\n]", 'inject = [  # none yet\n    { prop = "eaves", '),
]


@pytest.mark.parametrize("inline", [False, True])
@pytest.mark.parametrize(("own", "completed"), COMPLETED)
def test_points_that_are_written_stay_and_others_are_written_behind_them(house, tmp_path, own, completed, inline):
    supply = FEED.partition("[[supply.feed]]\n")[0]
    inside = 'feed = [{ controller = "box", output = 1, lead.gauge = 16, @ }]\n'
    text = LINE + (supply + inside if inline else FEED + "lead = { gauge = 16 }\n@\n")
    layout = house(text.replace("@", own))
    report = limits(layout)
    assert write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages) == ""
    written = (tmp_path / "out.toml").read_text()
    assert written.startswith(text.partition("@")[0] + completed)
    assert written.endswith("},\n]" + text.partition("@")[2])
    assert not [finding for finding in wrong(limits(house(written))) if finding.about in ("wire", "voltage")]


@pytest.mark.parametrize(
    ("own", "thicker"),
    [
        ("lead = { gauge = 30, length = 1, bundled = 2 }", "lead = { gauge = 14, length = 1, bundled = 2 }"),
        ("lead = { area = 0.05, length = 1, bundled = 2 }", "lead = { gauge = 14, length = 1, bundled = 2 }"),
    ],
)
def test_of_a_written_lead_that_is_too_thin_only_the_size_changes(house, tmp_path, own, thicker):
    """AWG 30 may carry 0.5 A (NFPA 79 table 12.5.1, from memory), and the smallest blade fuse has 1 A."""
    points = f'inject = [{{ prop = "eaves", pixel = 30, {own} }}, {{ prop = "eaves", pixel = 60 }}]\n'
    layout = house(LINE + FEED + "lead = { gauge = 14, length = 2 }\n" + points)
    report = limits(layout)
    write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
    assert points.replace(own, thicker)[:-2] in (tmp_path / "out.toml").read_text()
    assert "through leads of AWG 14" in str(report.voltages[0].remedies[0])


@pytest.mark.parametrize("wire", ["area = 2.5", "ohms_per_metre = 0.007", 'gauge = 12, copper = "solid"'])
def test_leads_are_added_of_the_wire_that_was_tried(house, tmp_path, wire):
    layout = house(LINE + FEED + f"lead = {{ {wire}, length = 1 }}\n")
    report = limits(layout)
    write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
    remedy, feed = report.voltages[0].remedies[0], load_layout(tmp_path / "out.toml").power.supplies[0].feeds[0]
    assert [point.lead.conductor for point in feed.points] == list(remedy.wires)


def test_points_that_no_others_help_are_set_anew_and_told(house, tmp_path):
    """A lead of a hand's breadth takes most of 6 A beside any number of some twelve metres: 0.1 / 12 = 1 / 120."""
    points = 'inject = [{ prop = "eaves", pixel = 50, lead = { gauge = 14, length = 0.1 } }]\n'
    short = LINE.replace("10.0", "1.0").replace("[power]", "[power]\nconnector_amperes = 1")
    layout = house(short + FEED + "lead = { gauge = 14, length = 12 }\n" + points)
    report = limits(layout)
    assert write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages) == "'eaves' pixel 50"
    told = str(report.voltages[0].remedies[0])
    assert told.endswith("; set anew, as no points beside them are enough: 'eaves' pixel 50")
    assert "length = 0.1" not in (tmp_path / "out.toml").read_text()
    assert not [f for f in wrong(limits(load_layout(tmp_path / "out.toml"))) if f.about in ("wire", "voltage")]


LISTED = """\
feed = [  # as short as can be
    { controller = "box", output = 1, pixels = [1, 60], lead.gauge = 18 },  # left
    { inject = [], controller = "box", output = 1, pixels = [61, 100] },
]  # both
"""
HEADED = """\
[[supply.feed]]  # left
controller = "box"
output = 1
pixels = [1, 60]
lead = { gauge = 18 }
[[supply.feed]]
inject = []
controller = "box"
output = 1
pixels = [61, 100]
"""


def test_feeds_in_a_list_get_the_points_that_those_with_headers_get(house, tmp_path):
    texts = []
    for feeds in (LISTED, HEADED):
        layout = house(LINE.replace("10.0", "30.0") + FEED.partition("[[supply.feed]]")[0] + feeds)
        report = limits(layout)
        write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
        texts.append((tmp_path / "out.toml").read_text())
        assert not [finding for finding in wrong(limits(house(texts[-1]))) if finding.about == "voltage"]
    listed, headed = (tomllib.loads(text)["supply"][0]["feed"] for text in texts)
    assert listed == headed
    assert all(feed["inject"] for feed in listed)
    assert "feed = [  # as short as can be" in texts[0]
    assert "},  # left\n" in texts[0]
    assert "]  # both\n" in texts[0]


def test_points_that_are_tables_of_their_own_are_not_changed(house, tmp_path):
    own = '[[supply.feed.inject]]\nprop = "eaves"\npixel = 3\n'
    layout = house(LINE + FEED + own)
    report = limits(layout)
    with pytest.raises(
        OutputError, match=r"written in parts, .*\n.*and inject = \[\] with its points inside, and call this again"
    ):
        write_proposal(layout, report.proposal, tmp_path / "out.toml", report.voltages)
    assert not (tmp_path / "out.toml").exists()

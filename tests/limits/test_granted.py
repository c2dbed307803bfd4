"""What figures take for granted of pixels is said first, in text, page and JSON."""

from html import escape

from eavesong.layout.kinds import GENERIC, USUAL
from eavesong.limits import limits, parts_csv, report_page, report_text
from powered import LINE

UNSAID = LINE.replace('[power]\npixel_type = "5 V, 20 mA"\n', "")
LONG = LINE.replace("to = [10.0, 0.0]\npixels = 100", "to = [40.0, 0.0]\npixels = 800")


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_kind_that_is_named_is_not_taken_for_granted(house):
    report = limits(house())
    assert not any(finding.about == "pixels" for finding in report.findings)
    assert "taken for granted" not in parts_csv(report.parts)


def test_what_is_taken_for_granted_is_said_first_and_how_to_say_it(house):
    report = limits(house(UNSAID))
    first = report.findings[0]
    assert (first.about, first.warning) == ("pixels", True)
    assert f"'{USUAL}' a colour of each is taken for granted" in first.found
    assert all(f'"{kind}"' in first.instead for kind in GENERIC)
    text, page = words(report_text(report)), words(report_page(report))
    assert text.index("taken for granted") < text.index("have no supply")
    assert page.index("taken for granted") < page.index("have no supply")
    assert escape(first.instead) in page
    assert report.as_dict()["findings"][0]["about"] == "pixels"
    assert "taken for granted" in parts_csv(report.parts)


def test_only_what_is_said_nowhere_is_counted(house):
    lamp = '[[prop]]\nname = "lamp"\nshape = "spot"\nat = [0, 3]\n[[controller]]'
    text = UNSAID.replace("[[controller]]", lamp, 1).replace(
        '["eaves"]', '[{ prop = "eaves", pixel_type = "5 V, 12 mA" }, "lamp"]'
    )
    (found,) = (finding.found for finding in limits(house(text)).findings if finding.about == "pixels")
    assert "what 1 pixel is" in found


def test_where_many_feeds_are_needed_it_says_what_pixels_of_12_volts_take(house):
    weak, strong = limits(house(LONG)), limits(house(LONG.replace(USUAL, "12 V, 18.5 mA")))
    points = [sum(len(f.points) for s in report.proposal.supplies for f in s.feeds) for report in (weak, strong)]
    assert points[1] < points[0]
    (found,) = (finding.instead for finding in weak.findings if "have no supply" in finding.found)
    count = len(strong.proposal.supplies)
    assert f"would take {'1 supply' if count == 1 else f'{count} supplies'} and {points[1]} feeding points" in found
    assert not any("Pixels of 12 V" in finding.instead for finding in strong.findings)


def test_unlit_props_are_counted_and_said_to_be(house):
    # 100 pixels of 5 V with three colours of 20 mA and 1 mA of idle current each: 5 * 100 * 0.061 W, by Ohm's law
    (found,) = (finding for finding in limits(house('unlit = "eaves"\n' + LINE)).findings if finding.about == "pixels")
    assert found.warning
    assert found.found.startswith("eaves is 'unlit'")
    assert "30 W of 30 W" in found.found or "31 W of 31 W" in found.found


def test_one_unlit_prop_of_a_row_is_not_told_as_the_row(house):
    row = LINE.replace("pixels = 100", "pixels = 100\nrepeat = { count = 2, step = [0, 1] }", 1)
    for wish, told in (("eaves 2", "eaves 2 is 'unlit'"), ("eaves", "eaves (all 2) are 'unlit'")):
        found = [each.found for each in limits(house(f'unlit = "{wish}"\n{row}')).findings if each.about == "pixels"]
        assert len(found) == 1
        assert found[0].startswith(told)


def test_an_outputs_brightness_is_not_taken_off_and_said_not_to_be(house):
    # 100 pixels of 5 V with three colours of 20 mA and 1 mA of idle current each: 5 * 100 * 0.061 W, by Ohm's law
    wired = LINE.replace('chain = ["eaves"]', 'brightness = 0.1\nchain = ["eaves"]')
    (told,) = (finding.found for finding in limits(house(wired)).findings if "brightness" in finding.found)
    assert "the brightness of 'box, output 1' is not taken off full white, which is 3" in told
    assert not any("brightness" in finding.found for finding in limits(house(LINE)).findings)


def test_pixels_closer_than_strips_have_them_are_doubted(house):
    text = LINE.replace("pixels = 100", "pixels = 4000")
    (found,) = (str(finding) for finding in limits(house(text)).findings if finding.about == "pixels")
    assert "'eaves' are 2.5 mm apart along the wire" in found  # 10 m / 4,000
    assert found.endswith("Check 'pixels' and the sizes.")

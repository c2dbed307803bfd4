"""Wires, fuses and connectors that carry too much: found, and told with their place."""

import pytest

from eavesong.limits import Assumptions, limits
from powered import LINE

SUPPLY = """
[[supply]]
name = "one"
volts = {volts}
watts = 1000
[[supply.feed]]
controller = "box"
output = 1
lead = {lead}
"""


def string(amperes, pixels=100, *, wire="gauge = 10", lead="{ gauge = 10, length = 0.2 }", power="", more=""):
    """A string of 10 cm at 12 V that draws ``amperes`` in all, on a wire and through a lead as they are stated."""
    each = amperes / pixels / 3
    kind = (
        f'[[pixel_type]]\nname = "own"\nvolts = 12\namperes = [{each}, {each}, {each}]\nidle = 0\nwire = {{ {wire} }}\n'
    )
    text = LINE.replace("[10.0, 0.0]", "[0.1, 0.0]").replace("5 V, 20 mA", "own")
    text = text.replace("pixels = 100", f"pixels = {pixels}").replace("[power]", f"[power]\n{power}")
    return text + kind + SUPPLY.format(volts=12, lead=lead) + more


def found(house, *arguments, **stated):
    report = limits(house(string(*arguments, **stated)))
    return report, [strain.what for strain in report.voltages[0].strains]


def test_a_lead_that_carries_too_much_fails_the_check(house):
    """11.3 A through AWG 20, of which NFPA 79 table 12.5.1 allows 5 A (from memory)."""
    report, what = found(house, 11.3, lead="{ gauge = 20, length = 0.2 }")
    assert "lead" in what
    assert not report.passes
    assert report.voltages[0].full.holds  # the volts are there: only the wire is too thin
    (finding,) = [finding for finding in report.findings if finding.about == "wire"]
    assert "the lead of AWG 20 stranded to 'eaves' pixel 1 would carry 11.3 A, and it may carry 5.0 A" in finding.found


def test_the_strings_own_wire_counts_too(house):
    """28 A on AWG 28, of which NFPA 79 allows 0.8 A."""
    report, what = found(house, 28, wire="gauge = 28")
    assert "string" in what
    assert not report.passes
    assert any("may carry 0.8 A" in finding.found for finding in report.findings)


def test_extensions_are_wire_of_their_own(house):
    two = string(6, 50).replace('chain = ["eaves"]', 'chain = ["eaves", "b"]')
    two += '[[prop]]\nname = "b"\nshape = "line"\nat = [0.3, 0]\nto = [0.1, 0]\npixels = 50\n'
    assert limits(house(two)).passes
    thin = limits(house(two.replace("[power]", "[power]\nextension = { gauge = 24 }")))
    (strain,) = [strain for strain in thin.voltages[0].strains if strain.what == "extension"]
    assert strain.allowed == 2  # NFPA 79 table 12.5.1, AWG 24 (from memory)
    assert strain.amperes == pytest.approx(6)
    assert "from 'eaves' pixel 50 to 'b' pixel 1" in str(strain)


def test_a_load_that_no_fuse_both_bears_and_guards_is_found(house):
    """6.5 A for hours need a fuse of 8.1 A, and AWG 18 may carry 7 A."""
    assert found(house, 6.5, lead="{ gauge = 18, length = 0.2 }")[1] == ["fuse"]
    assert found(house, 4.0, lead="{ gauge = 18, length = 0.2 }")[1] == []


def test_the_fuse_of_a_lead_guards_the_string_behind_it(house):
    """A lead that may carry 25 A onto a string that may carry 5 A: a fault on the string must blow its fuse."""
    feed = 'inject = [{ prop = "eaves", lead = { gauge = 10, length = 0.2 } }]\n'
    report, what = found(house, 9.0, wire="gauge = 20", more=feed)
    assert what == ["fuse", "fuse"]
    assert report.voltages[0].strains[0].allowed == 4.0  # 80 % of 5 A


@pytest.mark.parametrize(("rated", "what"), [(5, ["connector"]), (7, [])])
def test_connectors_count_where_their_rating_is_stated(house, rated, what):
    assert found(house, 6, power=f"connector_amperes = {rated}")[1] == what


def test_a_warm_place_and_a_bundle_count(house):
    """11 A through AWG 14, 15 A by itself and a fuse of 15 A: 12.3 A at 40 °C, 7.5 A in a bundle of ten conductors."""
    assert found(house, 11, lead="{ gauge = 14, length = 0.2 }")[1] == []
    assert found(house, 11, lead="{ gauge = 14, length = 0.2 }", power="celsius = 40")[1] == ["fuse"]
    assert found(house, 11, lead="{ gauge = 14, length = 0.2, bundled = 5 }")[1] == ["lead"]


def test_a_limit_on_the_show_does_not_make_wires_thicker(house, film):
    """One lead can be asked for all of its pixels in any show: dark frames change nothing."""
    layout = house(string(11.3, lead="{ gauge = 20, length = 0.2 }"))
    assert not limits(layout, film(layout, [0, 10, 10])).passes


def test_a_pixel_that_gets_what_it_needs_is_no_failure(house):
    """A lead chosen so that exactly 10.8 V arrive: rounding makes no finding."""
    from eavesong.layout.kinds import Conductor
    from eavesong.limits.copper import loop_ohms

    metres = 1.2 / (4 * loop_ohms(Conductor(gauge=10), 1))
    lead = f"{{ gauge = 10, length = {metres / 1.15 * 1.00001} }}"
    report = limits(house(string(4, pixels=1, lead=lead)), None, Assumptions())
    assert report.voltages[0].full.volts == pytest.approx(10.8, abs=1e-4)
    assert report.passes, report.findings

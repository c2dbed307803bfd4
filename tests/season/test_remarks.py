"""What a remark is about, and whose it is."""

from eavesong.errors import Problem
from eavesong.layout import layout_from_points
from eavesong.limits.findings import Finding
from eavesong.season.remarks import Remark, of_check, of_every_song, of_limits, read_remark, shown

HOUSE = layout_from_points([[0.0, 0.0, 0.0], [1.0, 1.0, 0.0]])


def test_the_cue_is_read_from_the_place_and_props_from_the_words() -> None:
    (prop,) = HOUSE.names()
    remark = of_check(
        Problem("a.show.toml", "line 12, cue 3 'Chorus', on", f"'{prop}' stays dark", "Light it."), "dark", HOUSE
    )
    assert (remark.grave, remark.kind, remark.cue, remark.props) == (True, "dark", 3, (prop,))
    assert remark.found == f"line 12, cue 3 'Chorus', on: '{prop}' stays dark. Light it."
    lesser = of_limits(Finding("mains", "it takes much", warning=True), HOUSE)
    assert (lesser.grave, lesser.kind, lesser.cue, lesser.props) == (False, "mains", None, ())
    assert lesser.for_programs() == {"grave": False, "found": "it takes much.", "kind": "mains"}


def test_what_a_song_lacks_is_not_grave_but_what_the_very_song_had_is() -> None:
    gone = Problem("a.show.toml", "line 12, cue 3, sections", "section 'E' is nothing of the song now", "Name it.")
    assert not of_check(gone, "dark", HOUSE).grave
    assert of_check(gone, "texts", HOUSE).grave


def test_what_every_song_has_is_of_the_house_and_wiring_is_so_of_one() -> None:
    wire, dark, own = Remark(True, "thin", "wire"), Remark(True, "nothing lit", "dark"), Remark(True, "own", "dark")
    assert list(of_every_song([(wire, dark), (dark, own, wire)])) == [wire, dark]
    assert list(of_every_song([(wire, dark)])) == [wire]
    assert list(of_every_song([(wire,), ()])) == []
    flashes = Remark(False, "up to 2.5 flashes in a second", "flashes")
    assert list(of_every_song([(flashes,), (flashes,)])) == [], "as many in both by chance"
    assert list(of_every_song([])) == []


def test_it_comes_back_from_what_is_kept() -> None:
    remark = Remark(True, "thin", "wire", props=("arch",))
    assert read_remark({"grave": True, "found": "thin", "kind": "wire", "props": ["arch"]}) == remark


def test_a_file_is_shown_with_its_folder() -> None:
    assert shown("/home/somebody/pine/house.toml") == "pine/house.toml"

"""What the pages about seasons and changed houses say is so."""

import re
from pathlib import Path

from eavesong.scene.roles import PARENTS, ROLE_OF_SHAPE, ZONES, zone_of
from eavesong.season.setlist import load_setlist

DOCS = Path(__file__).parents[2] / "docs"


def test_the_setlist_in_the_page_can_be_read(tmp_path: Path) -> None:
    example, houses = re.findall(r"```toml\n(.*?)```", (DOCS / "batch.md").read_text(), re.DOTALL)
    (tmp_path / "december.toml").write_text(example)
    setlist = load_setlist(tmp_path / "december.toml")
    assert [song.frames_file for song in setlist.songs] == ["frames/lantern-walk.h5", "frames/waltz.h5"]
    assert setlist.show_of(setlist.songs[1]) == "waltz.show.toml"
    head = example.replace('layout = "two-storey-2027.toml"', "")
    (tmp_path / "december.toml").write_text(head + houses)
    setlist = load_setlist(tmp_path / "december.toml")
    mill, high = setlist.layouts_of(setlist.file.songs[0])
    assert setlist.said(setlist.file.songs[0], mill)["limit"] == ("house:1500W",)
    assert (setlist.name_of(mill), setlist.name_of(high)) == ("mill-lane", "number-7")
    assert setlist.reader_of(mill).reader == "Family Larch"


def test_the_table_of_roles_is_the_one_that_is_used() -> None:
    text = (DOCS / "retarget.md").read_text()
    rows = re.findall(r"^\| (`[^|]*)\|([^|]*)\| the ([a-z ]*) \|$", text, re.MULTILINE)
    told = {
        role: (parent.strip("`* "), place.removesuffix(" part"))
        for roles, parent, place in rows
        for role in re.findall(r"`([a-z]+)`", roles)
    }
    plain = {"opening", "sheet", "figure", "garden"}
    assert told == {role: (PARENTS[role], zone_of(role)) for role in PARENTS if role not in plain}
    for zone in ZONES:
        assert f"`{zone}`" in text
    for shape in ("arch", "cone", "helix", "rectangle"):
        assert shape in ROLE_OF_SHAPE

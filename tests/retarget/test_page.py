"""The report of a retargeting as a page: both houses in it, nothing else needed, nothing believed."""

from xml.etree import ElementTree

import pytest

from eavesong.layout import load_layout
from eavesong.retarget.page import retarget_page
from eavesong.retarget.report import retargeting
from eavesong.show import load_show
from shows import EFFECTS, HOUSE, even_grid, load_effect


@pytest.fixture
def page_of(tmp_path):
    """The page of a show on the test house and on what becomes of its text."""

    def make(new: str) -> str:
        for name, text in (("old.toml", HOUSE), ("new.toml", new), ("a.show.toml", "[[cue]]\neffect = 'wash'\n")):
            (tmp_path / name).write_text(text)
        old, now = load_layout(tmp_path / "old.toml"), load_layout(tmp_path / "new.toml")
        show = load_show(tmp_path / "a.show.toml", load=load_effect, names=EFFECTS)
        return retarget_page(retargeting(show, old, now, even_grid()), old, now)

    return make


def test_both_houses_are_drawn_as_svg_that_is_xml(page_of):
    page = page_of(HOUSE.replace("to = [9, 4, 3]", "to = [9, 3, 3]"))
    drawn = [part.partition("</svg>")[0] for part in page.split("<svg")[1:]]
    assert len(drawn) == 2
    for svg in drawn:
        ElementTree.fromstring(f"<svg{svg}</svg>")
    assert "old oak" in page


def test_nothing_is_fetched_and_no_name_is_markup(page_of):
    page = page_of(HOUSE.replace('"old oak"', '"<img src=x>"'))
    assert "<img" not in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")

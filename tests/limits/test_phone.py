"""The pages on a telephone: 390 pixels wide, nothing beyond the edge, nothing too small to read."""

import numpy as np
import pytest

from eavesong.limits import limits, parts_page, report_page
from powered import LINE

LONG = "a prop with such a long name that no column of a table can ever hold it, 1"[:80]


@pytest.fixture
def pages(house, film, tmp_path):
    """The report with everything in it, and the parts list, of a house with a long name; as files."""
    text = LINE.replace("eaves", LONG) + '[[supply]]\nname = "one"\nvolts = 5\nwatts = 20\n[[supply.feed]]\n'
    layout = house(text + 'controller = "box"\noutput = 1\nlead = { gauge = 24, length = 3 }\n')
    report = limits(layout, film(layout, np.arange(120) // 3 % 2 * 255))
    (tmp_path / "report.html").write_text(report_page(report))
    (tmp_path / "parts.html").write_text(parts_page(report))
    return tmp_path


def test_pages_fit_a_phone(browser, pages):
    """Nor is anything on them without a name: table heads are out of sight there, so that each cell carries its own."""
    page = browser.new_page(viewport={"width": 390, "height": 844})
    for name in ("parts.html", "report.html"):
        page.goto((pages / name).as_uri())
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        beyond = """[...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > 390.5
            && e.getBoundingClientRect().right < 5000).length"""
        assert page.evaluate(beyond) == 0
        smallest = """Math.min(...[...document.querySelectorAll('td, p, li, figcaption, .bar span')]
            .map(e => parseFloat(getComputedStyle(e).fontSize)))"""
        assert page.evaluate(smallest) >= 12
    unnamed = """[...document.querySelectorAll('td:not(:first-child)')]
        .filter(e => e.textContent && !e.dataset.head).length"""
    assert page.evaluate(unnamed) == 0
    said = page.evaluate("getComputedStyle(document.querySelector('td.n'), '::before').content")
    assert "pixels" in said
    page.close()

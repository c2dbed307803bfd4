"""``eavesong limits``: a verdict as an exit code, the report in any shape, the parts list beside it."""

import csv
import json

import pytest

from powered import LINE


@pytest.fixture
def house(tmp_path):
    (tmp_path / "house.toml").write_text(LINE)
    return tmp_path / "house.toml"


def test_json_is_the_verdict_for_programs(eavesong, house):
    ended = eavesong("limits", house, "--json")
    assert json.loads(ended.out)
    assert ended.code in (0, 1)
    assert eavesong("limits", house).code == ended.code


def test_page_and_parts_are_written_beside(eavesong, house, tmp_path):
    ended = eavesong("limits", house, "--page", tmp_path / "page.html", "--parts", tmp_path / "parts.csv")
    assert f"Wrote {tmp_path / 'page.html'}." in ended.err
    assert (tmp_path / "page.html").read_text().lower().startswith("<!doctype html>")
    with open(tmp_path / "parts.csv", newline="") as file:
        assert len(list(csv.reader(file))) > 1


def test_a_layout_that_is_not_there_ends_with_3(eavesong, tmp_path):
    assert eavesong("limits", tmp_path / "none.toml").code == 3


def test_what_somebody_else_wrote_is_replaced_by_no_option(eavesong, house, tmp_path):
    own = {option: tmp_path / f"own{ending}" for option, ending in WRITING.items()}
    for path in own.values():
        path.write_text("mine")
    options = [word for option, path in own.items() for word in (option, path)]
    ended = eavesong("limits", house, *options)
    assert ended.code == 4
    assert ended.out == "", "told before anything is reckoned"
    assert ended.err.count("is there already, and is not, or no longer, as eavesong wrote it") == len(own)
    assert {path.read_text() for path in own.values()} == {"mine"}
    for _ in range(2):  # what was written with --overwrite is known the next time
        assert eavesong("limits", house, *options, "--overwrite").code in (0, 1)
        assert eavesong("limits", house, *options).code in (0, 1)
    assert eavesong("limits", own["--propose"], "--propose", own["--propose"]).code == 4


WRITING = {"--page": ".page.html", "--parts": ".csv", "--propose": ".toml"}

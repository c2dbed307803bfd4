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

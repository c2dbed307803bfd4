"""Only what eavesong wrote, and nobody changed since, is replaced."""

from __future__ import annotations

import os

import pytest

from eavesong import replaced
from eavesong.errors import OutputError
from eavesong.files import write_whole
from eavesong.replaced import is_ours, note_written, replacing


@pytest.fixture(autouse=True)
def _own_list(tmp_path_factory, monkeypatch):
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path_factory.mktemp("cache")))


def test_what_was_written_is_replaced_until_somebody_changes_it(tmp_path):
    page = tmp_path / "page.html"
    for text in ("first", "second"):
        with replacing(page):
            write_whole(page, text)
    page.write_text("second, with a line of mine")
    told = r"page.html: is there already, and is not, or no longer.*\n.*--overwrite"
    with pytest.raises(OutputError, match=told), replacing(page):
        raise AssertionError("nothing is begun")
    assert page.read_text() == "second, with a line of mine"
    with replacing(page, overwrite=True):
        write_whole(page, "third")
    assert is_ours(page)


def test_pages_and_reports_say_themselves_who_made_them(tmp_path):
    """Where the cache is gone, a season goes on all the same."""
    page, report, own = (tmp_path / name for name in ("page.html", "set.report.json", "own.json"))
    page.write_text('<!doctype html><html><meta name="generator" content="eavesong"><p>')
    report.write_text('{\n  "written_by": "eavesong 9.9.9",\n  "songs": []\n}')
    own.write_text('{\n  "title": "eavesong"\n}')
    assert [is_ours(path) for path in (page, report, own)] == [True, True, False]


def test_an_empty_file_and_a_new_name_are_free(tmp_path):
    (tmp_path / "empty.csv").touch()
    with replacing(tmp_path / "empty.csv", tmp_path / "new.csv", None):
        write_whole(tmp_path / "new.csv", "a")
    assert not is_ours(tmp_path / "nowhere.csv")


def test_all_that_is_in_the_way_is_told_at_once(tmp_path):
    (tmp_path / "folder").mkdir()
    (tmp_path / "own.toml").write_text("mine")
    names = ("folder", "own.toml", "none/out.csv", "own.toml/out.csv", "twice.csv", "twice.csv")
    with pytest.raises(OutputError) as refused, replacing(*(tmp_path / name for name in names)):
        pass
    found = [problem.found for problem in refused.value.problems]
    assert [text.split(" '")[0] for text in found] == [
        "is a folder", "is there already, and is not, or no longer, as eavesong wrote it",
        "cannot be written: the folder", "cannot be written: the folder", "would be written twice",
    ]  # fmt: skip
    assert found[2].endswith("is not there")
    assert found[3].endswith("is a file, not a folder")


def test_what_is_read_is_never_replaced(tmp_path):
    house = tmp_path / "house.toml"
    house.write_text("title = 'H'")
    note_written(house)
    with pytest.raises(OutputError, match="is read here"), replacing(house, overwrite=True, read=[house, None]):
        pass


@pytest.mark.skipif(os.name != "posix", reason="links take rights elsewhere")
def test_a_link_is_followed_to_what_it_leads_to(tmp_path):
    own, link = tmp_path / "own.png", tmp_path / "link.png"
    own.write_text("a photo of mine")
    link.symlink_to(own)
    with pytest.raises(OutputError, match=r"link\.png: is there already"), replacing(link):
        pass
    own.unlink()
    with replacing(link):
        write_whole(link, "drawn")
    assert own.read_text() == "drawn"
    assert link.is_symlink()


def test_what_cannot_be_read_is_not_ours_and_a_lost_list_asks_again(tmp_path, monkeypatch):
    page = tmp_path / "page.html"
    with replacing(page):
        write_whole(page, "text")
    monkeypatch.setenv("EAVESONG_CACHE", str(tmp_path / "other"))
    assert not is_ours(page)


def test_the_list_forgets_its_older_half(tmp_path, monkeypatch):
    monkeypatch.setattr(replaced, "LARGEST_LIST", 1000)
    paths = [tmp_path / str(number) for number in range(20)]
    for path in paths:
        path.write_text(path.name)
        note_written(path)
    assert is_ours(paths[-1])
    assert not is_ours(paths[0])

"""``eavesong batch``: a setlist that cannot be used begins nothing."""


def test_a_setlist_that_is_not_there_ends_with_3(eavesong, tmp_path):
    ended = eavesong("batch", tmp_path / "season.toml")
    assert ended.code == 3
    assert "season.toml" in ended.err


def test_all_problems_of_a_setlist_are_told_and_no_report_is_written(eavesong, tmp_path):
    setlist = tmp_path / "season.toml"
    setlist.write_text("framse = 'out'\nlayout = 'none.toml'\n")
    ended = eavesong("batch", setlist)
    assert ended.code == 3
    assert "framse" in ended.err
    assert not list(tmp_path.glob("*.report.json"))


def test_no_worker_is_no_number_of_workers(eavesong, tmp_path):
    assert eavesong("batch", tmp_path / "season.toml", "--workers", "0").code == 2

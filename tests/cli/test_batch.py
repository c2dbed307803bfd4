"""``eavesong batch``: a setlist that cannot be used begins nothing."""

from eavesong.season import Outcome
from eavesong.season.run import Finished


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


def test_a_song_that_fails_is_told_even_where_it_is_to_be_quiet(eavesong, tmp_path, monkeypatch):
    """Whoever gets the mail of a night's work reads nothing else."""
    reason = "parade.ogg: its end is missing"
    outcomes = (Outcome(0, "parade", "p.h5", "failed", reason), Outcome(1, "frost", "f.h5", "rendered", "new"))
    finished = Finished(tmp_path / "season.toml", outcomes, 1.0, "1")
    monkeypatch.setattr("eavesong.season.run_batch", lambda *given, **how: finished)
    ended = eavesong("batch", tmp_path / "season.toml", "--quiet")
    assert (ended.code, ended.out, ended.err) == (1, "", f"parade: {reason}\n")

"""A batch from setlist to report, and what it does again the second time: nothing that is up to date."""

import json
import os
import subprocess
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import soundfile

from eavesong.frames import open_frames
from eavesong.render import Order, render
from eavesong.season import plan_batch, run_batch
from eavesong.season.fresh import why_due
from eavesong.season.report import batch_dict, batch_text

Make = Callable[..., "Season"]  # noqa: F821


def statuses(finished) -> dict[str, str]:
    return {outcome.name: outcome.status for outcome in finished.outcomes}


def test_a_batch_makes_what_single_renders_make(season: Make) -> None:
    made = season(2)
    finished = run_batch(made.setlist, workers=2)
    assert statuses(finished) == {"song-0": "rendered", "song-1": "rendered"}
    assert finished.all_well
    alone = made.folder / "apart" / "song-1.h5"
    alone.parent.mkdir()
    render(Order.of(made.folder / "two.show.toml", made.folder / "hut.toml", made.folder / "song-1.wav"), alone)
    assert alone.read_bytes() == (made.folder / "frames" / "song-1.h5").read_bytes()
    assert set(made.digests()) == {"song-0.h5", "song-1.h5"}  # no lock, no draft is left


@pytest.mark.usefixtures("in_process")
def test_what_is_up_to_date_is_skipped_and_what_changed_is_done(season: Make) -> None:
    made = season(2)
    (made.folder / "own.toml").write_text(
        'title = "Own"\nabout = "White."\ncode = """\nlevel = x\ncolour = linear_rgb(1, 1, 1)\n"""\n'
    )
    show = made.folder / "two.show.toml"
    show.write_text(show.read_text() + '[[cue]]\neffect = "own.toml"\non = "tree"\n')

    def due() -> list[str]:
        plan = plan_batch(made.setlist)
        return [why_due(task, plan.shows[task.show], plan.layouts[task.layout]) for task in plan.tasks]

    assert due() == ["there were no frames of it yet"] * 2
    run_batch(made.setlist, workers=1)
    for path in made.folder.glob("*.*"):
        os.utime(path, (1, 1))
    assert due() == ["", ""]
    finished = run_batch(made.setlist, workers=1)
    assert {outcome.status for outcome in finished.outcomes} == {"up to date"}
    beats = made.folder / "song-0.beats"
    beats.write_text(beats.read_text().replace("0.5\t2", "0.51\t2"))
    assert due() == ["the beats changed", ""]
    effect = made.folder / "own.toml"
    effect.write_text(effect.read_text().replace("level = x", "level = y"))
    assert due() == ["an effect changed, the beats changed", "an effect changed"]
    run_batch(made.setlist, workers=1)
    assert due() == ["", ""]
    house = made.folder / "hut.toml"
    house.write_text(house.read_text().replace("pixels = 60", "pixels = 61"))
    assert due() == ["the layout changed"] * 2
    made.setlist.write_text("frame_rate = 20\n" + made.setlist.read_text())
    assert due() == ["the layout changed, asked for: 40 frames a second, now 20 frames a second"] * 2
    (made.folder / "song-0.sections").unlink()
    (made.folder / "song-1.wav").write_bytes((made.folder / "song-0.wav").read_bytes())
    assert [reason.split(", ")[1] for reason in due()] == ["the sections changed", "the song changed"]
    assert all(reason.endswith("now 20 frames a second") for reason in due())


@pytest.mark.usefixtures("in_process")
def test_what_another_version_made_and_what_is_damaged_is_done_again(
    season: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    plan = plan_batch(made.setlist)
    (task,) = plan.tasks
    parts = task, plan.shows[task.show], plan.layouts[task.layout]
    assert why_due(*parts) == ""
    with monkeypatch.context() as patch:
        patch.setattr("eavesong.render.origin.made_by", lambda *engine: "0" * 64)
        assert why_due(*parts) == "another version of eavesong made it"
    render(replace(task.order, props=("tree",)), task.out)
    assert why_due(*parts) == "asked for: only tree, now all props"
    whole = Path(task.out).read_bytes()
    Path(task.out).write_bytes(whole[: len(whole) // 2])
    assert "its frames file is cut short" in why_due(*parts)


@pytest.mark.usefixtures("in_process")
def test_sections_decide_when_one_show_serves_many_songs(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    with open_frames(made.folder / "frames" / "song-0.h5") as file:
        alone = file.frames[10], file.frames[100]
    # The second cue crosses the roof in the chorus, the second half, only.
    assert not np.array_equal(alone[0][:180], alone[1][:180])


@pytest.mark.usefixtures("in_process")
def test_force_does_everything_again(season: Make) -> None:
    made = season(1)
    run_batch(made.setlist, workers=1)
    finished = run_batch(made.setlist, workers=1, again=True)
    assert [(outcome.status, outcome.reason) for outcome in finished.outcomes] == [("rendered", "asked for again")]


@pytest.mark.usefixtures("in_process")
def test_broken_songs_fail_alone_each_with_its_reason(season: Make) -> None:
    made = season(10)
    whole = (made.folder / "song-1.wav").read_bytes()
    (made.folder / "song-1.wav").write_bytes(whole[: len(whole) // 2])
    (made.folder / "song-2.wav").write_bytes(b"")
    (made.folder / "song-3.wav").write_text("not a song but a letter")
    silent = made.folder / "song-4.wav"
    soundfile.write(silent, np.zeros(32_000, np.float32), 8000, "PCM_16")
    ran = made.here()
    assert ran.returncode == 1, ran.stderr
    report = json.loads((made.folder / "season.report.json").read_text())
    assert report["all_well"] is False
    told = {song["name"]: (song["status"], song["reason"]) for song in report["songs"]}
    assert {name for name, (status, _) in told.items() if status == "rendered"} == {
        "song-0", *(f"song-{n}" for n in range(4, 10)),
    }  # fmt: skip
    assert "ends after" in told["song-1"][1]
    assert told["song-2"] == ("failed", "song-2.wav: is empty")
    assert "is not sound that can be read" in told["song-3"][1]
    assert all(f"song-{n}" in ran.stdout for n in range(10))
    assert "7 rendered" in ran.stdout
    assert len(made.digests()) == 7


def test_a_refused_batch_begins_nothing(season: Make) -> None:
    made = season(1)
    (made.folder / "two.show.toml").unlink()
    ran = made.here()
    assert ran.returncode == 3
    assert "there is no such file" in ran.stderr
    assert not (made.folder / "frames").exists()


@pytest.mark.usefixtures("in_process")
def test_the_report_is_a_table_and_json(season: Make) -> None:
    made = season(1)
    finished = run_batch(made.setlist, workers=1)
    text = batch_text(finished)
    assert max(map(len, text.splitlines())) < 80
    assert "song-0" in text
    assert "160" in text  # 4 s at 40 frames a second
    assert json.loads(json.dumps(batch_dict(finished)))["songs"][0]["frames"] == 160


@pytest.mark.usefixtures("in_process")
def test_two_batches_on_one_setlist_share_the_work(season: Make) -> None:
    made, other = season(4), season(4, "other")
    other.here()
    both = [
        subprocess.Popen(
            made.command("--workers", "1", "--report", str(made.folder / f"{n}.json")), stdout=subprocess.DEVNULL
        )
        for n in (1, 2)
    ]
    assert [process.wait(300) for process in both] == [0, 0]
    assert made.digests() == other.digests()
    reports = [json.loads((made.folder / f"{n}.json").read_text()) for n in (1, 2)]
    counts = [sum(song["status"] == "rendered" for song in report["songs"]) for report in reports]
    assert sum(counts) == 4  # each song was rendered by one of them

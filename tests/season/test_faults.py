"""What a batch survives, with nothing lost and nothing half-written."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from pathlib import Path

import psutil
import pytest

from eavesong.errors import OutputError
from eavesong.leftovers import LOCK, beside
from eavesong.scene import Order
from eavesong.season import Outcome, Task, local, run_batch
from eavesong.season.locks import held

Make = Callable[..., "Season"]  # noqa: F821

KILLS = 4


def kill_all(process: subprocess.Popen, group: bool) -> None:
    """SIGKILL to the batch, or to it and all its workers at once; wait until none of them lives."""
    family = [process, *psutil.Process(process.pid).children(recursive=True)]
    if group:
        os.killpg(process.pid, signal.SIGKILL)
    else:
        process.kill()
    process.wait(300)
    for member in family[1:]:
        member.wait(300)  # workers end by themselves when the batch is gone


@pytest.mark.usefixtures("in_process")
def test_killed_at_random_moments_then_run_once_more(season: Make) -> None:
    """Some before anything is begun, most while songs are rendered."""
    whole, broken = season(3, "whole"), season(3, "broken")
    assert whole.here().returncode == 0  # compiles what is not compiled yet
    chance = random.Random(4)
    for number in range(KILLS):
        process = subprocess.Popen(
            broken.command("--workers", "2"), stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, start_new_session=True
        )
        if number % 4:
            process.stdout.readline()  # a song is begun
        time.sleep(chance.uniform(0.0, 0.6))
        kill_all(process, group=number % 2 == 0)
        process.stdout.close()
        if number % 3 == 2:  # so that there is something left to do
            for frames in (broken.folder / "frames").glob("*.h5"):
                frames.unlink()
    for name, digest in broken.digests().items():
        if not name.startswith("."):
            assert digest == whole.digests()[name]  # whole at any moment
    ran = broken.here()
    assert ran.returncode == 0, ran.stderr
    assert broken.digests() == whole.digests()  # and no drafts or locks of the killed are left


def kept_busy(made: "Season", number: int) -> AbstractContextManager[None]:  # noqa: F821
    """Another process seems to render this song: the batch cannot come to its end meanwhile, however fast it is."""
    (made.folder / "frames").mkdir(exist_ok=True)
    return held(beside(made.folder / "frames" / f"song-{number}.h5", LOCK))


@pytest.mark.usefixtures("in_process")
def test_a_killed_worker_is_replaced_and_its_song_tried_again(
    season: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    whole, broken = season(3, "whole"), season(3, "broken")
    whole.here()
    (tmp_path / "temporary").mkdir()
    monkeypatch.setenv("TMPDIR", str(tmp_path / "temporary"))
    with kept_busy(broken, 2):
        process = subprocess.Popen(broken.command("--workers", "2"), stdout=subprocess.PIPE, text=True)
        assert process.stdout is not None
        diaries = tmp_path / "temporary"
        while not any("waiting" in diary.read_text() for diary in diaries.glob("eavesong-batch-*/2")):
            assert process.poll() is None
            time.sleep(0.05)
        for child in psutil.Process(process.pid).children():
            if "loky" in " ".join(child.cmdline()):
                child.kill()
    told = process.stdout.read()
    assert process.wait(300) == 0, told
    assert broken.digests() == whole.digests()
    songs = json.loads((broken.folder / "season.report.json").read_text())["songs"]
    assert songs[2]["attempts"] == 2


@pytest.fixture
def run_deadly(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[list[str]], dict[str, Outcome]]:
    """Runs tasks of these names with work that may kill its worker."""
    import deadly

    monkeypatch.setattr(local, "_in_worker", deadly.deadly)

    def run(names: list[str]) -> dict[str, Outcome]:
        tasks = [Task(n, name, Order("", "", ""), str(tmp_path / f"{n}")) for n, name in enumerate(names)]
        found: dict[str, Outcome] = {}
        local.run_local(tasks, 2, lambda outcome: found.update({outcome.name: outcome}), lambda *what: None)
        return found

    return run


def test_a_song_that_always_kills_its_worker_takes_no_other_down(run_deadly: Callable) -> None:
    found = run_deadly(["one", "deadly", "two", "once", "three"])
    assert found["deadly"].status == "failed"
    assert "the worker died each of 3 times" in found["deadly"].reason
    assert {name for name, outcome in found.items() if outcome.status == "rendered"} == {"one", "two", "once", "three"}


def test_workers_that_cannot_even_be_started_are_given_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Python finds nothing of its own where its home is said to be elsewhere."""
    monkeypatch.setattr(local, "_surroundings", lambda: {"PYTHONHOME": str(tmp_path)})
    found: list[Outcome] = []
    tasks = [Task(n, f"song {n}", Order("", "", ""), str(tmp_path / f"{n}")) for n in range(3)]
    local.run_local(tasks, 2, found.append, lambda *what: None)
    assert sorted((each.number, each.status, each.reason) for each in found) == [
        (n, "failed", local.NO_WORKERS) for n in range(3)
    ]


def test_python_files_that_lie_around_are_not_run(season: Make, tmp_path: Path) -> None:
    """Python imports from the folder where a process is started, unless it is told not to."""
    made = season(1)
    for name in ("re", "json", "numpy", "eavesong"):
        (made.folder / f"{name}.py").write_text(f"open({str(made.folder / 'ran')!r}, 'w')\n")
    start = tmp_path / "elsewhere" / "start.py"  # as the command that is installed
    start.parent.mkdir()
    start.write_text("from eavesong.cli import main\nif __name__ == '__main__':\n    main()\n")
    done = subprocess.run(
        [sys.executable, str(start), "batch", str(made.setlist)], cwd=made.folder, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert not (made.folder / "ran").exists()


def hear_ctrl_c() -> None:
    """Before it begins: what is started in the background by a shell does not hear SIGINT, nor do its children."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def twice_to_all(process: subprocess.Popen) -> None:
    """Ctrl-C, and again: the terminal sends it to the command and to its workers."""
    for _ in range(2):
        os.killpg(process.pid, signal.SIGINT)


@pytest.mark.parametrize("ask", [subprocess.Popen.terminate, twice_to_all])
def test_told_to_stop_it_stops_without_a_traceback(season: Make, ask: Callable[[subprocess.Popen], None]) -> None:
    made = season(6, seconds=30.0)
    with kept_busy(made, 5):
        process = subprocess.Popen(
            made.command("--workers", "2"), stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
            start_new_session=True, preexec_fn=hear_ctrl_c,
        )  # fmt: skip
        assert process.stdout is not None
        assert process.stdout.readline().startswith(("begun", "rendered"))
        workers = psutil.Process(process.pid).children()
        ask(process)
        told = process.communicate(timeout=300)[1]
    assert process.returncode
    assert "Traceback" not in told
    psutil.wait_procs(workers, timeout=300)
    assert not any(worker.is_running() for worker in workers)


# --- disks ------------------------------------------------------------------------------------------------------------


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Callable[[Path, str], None]]:
    """Mounts a small disk at a path; only where that is allowed."""
    mounted: list[Path] = []

    def mount(path: Path, options: str) -> None:
        path.mkdir()
        tried = subprocess.run(["mount", "-t", "tmpfs", "-o", options, "tmpfs", str(path)], capture_output=True)
        if tried.returncode:
            pytest.skip("mounting a tmpfs is not allowed here")
        mounted.append(path)

    try:
        yield mount
    finally:
        for path in mounted:
            subprocess.run(["umount", str(path)], check=True)


def test_a_disk_that_is_too_small_is_refused_before_anything_is_rendered(season: Make, small_disk: Callable) -> None:
    made = season(3)
    small_disk(made.folder / "frames", "size=256k")
    with pytest.raises(OutputError, match=r"the frames need about 3\.\d MB, and 26\d kB are free\n    Make room"):
        run_batch(made.setlist, workers=1)
    assert made.digests() == {}
    ran = made.run()
    assert ran.returncode == 4
    assert "go on with --ignore-space" in ran.stderr


@pytest.mark.usefixtures("in_process")
def test_a_disk_that_fills_up_leaves_nothing_half_written(season: Make, small_disk: Callable) -> None:
    made, whole = season(4, seconds=20.0), season(4, "whole", seconds=20.0)
    whole.here()
    largest = max(file.stat().st_size for file in (whole.folder / "frames").iterdir())
    small_disk(made.folder / "frames", f"size={(largest + 40_000) // 1024}k")
    ran = made.here("--ignore-space")
    assert ran.returncode == 1
    assert "No space left on device" in ran.stdout
    assert len(made.digests()) == 1
    assert made.digests().items() <= whole.digests().items()


def test_a_read_only_place_is_refused_at_once(season: Make, small_disk: Callable) -> None:
    made = season(1)
    if os.geteuid():
        (made.folder / "frames").mkdir(mode=0o555)
    else:
        small_disk(made.folder / "frames", "ro")
    with pytest.raises(OutputError, match=r"frames cannot be written here: it is read-only\n    Make it writable"):
        run_batch(made.setlist, workers=1)


# --- caches -----------------------------------------------------------------------------------------------------------


def unseen(season: Make, count: int) -> tuple["Season", "Season"]:  # noqa: F821
    """A season that is rendered and not looked at, so that only what draws is compiled; and the same, done already."""
    made, usual = season(count), season(count, "usual")
    for each in (made, usual):
        each.setlist.write_text(f'findings = "none"\n{each.setlist.read_text()}')
    assert usual.here().returncode == 0
    return made, usual


@pytest.mark.usefixtures("in_process")
def test_cold_caches_and_broken_ones(season: Make, tmp_path: Path) -> None:
    made, usual = unseen(season, 2)
    cache = str(tmp_path / "cache")
    first = made.run("--workers", "2", EAVESONG_CACHE=cache)
    assert first.returncode == 0, first.stdout
    assert made.digests() == usual.digests()
    kept = [*Path(cache).rglob("*.code")]
    assert kept
    for number, file in enumerate(kept):
        data = file.read_bytes()
        file.write_bytes([b"", b"rubbish", data[: len(data) // 2]][number % 3])
    again = made.run("--workers", "1", "--force", EAVESONG_CACHE=cache)
    assert again.returncode == 0, again.stdout
    assert made.digests() == usual.digests()


@pytest.mark.usefixtures("in_process")
def test_a_cache_that_is_read_only_costs_no_song(season: Make, small_disk: Callable, tmp_path: Path) -> None:
    made, usual = unseen(season, 1)
    small_disk(tmp_path / "cache", "ro")
    ran = made.run("--workers", "1", EAVESONG_CACHE=str(tmp_path / "cache"))
    assert ran.returncode == 0, ran.stdout
    assert made.digests() == usual.digests()
    assert ran.stderr.count("going on without it") == 1


@pytest.mark.usefixtures("in_process")
def test_a_cache_that_fills_up_on_the_way_costs_no_song(season: Make, small_disk: Callable, tmp_path: Path) -> None:
    made, usual = unseen(season, 1)
    small_disk(tmp_path / "cache", "size=1100k")
    ran = made.run("--workers", "1", EAVESONG_CACHE=str(tmp_path / "cache"))
    assert ran.returncode == 0, ran.stdout
    assert made.digests() == usual.digests()

"""A batch on a real Dask cluster: a scheduler and two worker processes on this machine."""

import importlib.util
import logging
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from eavesong.errors import EavesongError
from eavesong.season import cluster, plan_batch, run_batch
from eavesong.season.parcel import packed, unpacked

Make = Callable[..., "Season"]  # noqa: F821

pytestmark = [
    pytest.mark.usefixtures("in_process"),  # what is done here beside the cluster
    pytest.mark.skipif(importlib.util.find_spec("distributed") is None, reason="distributed is not installed"),
]


class Cluster:
    """A scheduler, and workers that can be added and killed."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.file = folder, folder / "scheduler.json"
        self.processes = [self._start("scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard")]
        deadline = time.monotonic() + 300
        while not self.file.exists():
            assert time.monotonic() < deadline, "the scheduler did not start"
            time.sleep(0.05)
        import json

        time.sleep(0.1)
        self.address = json.loads(self.file.read_text())["address"]

    def _start(self, *what: str) -> subprocess.Popen:
        command = [sys.executable, "-m", "dask", *what, "--scheduler-file", str(self.file)]
        return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, cwd=self.folder)

    def add_worker(self) -> subprocess.Popen:
        worker = self._start("worker", "--nthreads", "1", "--no-nanny", "--no-dashboard", "--host", "127.0.0.1")
        self.processes.append(worker)
        return worker

    def wait_for(self, count: int) -> None:
        from distributed import Client

        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(count, timeout=300)

    def end(self) -> None:
        for process in reversed(self.processes):
            process.kill()
            process.wait(300)


@pytest.fixture(scope="module")
def dask(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Cluster]:
    made = Cluster(tmp_path_factory.mktemp("dask"))
    try:
        made.add_worker()
        made.add_worker()
        made.wait_for(2)
        yield made
    finally:
        made.end()


def test_workers_that_share_the_folders_write_there(season: Make, dask: Cluster) -> None:
    made, usual = season(4), season(4, "usual")
    run_batch(usual.setlist, workers=1)
    told: list[str] = []
    finished = run_batch(made.setlist, cluster=dask.address, say=told.append)
    assert finished.all_well, finished
    assert made.digests() == usual.digests()
    assert sum(line.startswith("begun") for line in told) == 4
    again = run_batch(made.setlist, cluster=dask.address)
    assert {outcome.status for outcome in again.outcomes} == {"up to date"}


def test_workers_that_share_nothing_send_the_frames(
    season: Make, dask: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    made, usual = season(3), season(3, "usual")
    (made.folder / "song-1.wav").write_text("not a song")
    run_batch(usual.setlist, workers=1)
    monkeypatch.setattr(cluster, "_is_shared", lambda client, tasks: False)
    finished = run_batch(made.setlist, cluster=dask.address)
    assert [outcome.status for outcome in finished.outcomes] == ["rendered", "failed", "rendered"]
    assert "song-1.wav: is not sound that can be read" in finished.outcomes[1].reason
    assert made.digests().items() < usual.digests().items()
    assert finished.outcomes[0].out == str(made.folder / "frames" / "song-0.h5")


def test_a_worker_killed_half_way_leaves_its_song_to_another(season: Make, dask: Cluster) -> None:
    made, usual = season(4, seconds=40.0), season(4, "usual", seconds=40.0)
    run_batch(usual.setlist, workers=2)
    victim = dask.processes[-1]
    begun = threading.Event()

    def say(line: str) -> None:
        if line.startswith("rendered"):
            begun.set()

    def kill() -> None:
        begun.wait(300)
        victim.kill()

    killer = threading.Thread(target=kill)
    killer.start()
    finished = run_batch(made.setlist, cluster=dask.address, say=say)
    killer.join()
    assert victim.wait(300) < 0
    assert finished.all_well, finished
    assert made.digests() == usual.digests()


@pytest.mark.parametrize(("how", "fall_back"), [(signal.SIGKILL, False), (signal.SIGSTOP, True)])
def test_a_scheduler_that_is_lost_half_way(
    season: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, how: signal.Signals, fall_back: bool
) -> None:
    """Killed, or there but silent as a machine without power: what is finished is kept, and that is said."""
    monkeypatch.setattr(cluster, "ASK", 1)
    monkeypatch.setattr(cluster, "ANSWER", 2)
    (tmp_path / "dask").mkdir()
    lone = Cluster(tmp_path / "dask")
    told: list[str] = []

    def say(line: str) -> None:
        told.append(line)
        if line.startswith("rendered") and lone.processes[0].poll() is None:
            lone.processes[0].send_signal(how)

    try:
        lone.add_worker()
        lone.wait_for(1)
        made = season(6, seconds=20.0)
        finished = run_batch(made.setlist, workers=1, cluster=lone.address, fall_back_local=fall_back, say=say)
    finally:
        lone.end()
    if fall_back:
        assert finished.all_well, finished
        assert any(line.startswith(f"lost        the Dask scheduler at '{lone.address}'") for line in told)
        return
    kept = [outcome for outcome in finished.outcomes if outcome.status == "rendered"]
    lost = [outcome for outcome in finished.outcomes if outcome.status == "failed"]
    assert kept
    assert len(kept) + len(lost) == 6
    assert {outcome.reason for outcome in lost} == {
        f"the Dask scheduler at '{lone.address}' was lost. Start it and run the batch again, or add --fall-back-local"
    }
    assert all(Path(outcome.out).is_file() for outcome in kept)


def test_a_scheduler_that_falls_silent_before_anything_is_begun(
    season: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What Dask asks all workers has no limit of time; the batch has."""
    monkeypatch.setattr(cluster, "MEET", 3)
    lone, told, usual = Cluster(tmp_path), list[str](), cluster._is_shared

    def ask(*arguments: object) -> bool:
        lone.processes[0].send_signal(signal.SIGSTOP)
        return usual(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(cluster, "_is_shared", ask)
    monkeypatch.setattr(cluster, "_check_workers", lambda client: None)
    try:
        lone.add_worker()
        lone.wait_for(1)
        made = season(1)
        finished = run_batch(made.setlist, workers=1, cluster=lone.address, fall_back_local=True, say=told.append)
    finally:
        lone.end()
    assert finished.all_well, finished
    assert any(line.startswith(f"lost        the Dask scheduler at '{lone.address}'") for line in told)


def test_what_a_library_logs_is_silent_and_loud_again_afterwards(caplog: pytest.LogCaptureFixture) -> None:
    """Those below have levels of their own, as Dask sets them."""
    below = logging.getLogger("noisy.inner")
    below.setLevel(logging.WARNING)
    with cluster._silent("noisy"):
        below.error("lost")
    below.error("found")
    assert [record.message for record in caplog.records] == ["found"]


def test_an_address_where_nobody_answers(season: Make, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "PATIENCE", 1)
    made = season(1)
    with pytest.raises(EavesongError, match=r"no Dask scheduler answers at 'tcp://127\.0\.0\.1:9'\n    Start one"):
        run_batch(made.setlist, cluster="tcp://127.0.0.1:9")


def test_a_scheduler_without_workers(season: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "PATIENCE", 1)
    alone = Cluster(tmp_path)
    try:
        with pytest.raises(EavesongError, match=r"has no workers\n    Start some: dask worker tcp://"):
            run_batch(season(1).setlist, cluster=alone.address)
    finally:
        alone.end()


def test_workers_of_another_version_are_refused(season: Make, dask: Cluster, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("eavesong.render.origin.made_by", lambda *engine: "0" * 64)
    with pytest.raises(EavesongError, match=r"has another version of eavesong\n    Install there"):
        run_batch(season(1).setlist, cluster=dask.address)


def test_a_parcel_holds_all_that_a_task_names(season: Make, tmp_path: Path) -> None:
    made = season(1)
    show, house = made.folder / "two.show.toml", made.folder / "hut.toml"
    (made.folder / "own.toml").write_text(
        'title = "Own"\nabout = "x"\ncode = """\nlevel = x\ncolour = hsl(0, 1, 1)\n"""'
    )
    show.write_text(show.read_text() + '[[cue]]\neffect = "own.toml"\n')
    (made.folder / "bush.csv").write_text("x,y,z\n0,0,0\n1,1,1\n")
    house.write_text(house.read_text() + '[[prop]]\nname = "bush"\nshape = "points"\nfile = "bush.csv"\n')
    plan = plan_batch(made.setlist)
    parcel = packed(plan.tasks[0], plan.shows[plan.tasks[0].show])
    assert sorted(parcel.files) == [
        "bush.csv", "hut.toml", "own.toml", "song-0.beats", "song-0.sections", "song-0.wav", "two.show.toml",
    ]  # fmt: skip
    there = unpacked(parcel, tmp_path / "elsewhere")
    assert Path(there.song).read_bytes() == (made.folder / "song-0.wav").read_bytes()
    assert Path(there.layout).parent == tmp_path / "elsewhere"

"""The CID: made once, kept, and never in the way."""

import uuid
from pathlib import Path

import pytest

from eavesong.playback.identity import cid_file, cid_of, installation_cid


def test_it_stays_the_same() -> None:
    # E1.31-2018, 5.6: a CID is a UUID (RFC 4122) that a component keeps for its life.
    first = installation_cid()
    assert first.version == 4
    assert installation_cid() == first
    assert cid_file().read_text() == f"{first}\n"


def test_a_spoilt_file_is_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "cid"
    path.write_text("not a uuid")
    made = installation_cid(path)
    assert uuid.UUID(path.read_text().strip()) == made


def test_where_nothing_can_be_kept_it_is_the_same_each_time(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    nowhere = tmp_path / "file" / "cid"
    assert installation_cid(nowhere) == installation_cid(nowhere)
    assert installation_cid(nowhere).version == 5


def test_two_installations_differ(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    assert installation_cid(tmp_path / "one") != installation_cid(tmp_path / "two")


def test_each_source_of_a_computer_has_its_own_and_keeps_it() -> None:
    # E1.31-2018, 5.6: a CID tells one source from another.
    cids = [cid_of(role, number) for role in ("play", "identify") for number in (1, 2, 3)]
    assert len({*cids, installation_cid()}) == 7
    assert [cid_of(role, number) for role in ("play", "identify") for number in (1, 2, 3)] == cids


def test_homes_that_computers_share(monkeypatch: pytest.MonkeyPatch) -> None:
    here = cid_of("play", 1)
    monkeypatch.setattr("platform.node", lambda: "the-other-computer")
    assert cid_of("play", 1) != here

"""The CID: made once, kept, and never in the way."""

import uuid
from pathlib import Path

import pytest

from eavesong.playback.identity import cid_file, companion_cid, installation_cid


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


def test_a_companion_differs_and_stays() -> None:
    cid = uuid.uuid4()
    assert companion_cid(cid, "identify") == companion_cid(cid, "identify") != cid

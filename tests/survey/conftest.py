"""The plain house, surveyed: its text and photo in a folder, and what is known of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from eavesong.cli import main
from eavesong.survey.camera import Lens
from eavesong.survey.known import Known
from survey_houses import SIX, House, camera, known_of, plain_house, survey_text, truth_of
from survey_photo import as_jpeg, photo_of


@dataclass(frozen=True)
class Plain:
    """The plain house as somebody photographed and measured it."""

    house: House
    lens: Lens
    known: Known
    truth: np.ndarray


@pytest.fixture(scope="session")
def plain() -> Plain:
    house, rng = plain_house(), np.random.default_rng(5)
    lens = camera(house, 75, 12, rng)
    known = known_of(house, [lens], SIX, rng, exif=True)
    return Plain(house, lens, known, truth_of(house))


@pytest.fixture(scope="session")
def surveyed(plain: Plain, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with ``house.survey.toml`` and ``house.jpg``; to be read only."""
    folder = tmp_path_factory.mktemp("surveyed")
    (folder / "house.jpg").write_bytes(as_jpeg(photo_of(plain.house, plain.lens), plain.lens))
    (folder / "house.survey.toml").write_text(survey_text(plain.house, plain.known, SIX, ["house.jpg"]))
    return folder


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    code: int
    out: str
    err: str


@pytest.fixture
def eavesong(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    """Run a command line as a user would, without the cost of a process."""

    def run(*arguments: object) -> Ended:
        with pytest.raises(SystemExit) as end:
            main([str(argument) for argument in arguments])
        captured = capsys.readouterr()
        return Ended(int(end.value.code or 0), captured.out, captured.err)

    return run

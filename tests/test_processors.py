"""Processors are counted as they are granted."""

import os

import pytest

from eavesong.processors import processors


def test_only_those_that_are_granted_count(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 64)
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: {3, 5}, raising=False)
    assert processors() == 2
    monkeypatch.delattr(os, "sched_getaffinity")
    assert processors() == 64
    monkeypatch.setattr(os, "cpu_count", lambda: None)
    assert processors() == 1

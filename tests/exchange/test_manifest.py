"""``pack.toml`` and the README."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from eavesong.exchange.manifest import Manifest, PackedSong, manifest_text, readme

LETTERS = st.text(st.characters(exclude_categories=["Cc", "Cs"]), max_size=40)


def made(**changes):
    song = PackedSong(name="lantern walk", seconds=185.0, sha256="0" * 64)
    return Manifest(
        **{"format": 1, "title": "Winter", "show": "a.show.toml", "events": "heard", "song": song, **changes}
    )


@given(LETTERS, LETTERS, st.lists(LETTERS, max_size=3))
def test_the_text_says_all_of_it(title, licence, credits):
    manifest = made(title=title, licence=licence, credits=tuple(credits))
    tables = tomllib.loads(manifest_text(manifest))
    assert Manifest.model_validate(tables | {"title": title}) == manifest


@pytest.mark.parametrize("changes", [{"format": 2}, {"events": "guessed"}, {"title": "a\x1b[2J"}, {"more": 1}])
def test_what_is_refused(changes):
    with pytest.raises(ValidationError):
        made(**changes)


def test_minutes_are_said_as_people_say_them():
    assert "lantern walk (3:05)" in readme(made(), picture=False, files=[])
    assert "not said: ask" in readme(made(), picture=False, files=[])
    assert "filmstrip" in readme(made(), picture=True, files=[])

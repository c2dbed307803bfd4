"""Traces whose truth is known, and a song of our own with a show."""

import pytest

from copies import made_grid, made_trace


@pytest.fixture
def trace():
    return made_trace()


@pytest.fixture
def grid():
    return made_grid()


@pytest.fixture(scope="session")
def packed(tmp_path_factory):
    """A folder with a song of 24 seconds, its show and the pack of both."""
    from eavesong.demo.songs import invent, make_songs
    from eavesong.exchange import pack

    folder = tmp_path_factory.mktemp("packed")
    song = make_songs(folder, (invent(2, 24.0),))[0]
    code = 'code = """\nlevel = 1\ncolour = palette(x)\n"""\n'
    (folder / "own.toml").write_text(f'title = "Own"\nabout = "As bright as it can be."\n{code}')
    (folder / "a.show.toml").write_text(
        f'title = "Winter"\nsong = "{song.path.name}"\nlicence = "CC BY 4.0"\ncredits = "Ada Example"\n\n'
        '[[cue]]\neffect = "plain"\nbars = [1, 5]\n\n[[cue]]\neffect = "own.toml"\nbars = [5, 9]\n'
    )
    pack(folder / "a.show.toml", folder / "a.pack.zip", picture=False)
    return folder, song

"""Only what changed is computed, and the frames are bit for bit those of a full render."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from eavesong.errors import FramesError
from eavesong.frames import Frames, open_frames
from eavesong.frames.encode import Chunk
from eavesong.render import Order, render
from eavesong.retarget import retarget
from street import PROPS, SHOW, Street, house_text


@pytest.fixture(scope="module")
def street(tmp_path_factory: pytest.TempPathFactory) -> Street:
    return Street(tmp_path_factory.mktemp("street"))


def changed(name: str, old: str, new: str) -> dict[str, str]:
    assert old in PROPS[name]
    return PROPS | {name: PROPS[name].replace(old, new)}


@pytest.mark.parametrize(
    ("props", "computed"),
    [
        (PROPS, ()),
        (changed("fir", "[5, 0, 1]", "[5.5, 0, 1]"), ("fir",)),
        (changed("arch", "pixels = 20", "pixels = 21"), ("arch",)),
        (changed("gutter", '["roofline"]', '["ring"]'), ("gutter",)),
        # What lights the ring reads places along its wire only, so it may hang elsewhere.
        (changed("ring", "[4, 2, 0]", "[3, 3, 1]"), ()),
        ({"fir": PROPS["fir"], **PROPS}, ()),  # the same props in another order
        ({name: PROPS[name] for name in ("gutter", "ring")}, ()),
        ({**PROPS, "new": PROPS["arch"].replace("[2, 0, 2]", "[4, 0, 2]")}, ("new",)),
        ({"arc": PROPS["arch"], **{name: PROPS[name] for name in ("gutter", "fir", "ring")}}, ()),  # renamed
    ],
)  # fmt: skip
def test_only_what_changed_is_computed(street: Street, props: dict[str, str], computed: tuple[str, ...]) -> None:
    done = street.retargeted(house_text(props))
    assert done.misfit == ""
    assert done.computed == computed


@pytest.mark.parametrize(
    ("order", "more", "computed"),
    [
        ("GRB", "", 0),
        ("BRG", "universe = 9\nnull_pixels = 3", 0),
        ("RGB", "brightness = 0.5", 4),  # other bytes: they have to be computed
        ("RGB", "gamma = 2.2", 4),
        ("RGBW", "", 4),
    ],
)
def test_another_patch(street: Street, order: str, more: str, computed: int) -> None:
    assert len(street.retargeted(house_text(PROPS, order, more)).computed) == computed


@pytest.mark.parametrize(
    ("above", "below", "computed"),
    [
        ('unlit = "fir"\n', "", {"fir"}),
        ("", '[palettes]\n"warm white" = "gold"\n', {"gutter", "arch", "ring", "fir"}),
        ("", '[palettes]\nholly = "gold"\n', set()),  # no cue asks for it
    ],
)
def test_what_a_house_wishes(street: Street, above: str, below: str, computed: set[str]) -> None:
    assert set(street.retargeted(above + house_text(PROPS) + below).computed) == computed


def test_a_new_patch_compiles_and_samples_nothing(street: Street, monkeypatch: pytest.MonkeyPatch) -> None:
    new = street.layout("patched.toml", house_text(PROPS, "GRB"))

    def refuse(*what: object, **more: object) -> None:
        raise AssertionError("something was rendered")

    monkeypatch.setattr("eavesong.engines.draw", refuse)
    done = retarget(street.show, street.old, new, street.folder / "patched.h5", frames=street.frames)
    assert done.copied_pixels == 144


CHANGES = st.fixed_dictionaries(
    {},
    optional={
        "moved": st.sampled_from(["gutter", "arch", "ring", "fir"]),
        "gone": st.sampled_from(["gutter", "arch", "ring", "fir"]),
        "order": st.sampled_from(["GRB", "BGR"]),
        "more": st.sampled_from(["brightness = 0.25", "null_pixels = 2"]),
        "turned": st.booleans(),
    },
)


@settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(change=CHANGES)
def test_any_mixture_of_changes_gives_the_bytes_of_a_full_render(street: Street, change: dict[str, Any]) -> None:
    props = dict(PROPS)
    if name := change.get("moved"):
        props[name] = props[name].replace("at = [", "at = [0.") if "at = [0" not in props[name] else props[name]
    if len(props) > 1 and (gone := change.get("gone")):
        del props[gone]
    if change.get("turned"):
        props = dict(reversed(props.items()))
    street.retargeted(house_text(props, change.get("order", "RGB"), change.get("more", "")))


def test_rate_and_range_of_the_old_frames_are_kept(street: Street) -> None:
    part = street.folder / "part.h5"
    render(Order.of(street.show, street.old, frame_rate=25.0, start=0.5, stop=1.5), part)
    new, out, full = (street.folder / name for name in ("new.toml", "part-new.h5", "part-full.h5"))
    new.write_text(house_text(changed("fir", "[5, 0, 1]", "[4, 0, 1]")))
    done = retarget(street.show, street.old, new, out, frames=part)
    render(Order.of(street.show, new, frame_rate=25.0, start=0.5, stop=1.5), full)
    assert done.computed == ("fir",)
    assert out.read_bytes() == full.read_bytes()


@pytest.mark.parametrize(
    ("make", "misfit"),
    [
        ({"props": ["arch"]}, "they hold only arch"),
        ({"soften": True}, "they are softened, and how bright a prop may be hangs on all the others"),
    ],
)
def test_frames_that_are_not_whole_are_of_no_use(street: Street, make: dict[str, Any], misfit: str) -> None:
    frames = street.folder / "odd.h5"
    render(Order.of(street.show, street.old, **make), frames)
    new = street.layout("new.toml", house_text(PROPS, "GRB"))
    done = retarget(street.show, street.old, new, street.folder / "out.h5", frames=frames)
    assert done.misfit.startswith(misfit)
    assert len(done.computed) == 4


def test_frames_of_another_show_house_or_version_are_of_no_use(
    street: Street, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    new = street.layout("new.toml", house_text(PROPS, "GRB"))
    other = street.layout("other.toml", house_text(changed("fir", "4\n", "5\n")))
    again = street.folder / "again.show.toml"
    again.write_text(SHOW + "# changed\n")

    def misfit(show: Path, old: Path) -> str:
        return retarget(show, old, new, tmp_path / "out.h5", frames=street.frames).misfit

    assert misfit(street.show, street.old) == ""
    assert misfit(again, street.old) == "the show is not what they were made from"
    assert misfit(street.show, other) == "the old layout is not what they were made from"
    monkeypatch.setattr("eavesong.render.origin.made_by", lambda *engine: "0" * 64)
    assert misfit(street.show, street.old) == "another version of eavesong made them"


def test_damaged_frames_are_not_copied(street: Street, tmp_path: Path) -> None:
    frames = tmp_path / "damaged.h5"
    data = bytearray(street.frames.read_bytes())
    with open_frames(street.frames) as file:
        where = file.frames.dataset.id.get_chunk_info(0).byte_offset
    data[where + 50] ^= 255
    frames.write_bytes(data)
    new = street.layout("new.toml", house_text(PROPS, "GRB"))
    with pytest.raises(FramesError, match="do not fit their checksum"):
        retarget(street.show, street.old, new, tmp_path / "out.h5", frames=frames)
    assert not (tmp_path / "out.h5").exists()


@pytest.mark.parametrize("rest", ["even", "noise"])
def test_of_a_large_house_columns_are_copied_as_they_lie(
    tmp_path: Path, rest: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Chunks in which nothing was drawn are not even unpacked, be they compressed or stored as they are."""
    street = Street(tmp_path)
    effect = "gradient" if rest == "even" else "specks"
    street.show.write_text(f'song = "song.wav"\n[[cue]]\neffect = "{effect}"\n')
    wide = 'shape = "grid"\nat = [2, 1, 1]\ncolumns = 120\nrows = 120\nwidth = 4\nheight = 3'
    props = {"wall": wide, "fir": PROPS["fir"], "second": wide.replace("[2, 1, 1]", "[6, 1, 1]")}
    street.old = street.layout("old.toml", house_text(props))
    render(Order.of(street.show, street.old, stop=0.5), street.frames)
    new = street.layout("new.toml", house_text(props | {"fir": props["fir"].replace("[5, 0, 1]", "[4, 0, 1]")}))
    full, out = tmp_path / "full.h5", tmp_path / "out.h5"
    render(Order.of(street.show, new, stop=0.5), full)
    unpacked: list[Chunk] = []

    def watched(frames: Frames, chunk: Chunk) -> np.ndarray:
        unpacked.append(chunk)
        return looked_at(frames, chunk)

    looked_at = Frames.unpacked
    monkeypatch.setattr(Frames, "unpacked", watched)
    done = retarget(street.show, street.old, new, out, frames=street.frames)
    assert done.computed == ("fir",)
    assert same_frames(out, full)
    with open_frames(out) as made:
        fir, width = [row for row in made.patch if row.prop == "fir"], made.frames.dataset.chunks[1]
        sent = {row.first_channel + channel for row in fir for channel in range(row.channel_count)}
        rows = -(-made.frame_count // made.chunk_frames)
        assert len(unpacked) == rows * len({channel // width for channel in sent})
    once = out.read_bytes()
    retarget(street.show, street.old, new, out, frames=street.frames)
    assert out.read_bytes() == once


def same_frames(one: Path, other: Path) -> bool:
    """Whether two files are sound and say the same, wherever in them it lies."""
    with open_frames(one) as a, open_frames(other) as b:
        a.verify()
        same = (a.frames[:] == b.frames[:]).all() and (a.places == b.places).all() and (a.metres == b.metres).all()
        told = ("title", "texts", "hashes", "props", "patch", "song", "song_path", "start", "law", "origin")
        return bool(same) and all(getattr(a, name) == getattr(b, name) for name in told)

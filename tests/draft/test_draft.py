"""A whole draft: it loads, lights everybody, is the same again, and holds to its promises on any house."""

import re
import tomllib
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import flashing
from drafted import events_of, grid_of, signals_of
from eavesong.check import check
from eavesong.check.cues import cue_findings
from eavesong.colours import parse_colour
from eavesong.draft import Taste, draft, kept_cues
from eavesong.draft.form import form_of
from eavesong.draft.measure import light_at
from eavesong.draft.moods import hue_of
from eavesong.draft.safe import faint
from eavesong.files import shipped
from eavesong.layout import layout_from_points, load_layout
from eavesong.music import Event, Events
from eavesong.scene.place import finder_for, place_cues
from eavesong.show import load_show

HOUSES = sorted(path.name for path in shipped("layouts").glob("*.toml"))


def show_of(text, folder):
    path = folder / "song.show.toml"
    path.write_text(text)
    return load_show(path)


def test_the_same_input_gives_the_same_bytes_and_another_seed_another_show(song, house):
    def written(seed):
        return draft(song, house, Taste(seed=seed), "Song", "song.ogg")

    assert written(1) == written(1)
    assert written(1) != written(2)


@pytest.mark.parametrize("seed", range(4))
def test_a_draft_is_a_show_that_loads_and_is_not_too_long(song, house, seed, tmp_path):
    show = show_of(draft(song, house, Taste(seed=seed), "Song", "song.ogg"), tmp_path)
    assert 10 < len(show.cues) <= 60
    assert show.title == "Song"
    assert all(cue.name for cue in show.cues)


@pytest.mark.parametrize("name", HOUSES)
@pytest.mark.parametrize("known", [True, False])
def test_no_cue_is_dark_on_any_house(song, house, name, known, tmp_path):
    """Drafted for the demo's house, or for none, and put on others."""
    show = show_of(draft(song, house if known else None, Taste(), "Song", "song.ogg"), tmp_path)
    placed = place_cues(show, load_layout(shipped("layouts") / name), song.grid)
    assert all(cue.props and cue.spans for cue in placed)


def test_the_calmest_and_palettes_that_are_asked_for(song, house, tmp_path):
    wishes = Taste(palettes=(("#c00010", "#12b83a"), ("gold",)), calm=1.0)
    show = show_of(draft(song, house, wishes, "Song", "song.ogg"), tmp_path)
    assert show.cues


def test_a_house_of_one_colour_gets_a_show_in_it(song, house):
    """What would be dim in blue is dim in its own colour; else all of it would come out at full light there."""
    candle = replace(house, palettes={"all": (parse_colour("#ffb46b"),)})
    asked = draft(song, house, Taste(palettes=(("#ffb46b",),)), "Song", "song.ogg")
    drafted = draft(song, candle, Taste(), "Song", "song.ogg")
    assert set(re.findall("#[0-9a-f]{6}", drafted)) == set(re.findall("#[0-9a-f]{6}", asked)) | {"#ffb46b"}
    assert 'deep = "#ffb46b", bright = "#ffb46b"' in drafted


@pytest.mark.parametrize(
    "plan", [(("A", "steady", 2),), (("A", "", 40),), (("verse 1", "quiet", 3), ("x" * 80, "", 4))]
)
@pytest.mark.parametrize("level", [0.0, 0.7])
def test_modest_songs_get_modest_shows(plan, level, tmp_path):
    grid = grid_of(plan=plan)
    form = form_of(grid, signals_of(grid, {label: level for label, _, _ in plan}), Events())
    one = layout_from_points({"string": [[x / 10, 1.0, 0.0] for x in range(20)]})
    for layout in (None, one):
        show = show_of(draft(form, layout, Taste(), 'A "song"', "song.ogg"), tmp_path)
        assert show.title == 'A "song"'
        placed = place_cues(show, one, grid)
        assert all(cue.props for cue in placed)


def test_what_is_kept_takes_the_place_of_what_was_drafted(song, house, tmp_path):
    first = draft(song, house, Taste(seed=1), "Song", "song.ogg")
    marked = first.replace('effect = "drum"', 'effect = "drum"\nkeep = true', 1)
    path = tmp_path / "old.show.toml"
    path.write_text(marked)
    kept = kept_cues(path)
    again = draft(song, house, Taste(seed=7, keep=kept), "Song", "song.ogg")
    written_out = kept[0].beside({kept[0].palette: "others"})  # this draft has another palette of that name
    assert "\n".join(written_out.lines) in again
    show_of(again, tmp_path)
    moved = replace(written_out, name="of my own", bar=None)
    assert "\n".join(moved.lines) in draft(song, house, Taste(seed=7, keep=(moved,)), "Song", "song.ogg")


LETTERS = st.sampled_from("ABCD")
PLANS = st.lists(st.tuples(LETTERS, st.sampled_from(["quiet", "steady", "high", "break", ""]), st.integers(2, 12)),
                 min_size=1, max_size=6)  # fmt: skip
LOUDNESS = st.fixed_dictionaries(dict.fromkeys("ABCD", st.floats(0, 1)))


def form_with(plan, levels, tempo, strokes):
    """A song of this plan with a stroke, and something that begins, every ``strokes`` of a beat."""
    grid = grid_of(tempo, plan)
    signals = signals_of(grid, levels)
    times = np.arange(0, grid.duration, strokes * 60 / tempo)
    onset = np.zeros(len(signals.onset), np.float16)
    onset[np.minimum((100 * times).astype(int), len(onset) - 1)] = 1
    events = events_of(grid).items + tuple(
        Event(float(at), ("low", "middle")[number % 2], 1.0) for number, at in enumerate(times)
    )
    return form_of(grid, replace(signals, onset=onset), Events.of(events))


@settings(max_examples=5, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(PLANS, LOUDNESS, st.floats(50, 200), st.integers(0, 99), st.floats(0, 1))
def test_any_song_gets_one_show_that_people_can_read(house, plan, levels, tempo, seed, calm):
    form, wishes = form_with(plan, levels, tempo, 0.5), Taste(seed=seed, calm=calm)
    text = draft(form, house, wishes, "Song", "song.ogg")
    assert text == draft(form, house, wishes, "Song", "song.ogg")
    assert text.count("[[cue]]") <= 60 * max(1.0, form.grid.duration / 240)


@settings(max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.floats(60, 190), st.sampled_from([0.25, 0.5, 1.0]), st.integers(0, 99))
def test_no_place_flashes_however_quick_the_strokes(house, tempo, strokes, seed):
    """Counted by the definitions of WCAG 2.2 on every pair of frames of every second."""
    plan = (("A", "steady", 4), ("B", "high", 4))
    form = form_with(plan, {"A": 0.5, "B": 0.9}, tempo, strokes)
    text = draft(form, house, Taste(seed=seed), "Song", "song.ogg")
    light = light_at(text, form, house, np.arange(0, form.grid.duration, 1 / 20), 40)
    assert flashing.changes(light, 20).max() <= flashing.LIMIT


def test_nothing_is_dark_by_mistake(song, house, tmp_path):
    """`check` finds no cue that lights nothing, and no prop that no cue lights."""
    from eavesong.scene import set_scene

    show = show_of(draft(song, house, Taste(), "Song", "song.ogg"), tmp_path)
    report = check(set_scene(show, house, song.grid))
    assert not [finding for finding in report.findings if finding.weight == "dark"]


def shifted(form, seconds, end=0.0):
    """The same song, all of its beats later; and longer or shorter."""
    grid = form.grid
    sections = tuple(replace(each, start=each.start + seconds, end=each.end + seconds) for each in grid.sections)
    times = tuple(time + seconds for time in grid.times)
    later = replace(grid, times=times, sections=sections, duration=grid.duration + end)
    return form_of(later, form.signals, form.events)


def test_the_first_frame_is_lit_where_the_first_beat_comes_a_breath_later(song, house, tmp_path):
    """5 ms are less than a frame, but the frame at 0 s would be before all cues, and is what a page shows first."""
    late = shifted(song, 0.0049)
    show = show_of(draft(late, house, Taste(), "Song", "song.ogg"), tmp_path)
    placed = place_cues(show, house, late.grid)
    lit = [cue for cue in placed if cue.gives_light and not cue.blend.startswith("color")]
    assert max(cue.envelope(np.array([0.0])).strength[0] for cue in lit) > 0
    assert all(start >= 0 for cue in show.cues for start, _ in cue.bars or ())


@pytest.mark.parametrize("end", [-0.5, 0.0, 0.012, 0.3])
def test_the_last_cues_end_with_the_song(song, house, tmp_path, end):
    """Whether its file ends within the last bar, with it or a few samples later; a bar more begins in the last."""
    longer = shifted(song, 0.0, end)
    show = show_of(draft(longer, house, Taste(), "Song", "song.ogg"), tmp_path)
    assert max(last for cue in show.cues for _, last in cue.bars or ()) == 49 + (end > 0.02)
    finder = finder_for(show, house)
    for cue, placed in zip(show.cues, place_cues(show, house, longer.grid), strict=True):
        assert not [found for found in cue_findings(cue, placed, finder, longer.grid) if "after" in found[1]]


def test_a_show_in_a_palette_that_was_asked_for_wears_no_other_hue(song):
    """Amber alone: strokes, sparks and windows too. Hues are those of OKLCH (CSS Color 4)."""
    text = draft(song, None, Taste(palettes=(("#ffb060",),)), "Song", "song.ogg")
    hues = {colour: hue_of(colour) for colour in set(re.findall("#[0-9a-f]{6}", text))}
    asked = hue_of("#ffb060")
    assert {colour: hue for colour, hue in hues.items() if hue is not None and abs(hue - asked) > 12} == {}
    assert {"accent = [", 'bright = "'} <= set(re.findall(r'accent = \[|bright = "', text))


def test_a_house_without_holly_gets_none_in_a_show_that_was_asked_for_in_holly(song, house, tmp_path):
    """Every palette of the draft that a cue wears was made from one of the two; what was deep stays so."""
    asked = Taste(palettes=(("#c00010", "#12b83a"), ("#d3e0e9", "#0b2a6b")), called=("holly", "frost"))
    show = show_of(draft(song, house, asked, "Song", "song.ogg"), tmp_path)
    blue, lime = (((0.0, parse_colour(name)),) for name in ("blue", "lime"))
    wished = replace(house, palettes={"holly": blue, "frost": lime})
    placed = place_cues(show, wished, song.grid)
    worn = {own.palette: cue.palette[0][1] for own, cue in zip(show.cues, placed, strict=True)}
    lights = {name: light for name, light in worn.items() if name not in {None, "brighter", "black"}}
    assert all(np.count_nonzero(light) == 1 and not light[0] for light in lights.values())
    assert max(lights["deep"]) < 0.5 * max(lights["a"])
    flames = [cue.parameters[end] for cue in placed if cue.effect.title == "Wick" for end in ("deep", "bright")]
    assert flames
    assert all(flame[:2] == (0, 0) for flame in flames)


def test_white_that_was_asked_for_rolls_as_faintly_as_white_has_to(song):
    """Its light counts in full (relative luminance, WCAG 2.2), that of the usual amber in part."""
    text = draft(song, None, Taste(palettes=(("white",),)), "Song", "song.ogg")
    show = tomllib.loads(text)
    (roll,) = (cue for cue in show["cue"] if cue["effect"] == "roll")
    assert roll["opacity"] <= 0.4 * faint(*show["palettes"]["accent"]) + 0.01  # two decimal places

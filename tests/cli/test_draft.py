"""``eavesong draft``: a show file, cues that are kept, and clear words for what cannot be."""

import re
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from eavesong.cli import group
from eavesong.draft.moods import choices, nearest_scheme
from eavesong.errors import OutputError
from eavesong.palettes import hexes
from eavesong.show import load_show
from lamps import write_click

HOUSE = 'title = "A string"\n[[prop]]\nname = "string"\nshape = "line"\nfrom = [0, 2, 0]\nto = [4, 2, 0]\npixels = 40\n'


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A song of eight seconds, one of silence, and a house of one prop."""
    made = tmp_path_factory.mktemp("draft")
    write_click(made / "song.wav", [0.5 * beat for beat in range(16)])
    (made / "house.toml").write_text(HOUSE)
    return made


def run(*arguments):
    return CliRunner().invoke(group, ["draft", *map(str, arguments)], catch_exceptions=False)


def test_a_show_for_a_short_song_and_a_house_of_one_prop(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    done = run(folder / "song.wav", "--layout", folder / "house.toml", "--out", out)
    assert done.exit_code == 0
    show = load_show(out)
    assert show.cues
    assert show.song.resolve() == (folder / "song.wav").resolve()


def test_nothing_is_replaced_unasked(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    out.write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        run(folder / "song.wav", "--out", out)
    assert out.read_text() == "mine"
    assert run(folder / "song.wav", "--out", out, "--overwrite").exit_code == 0
    with pytest.raises(OutputError, match="is there already"):  # a draft is somebody's at once
        run(folder / "song.wav", "--out", out)
    with pytest.raises(OutputError, match="is a folder"):
        run(folder / "song.wav", "--out", tmp_path)


def test_cues_are_kept(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    run(folder / "song.wav", "--out", out)
    mine = '[[cue]]\nname = "mine"\neffect = "swell"\nkeep = true'
    before = f"{out.read_text()}\n{mine}\n"
    out.write_text(before)
    done = run(folder / "song.wav", "--out", out, "--keep", out, "--seed", 3)
    assert "1 of them kept" in done.output
    assert f"the whole show as it was is in {out}.before" in done.output
    assert out.with_name(f"{out.name}.before").read_text() == before
    assert mine in out.read_text()
    assert load_show(out).cues
    changed = out.read_text() + "# mine as well\n"
    out.write_text(changed)
    run(folder / "song.wav", "--out", out, "--keep", out)
    assert out.with_name(f"{out.name}.before").read_text() == before  # nothing that was put aside is lost
    assert out.with_name(f"{out.name}.before-2").read_text() == changed


def test_what_was_asked_for_is_asked_for_again_until_somebody_says_otherwise(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    run(folder / "song.wav", "--out", out, "--palette", "navy, gold", "--calm", 0.8)
    mine = '[[cue]]\nname = "mine"\neffect = "swell"\nkeep = true'
    out.write_text(out.read_text().replace('title = "Song"', 'title = "Our song"\nallow_flashes = true') + mine)
    first = load_show(out)
    done = run(folder / "song.wav", "--out", out, "--keep", out)
    assert "As it was asked for before: --palette 'navy, gold' --calm 0.8" in done.output
    again = load_show(out)
    assert again.palettes == first.palettes
    assert "Other colours than before" not in done.output
    assert again.title == "Our song"
    assert "\nallow_flashes = true\n" in again.text
    done = run(folder / "song.wav", "--out", out, "--keep", out, "--palette", "teal, white")
    assert "As it was asked for before: --calm 0.8" in done.output
    assert load_show(out).palettes != first.palettes


def test_a_draft_that_is_replaced_says_what_it_was_asked_for_with(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    run(folder / "song.wav", "--out", out, "--palette", "navy, gold", "--seed", 3)
    told = run(folder / "song.wav", "--out", out, "--overwrite", "--seed", 4).output
    assert "The one before was asked for with --palette 'navy, gold', which this one is not." in told
    assert "was asked for with" not in run(folder / "song.wav", "--out", out, "--overwrite", "--seed", 4).output


def test_palettes_that_were_changed_by_hand_are_told_as_others(folder, tmp_path):
    """Cues are kept, palettes are drafted: whoever changed some is told which, unless other colours are asked for."""
    out = tmp_path / "song.show.toml"
    run(folder / "song.wav", "--out", out)
    name, colours = next(iter(load_show(out).palettes.items()))
    mine = '[[cue]]\nname = "mine"\neffect = "swell"\nkeep = true'
    written = re.sub(rf"^{name} = .*$", f'{name} = ["teal"]', out.read_text(), count=1, flags=re.M)
    out.write_text(f"{written}\n{mine}\n")
    assert (
        f"Other colours than before in {name}. Where you had changed"
        in run(folder / "song.wav", "--out", out, "--keep", out).output
    )
    assert load_show(out).palettes[name] == colours
    out.write_text(f'{written}\n{mine}\npalette = "{name}"\n')
    told = run(folder / "song.wav", "--out", out, "--keep", out).output
    assert f"Kept with its colours written out, as the palette {name} is another now: 'mine'." in told
    again = run(folder / "song.wav", "--out", out, "--keep", out, "--palette", "teal, white")
    assert "Other colours than before" not in again.output


def test_kept_cues_and_colours_when_the_beats_have_changed(folder, tmp_path):
    """A bar of eight beats in place of two of four: what is kept stays at its bars, and that is told."""
    for name in ("song.wav", "house.toml"):
        shutil.copy(folder / name, tmp_path / name)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(16)))
    run(song, "--out", out)
    colours = load_show(out).palettes
    mine = '[[cue]]\nname = "mine"\neffect = "plain"\nbars = [2, 3]\nkeep = true\n'
    lettered = '[[cue]]\nname = "by letter"\neffect = "plain"\nsections = "A"\nkeep = true\n'
    out.write_text(f"{out.read_text()}\n{mine}{lettered}")
    before = run(song, "--out", out, "--keep", out).output
    assert "Kept at the bars" not in before
    assert "Kept by" not in before
    song.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 8 + 1}\n" for n in range(16)))
    told = run(song, "--out", out, "--keep", out).output
    assert "Kept at the bars that were written, which are others now, or may be: 'mine' (bar 2 begins at" in told
    assert "Move them" in told
    assert "Kept by" not in told  # it is what it was
    again = load_show(out).palettes
    assert all(again[name] == colours[name] for name in {*again} & {*colours})


def test_a_kept_cue_whose_section_is_another_part_by_now_is_told(folder, tmp_path):
    for name in ("song.wav", "house.toml"):
        shutil.copy(folder / name, tmp_path / name)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(16)))
    song.with_suffix(".sections").write_text("0\t2\tA\n2\t4\tB\n4\t8\tC\n")
    run(song, "--out", out)
    kept = '[[cue]]\nname = "mine"\neffect = "plain"\nsections = "C"\nkeep = true\n'
    out.write_text(f"{out.read_text()}\n{kept}")
    assert "Kept by" not in run(song, "--out", out, "--keep", out).output
    song.with_suffix(".sections").write_text("0\t2\tA\n2\t4\tC\n4\t8\tD\n")
    told = " ".join(run(song, "--out", out, "--keep", out).output.split())
    assert "section 'C' is another part of the song now: it was 0:04 to 0:08, and is 0:02 to 0:04." in told
    assert "Kept by its section, 'mine': section 'C'" in told
    assert "Most of what it lost is 'D' now." in told
    song.with_suffix(".sections").write_text("0\t2\tA\n2\t4\tC\n4\t8\tC\n")
    run(song, "--out", out, "--overwrite")
    out.write_text(f'{out.read_text()}\n{kept}turn = "last"\n')
    song.with_suffix(".sections").write_text("0\t2\tA\n2\t4\tC\n4\t8\tD\n")
    told = " ".join(run(song, "--out", tmp_path / "last.show.toml", "--keep", out).output.split())
    assert "'mine': section 'C', turn 'last', is another part of the song now: it was 0:04 to 0:08, and is 0:02" in told
    song.with_suffix(".sections").write_text("0\t2\tA\n2\t4\tVerse\n4\t8\tD\n")
    told = " ".join(run(song, "--out", out, "--keep", out).output.split())
    assert "Kept, and lights nothing, as the song has no such section: 'mine' (C). It has: A, Verse, D." in told


def test_kept_cues_by_bars_in_parts_that_are_others_now_are_told(folder, tmp_path):
    shutil.copy(folder / "song.wav", tmp_path)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(16)))
    sections = song.with_suffix(".sections")
    sections.write_text("0\t2\tA (quiet)\n2\t4\tB (steady)\n4\t6\tB (steady)\n6\t8\tC (high)\n")
    run(song, "--out", out)
    kept = '[[cue]]\nname = "{}"\neffect = "plain"\nbars = {}\nkeep = true\n'
    out.write_text(f"{out.read_text()}\n{kept.format('there', [3, 4])}\n{kept.format('elsewhere', [1, 2])}")
    again = tmp_path / "again.show.toml"
    assert "Kept" not in run(song, "--out", again, "--keep", out).output
    sections.write_text("0\t2\tA (quiet)\n2\t6\tB (steady)\n6\t8\tC (high)\n")
    told = run(song, "--out", again, "--keep", out, "--overwrite").output
    assert "others now: 'there' (no section begins at 0:04 now, where 'B' (steady) did: 'B' (steady) goes on" in told
    assert "'elsewhere'" not in told


def test_a_kept_cue_that_ends_where_a_changed_part_begins_is_not_in_it(folder, tmp_path):
    """Seconds are written in three digits, of bars that begin in between."""
    shutil.copy(folder / "song.wav", tmp_path)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".beats").write_text("".join(f"{n * 0.48237:.5f}\t{n % 4 + 1}\n" for n in range(16)))
    sections = song.with_suffix(".sections")
    sections.write_text("0\t1.929\tA (quiet)\n1.929\t3.858\tB (steady)\n3.858\t5.788\tC (high)\n5.788\t8\tD (quiet)\n")
    run(song, "--out", out)
    kept = '[[cue]]\nname = "{}"\neffect = "plain"\nbars = {}\nkeep = true\n'
    cues = "\n".join(kept.format(*each) for each in (("before", [2, 3]), ("inside", [3, 4]), ("after", [4, 5])))
    out.write_text(f"{out.read_text()}\n{cues}")
    sections.write_text(sections.read_text().replace("C (high)", "C (steady)"))
    told = run(song, "--out", tmp_path / "again.show.toml", "--keep", out).output
    assert "'inside' (" in told
    assert "'before' (" not in told
    assert "'after' (" not in told


def test_sections_that_begin_inside_a_bar_are_told(folder, tmp_path):
    shutil.copy(folder / "song.wav", tmp_path)
    song = tmp_path / "song.wav"
    song.with_suffix(".beats").write_text("".join(f"{n / 2}\t{n % 4 + 1}\n" for n in range(16)))
    song.with_suffix(".sections").write_text("0\t5.2\tverse\n5.2\t8\tchorus\n")
    told = run(song, "--out", tmp_path / "song.show.toml").output
    assert (
        "Begin inside a bar, and are drafted from the nearest one on: chorus at 0:05.20, 2.4 beats into bar 3." in told
    )


@pytest.mark.parametrize("usual", range(4))
def test_a_show_that_is_drafted_anew_keeps_its_scheme(usual):
    worn = {colour for each in choices((), 2) for colour in (each.main, each.beside, each.deep)}
    assert nearest_scheme(worn, usual) == 2
    assert nearest_scheme((), usual) == usual


@pytest.mark.parametrize(
    ("palette", "told"), [("navy, gold", "navy: drawn lighter"), ("#2040c0, gold", ""), ("black", "")]
)
def test_colours_that_are_drawn_lighter_are_told(folder, tmp_path, palette, told):
    said = run(folder / "song.wav", "--out", tmp_path / "song.show.toml", "--palette", palette).output
    assert told in said if told else "drawn lighter" not in said


def test_where_no_cue_is_kept_the_show_as_it_was_is(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    run(folder / "song.wav", "--out", out)
    before = out.read_text()
    told = run(folder / "song.wav", "--out", out, "--keep", out, "--seed", 2).output
    assert f"No cue of {out} says keep = true, so all of them are drafted anew." in told
    assert f"The whole show as it was is in {out}.before." in told
    assert out.read_text() != before == Path(f"{out}.before").read_text()
    other = run(folder / "song.wav", "--out", tmp_path / "other.show.toml", "--keep", out)
    assert "says keep = true" in other.output


def test_the_next_command_can_be_pasted_whatever_the_song_is_called(folder, tmp_path):
    song = tmp_path / "Midnight Snow.wav"
    song.write_bytes((folder / "song.wav").read_bytes())
    told = run(song).output
    assert f'render "{tmp_path / "Midnight Snow.show.toml"}"' in told
    assert f'--out "{tmp_path / "Midnight Snow.h5"}"' in told


def test_colours_are_names_of_palettes_or_colours(folder, tmp_path):
    out = tmp_path / "song.show.toml"
    asked = ("--palette", "holly", "--palette", "rgb(255, 217, 160), white")
    assert run(folder / "song.wav", "--out", out, *asked).exit_code == 0
    wrong = run(folder / "song.wav", "--out", out, "--palette", "holy", "--overwrite")
    assert wrong.exit_code == 2
    assert "holly" in wrong.output


def test_palettes_of_the_kept_show_come_before_others_of_their_name(folder, tmp_path):
    """The colour snow is nearly white, holly comes with eavesong; here both are the family's own, and blue."""
    shutil.copy(folder / "song.wav", tmp_path)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".sections").write_text("0\t4\tA\n4\t8\tB\n")
    run(song, "--out", out)
    blue = 'snow = ["#1030ff", "#30a0ff"]\nholly = ["#2040ff", "#60b0ff"]\n'
    out.write_text(out.read_text().replace("[palettes]\n", f"[palettes]\n{blue}"))
    told = run(song, "--out", out, "--keep", out, "--palette", "Snow", "--palette", "holly").output
    assert re.search(r"Palettes by part: (snow in A; holly in B|holly in A; snow in B)\n", told)
    for again in ("--keep", out), ("--keep", out, "--palette", "snow", "--palette", "holly"):
        first = load_show(out).palettes
        assert all(each[5:] > each[1:3] for name in ("a", "b") for each in hexes(first[name]))  # blue over red
        run(song, "--out", out, *again)
        assert load_show(out).palettes == first


@pytest.mark.parametrize(
    ("asked", "told"),
    [
        ("ourmux", "Did you mean 'ourmix'?"),
        ("zzzz", "song.show.toml: ourmix, snow."),
        ("snow, teal", "'snow' is a palette, and stands alone. Write --palette 'snow' .* The colour is #fffafa."),
        ("ourmix, teal", "'ourmix' is a palette, and stands alone."),
    ],
)
def test_what_is_no_palette_of_the_kept_show_is_told_with_those_that_are(folder, tmp_path, asked, told):
    out = tmp_path / "song.show.toml"
    out.write_text('[palettes]\nourmix = ["teal"]\nsnow = ["blue"]\n[[cue]]\neffect = "swell"\n')
    done = run(folder / "song.wav", "--out", tmp_path / "new.show.toml", "--keep", out, "--palette", asked)
    assert done.exit_code == 2
    assert re.search(told, done.output)


def test_a_palette_that_is_called_as_a_part_is_asked_for_again_by_its_colours(folder, tmp_path):
    """What parts wear is made of what was asked for: asked for in its place, it would be made over each time."""
    shutil.copy(folder / "song.wav", tmp_path)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".sections").write_text("0\t4\tGold\n4\t8\tB\n")
    run(song, "--out", out, "--palette", "gold")
    first = load_show(out).palettes
    again = run(song, "--out", out, "--keep", out).output
    assert "As it was asked for before: --palette '#ffd700'" in again
    assert load_show(out).palettes == first


def test_which_parts_wear_which_palette_is_told(folder, tmp_path):
    shutil.copy(folder / "song.wav", tmp_path)
    song, out = tmp_path / "song.wav", tmp_path / "song.show.toml"
    song.with_suffix(".sections").write_text("0\t4\tA\n4\t8\tB\n")
    told = run(song, "--out", out, "--palette", "holly", "--palette", "#ffd9a0, white").output
    assert re.search(
        r"  Palettes by part: (holly in A; '#ffd9a0, white' in B|holly in B; '#ffd9a0, white' in A)\n", told
    )
    assert "# Palettes by part: holly in " in load_show(out).text
    told = run(song, "--out", out, "--keep", out, "--palette", "holly", "--palette", "gold", "--palette", "navy").output
    assert re.search(r"  Worn by no part: \w+\. The song has 2 different parts, and a part wears one palette\.", told)
    assert "by part" not in run(song, "--out", out, "--overwrite", "--palette", "holly").output


@pytest.mark.parametrize(("option", "value"), [("--calm", "7"), ("--seed", "-1"), ("--seed", "many")])
def test_what_is_out_of_range_is_refused(folder, option, value):
    assert run(folder / "song.wav", option, value).exit_code == 2


def test_a_house_with_colours_of_its_own_is_told(folder, tmp_path):
    (tmp_path / "house.toml").write_text(HOUSE.replace('"A string"\n', '"A string"\n[palettes]\nall = "candle"\n'))
    asked = (folder / "song.wav", "--palette", "#ffd9a0, white")
    done = run(*asked, "--layout", tmp_path / "house.toml", "--out", tmp_path / "a.show.toml")
    assert "colours of its own in place of every palette" in done.output
    done = run(*asked, "--layout", folder / "house.toml", "--out", tmp_path / "b.show.toml")
    assert "colours of its own" not in done.output


def test_a_red_that_is_drawn_softer_is_told(folder, tmp_path):
    """Pure red light is all red; that of #ffd9a0 is less than half of it."""
    done = run(folder / "song.wav", "--palette", "red, #ffd9a0", "--out", tmp_path / "a.show.toml")
    assert "  red: drawn paler" in done.output
    done = run(folder / "song.wav", "--palette", "#ffd9a0, white", "--out", tmp_path / "b.show.toml")
    assert "drawn paler" not in done.output

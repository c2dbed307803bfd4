"""Knobs in a text: one value changes, and nothing else."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.errors import MisfitError
from eavesong.watch.edits import Edits, Turned, turned
from watched import SHOW

TURNS = [
    (Turned(0, "opacity", 0.25), lambda cues: cues[0]["opacity"], 0.25),
    (Turned(0, "parameters.strength", 1.0), lambda cues: cues[0]["parameters"]["strength"], 1),
    (Turned(0, "parameters.tint", "#102030"), lambda cues: cues[0]["parameters"]["tint"], "#102030"),
    (Turned(1, "parameters.beats", 8.0), lambda cues: cues[1]["parameters"]["beats"], 8),
    (
        Turned(1, "palette.1", "#00ff00", ("#201040", "#ff8000")),
        lambda cues: cues[1]["palette"],
        ["#201040", "#00ff00"],
    ),
    (Turned(1, "palette", "frost"), lambda cues: cues[1]["palette"], "frost"),
    (Turned(1, "fade_in", 1.5), lambda cues: cues[1]["fade_in"], {"bars": 1.5}),
    (Turned(1, "fade_out", 2.0), lambda cues: cues[1]["fade_out"], 2),
]


@pytest.mark.parametrize(("turn", "read", "value"), TURNS)
def test_a_turn_changes_one_value_and_keeps_every_other_line(turn, read, value):
    text = turned(SHOW, turn)
    assert read(tomllib.loads(text)["cue"]) == value
    before, after = SHOW.splitlines(), text.splitlines()
    assert len([line for line in after if line not in before]) == 1
    assert (
        [line for line in before if line.startswith("#") or "#" in line.split('"')[-1]]
        == [line for line in before if line in after and (line.startswith("#") or "#" in line.split('"')[-1])]
        or "strength" in turn.knob
        or "tint" in turn.knob
    )
    assert text.count("# half of it") == 1


def test_a_new_key_stands_with_its_cue_and_not_below_the_next_heading():
    lines = turned(SHOW, Turned(0, "fade_in", 1.0)).splitlines()
    assert lines.index("fade_in = 1") == lines.index("opacity = 0.8") + 1


def test_line_ends_stay():
    """A text with the line ends of another system keeps them."""
    text = turned(SHOW.replace("\n", "\r\n"), Turned(0, "opacity", 0.25))
    assert text.replace("\r\n", "") == text.replace("\r\n", "").replace("\n", "")


def test_a_text_that_does_not_end_its_last_line():
    assert tomllib.loads(turned(SHOW.rstrip("\n"), Turned(1, "opacity", 0.5)))["cue"][1]["opacity"] == 0.5


@pytest.mark.parametrize(
    "turn", [Turned(7, "opacity", 1.0), Turned(0, "parameters.strength.from", 1.0), Turned(1, "palette.9", "#000000")]
)
def test_what_is_not_there_cannot_be_turned(turn):
    with pytest.raises(MisfitError, match="no such knob"):
        turned(SHOW, turn)


def test_a_ramp_has_two_ends():
    text = turned(
        SHOW.replace("strength = 0.5", "strength = { from = 0, to = 1 }"), Turned(0, "parameters.strength.to", 0.25)
    )
    assert tomllib.loads(text)["cue"][0]["parameters"]["strength"] == {"from": 0, "to": 0.25}


def test_undo_goes_back_turn_by_turn():
    """Turning one knob on and on is one turn."""
    edits = Edits(SHOW)
    for value in (0.1, 0.2, 0.3):
        edits.turn(Turned(0, "opacity", value))
    edits.turn(Turned(1, "fade_out", 2.0))
    assert tomllib.loads(edits.text)["cue"][0]["opacity"] == 0.3
    assert edits.undo()
    assert "fade_out" not in edits.text
    assert edits.undo()
    assert edits.text == SHOW
    assert not edits.undo()


@given(st.lists(st.sampled_from([turn for turn, _, _ in TURNS]), max_size=6))
def test_undoing_all_turns_gives_the_file_again(turns):
    edits = Edits(SHOW)
    for turn in turns:
        edits.turn(turn)
    while edits.undo():
        pass
    assert edits.text == SHOW


def test_a_file_saved_meanwhile_keeps_what_is_turned_where_it_still_has_it():
    edits = Edits(SHOW)
    edits.turn(Turned(0, "opacity", 0.3))
    edits.turn(Turned(1, "fade_out", 2.0))
    one_cue = SHOW[: SHOW.index("# ---")].replace("strength = 0.5", "strength = 0.6")
    assert edits.rebase(one_cue) == [Turned(1, "fade_out", 2.0)]
    (cue,) = tomllib.loads(edits.text)["cue"]
    assert (cue["opacity"], cue["parameters"]["strength"]) == (0.3, 0.6)
    assert edits.moved


def test_a_deadly_text_is_not_parsed():
    with pytest.raises(MisfitError, match="larger than a person writes"):
        turned("a = " + "[" * 5000, Turned(0, "opacity", 1.0))


ODD = [
    SHOW,
    SHOW.replace("\n", "\r\n"),
    SHOW.replace('name = "Wash"', 'name = """Wash\n[[cue]]\n"""'),
    SHOW.replace("[[cue]]", "  [[ cue ]]  # one"),
    SHOW.replace("parameters = { strength = 0.5 } # half of it\n", "").replace(
        "opacity = 0.8\n", "opacity = 0.8\n[cue.parameters]\nstrength = 0.5\n"
    ),
    "# nothing before\n[[cue]]\neffect = 'a'",
]  # fmt: skip


@pytest.mark.parametrize("text", ODD)
@pytest.mark.parametrize("turn", [turn for turn, _, _ in TURNS])
def test_a_part_read_by_itself_is_turned_as_in_the_whole(text, turn, monkeypatch):
    """Only the part of a text that is the cue is read; what comes out is what reading all of it gives."""
    from eavesong.watch import edits

    def outcome():
        try:
            return turned(text, turn)
        except MisfitError:
            return None

    by_itself = outcome()
    monkeypatch.setattr(edits, "_own_part", lambda text, cue: (0, len(text), cue))
    whole = outcome()
    assert by_itself == whole


def test_cues_in_one_array_can_be_turned():
    text = turned("cue = [{ effect = 'a' }, { effect = 'b', opacity = 1 }]\n", Turned(1, "opacity", 0.5))
    assert tomllib.loads(text)["cue"][1]["opacity"] == 0.5


def test_tables_between_cues_stay_where_they_stand():
    """tomlkit, given the whole text, puts them below the last cue."""
    text = SHOW + "\n[later]\nkey = 1\n\n[[cue]]\neffect = 'glow.toml'\n"
    assert turned(text, Turned(0, "opacity", 0.25)) == text.replace("opacity = 0.8", "opacity = 0.25")

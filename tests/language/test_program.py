"""What is computed when: rates push downstream, and only what needs frame and pixel stays in the loop."""

import pytest

from eavesong.language import effect_names, load_effect
from eavesong.language.builtins import BOTH, CONSTANT, FRAME, FUNCTIONS, INPUTS, OPERATIONS, PIXEL
from eavesong.language.explain import explain, machine_code
from support import effect, level_of


def operations_in_loop(what):
    return [what.program.graph.nodes[node].operation for node in what.program.loop]


RATES = [
    ("0.5", CONSTANT), ("sin(1)", CONSTANT), ("speed", CONSTANT), ("speed * 2", CONSTANT), ("noise(speed)", CONSTANT),
    ("t", FRAME), ("fract(beat) * bass", FRAME), ("spectrum(0.5)", FRAME), ("noise(beat, speed)", FRAME),
    ("x", PIXEL), ("band(x, 0.5, 0.2)", PIXEL), ("hash(seed)", PIXEL), ("fwidth(u)", PIXEL), ("x * speed", PIXEL),
    ("x + t", BOTH), ("spectrum(y)", BOTH), ("band(x, fract(beat), 0.2)", BOTH), ("x if t > 1 else 0", BOTH),
]  # fmt: skip


@pytest.mark.parametrize(("expression", "rate"), RATES)
def test_a_value_has_the_rate_of_what_it_is_made_from(expression, rate):
    what = level_of(f"{expression} + 0 * speed", "speed = { default = 2 }")
    program = what.program
    level = program.shown[0]
    assert program.graph.rates[level] == rate
    assert bool(program.loop) == (rate == BOTH)
    if rate in (FRAME, PIXEL):
        assert (level in program.scalars, level in program.planes) == (rate == FRAME, rate == PIXEL)


def test_an_effect_of_frames_alone_has_an_empty_loop():
    what = effect("pulse = 1 - fract(beat)\nlevel = pulse ** 2 * bass\ncolour = palette(cue_progress)")
    assert (what.program.loop, what.program.planes) == ((), ())
    assert len(what.program.scalars) == 4


def test_an_effect_of_places_alone_has_an_empty_loop_and_no_scalars():
    what = effect("level = smoothstep(0, 1, noise(X, Y)) * band(u, 0.5, 1)\ncolour = hsl(360 * x, 1, 0.5)")
    assert (what.program.loop, what.program.scalars) == ((), ())
    assert len(what.program.planes) == 4


def test_a_constant_effect_reads_nothing():
    what = effect("level = 0.5\ncolour = rgb(1, 0.5, 0)")
    assert what.program.loop + what.program.planes + what.program.scalars == ()


def test_only_what_needs_both_stays_in_the_loop():
    """4 x is worked out per pixel, 0.37 beat per frame and within a period; the loop adds them and takes the rest."""
    what = level_of("fract(4 * x - 0.37 * beat) ** 2")
    assert operations_in_loop(what) == ["add", "fract", "multiply"]


def test_equal_values_are_worked_out_once():
    what = level_of("sin(x * beat) + sin(beat * x) ** 2 + sin(x * beat)")
    assert operations_in_loop(what).count("sin") <= 2  # x * beat and beat * x are told apart
    again = level_of("sin(x * beat) + sin(x * beat) ** 2 + sin(x * beat)")
    assert operations_in_loop(again).count("sin") == 1


def test_a_program_says_what_it_reads():
    program = level_of("band(x, fract(beat), 0.2) * hash(seed) * bass").program
    assert program.frame_inputs() == {"beat", "bass"}
    kinds = {("input", "x"), ("input", "seed"), ("step_along", "x"), ("step_across", "x")}
    assert program.pixel_inputs() == kinds


@pytest.mark.parametrize("name", effect_names())
def test_effects_that_ship_keep_their_loops_small(name):
    program = load_effect(name).program
    assert program.weight <= 120
    assert all(program.graph.rates[node] == BOTH for node in program.loop)


def test_arguments_stand_before_what_uses_them():
    for name in effect_names():
        graph = load_effect(name).program.graph
        assert all(argument < node for node, inner in enumerate(graph.nodes) for argument in inner.arguments)


# --- the table -------------------------------------------------------------------------------------------------------


def test_every_function_can_be_written_as_its_signature_says():
    """With all arguments, and with as few as may be given."""
    for function in FUNCTIONS.values():
        most = len(function.arguments)
        for count in range(most - function.optional, most + 1):
            call = f"{function.name}({', '.join(['x + t', 'y', 'z', 't'][:count])})"
            code = (
                f"level = t\ncolour = {call}" if function.result == "colour" else f"level = {call}\ncolour = rgb(1,1,1)"
            )
            assert effect(code).program.outputs


def test_signatures_show_what_may_be_left_out():
    assert FUNCTIONS["noise"].signature == "noise(x[, y[, z]])"
    assert FUNCTIONS["band"].signature == "band(p, centre, width)"


def test_tables_have_no_name_twice():
    assert not set(FUNCTIONS) & set(INPUTS)
    assert all(entry.unit and entry.about for entry in INPUTS.values())
    assert all(function.about for function in FUNCTIONS.values())
    assert all(operation.cost > 0 for operation in OPERATIONS.values())


# --- explain ---------------------------------------------------------------------------------------------------------


def test_explain_sorts_values_by_rate_and_shows_the_loop():
    what = effect(
        "front = fract(beat / beats)\nplace = x * 2\nlevel = band(place, front, 0.2)\ncolour = palette(level)",
        "beats = { default = 4 }",
    )
    text = explain(what)
    parts = [
        "Once per frame (float64)\n",
        "Once per pixel of a house (float64)\n",
        "For every frame and pixel (float32)",
    ]
    at = [text.index(part) for part in parts]
    assert at == sorted(at)
    assert at[0] < text.index("    front = fract(") < at[1] < text.index("    place = x * 2") < at[2]
    assert "def kernel(light, spectrum, weight, planes, scalars, palette, strength):" in text[at[2] :]
    assert f"{len(what.program.loop)} of them in the loop" in text.splitlines()[0]


@pytest.mark.parametrize("name", effect_names())
def test_explain_explains_every_effect_that_ships(name):
    assert load_effect(name).title in explain(load_effect(name))


def test_the_loop_is_vector_code():
    """Eight or more floats at a time, no calls: packed instructions of x86 (ps) or registers of four floats (.4s)."""
    import platform

    assembly = machine_code(level_of("sin(6 * x + beat) * exp(-abs(wrap(x - beat)))"))
    packed = {"x86_64": "mulps", "AMD64": "mulps"}.get(platform.machine(), ".4s")
    assert packed in assembly
    assert not {"sinf", "expf", "floorf"} & set(assembly.split())

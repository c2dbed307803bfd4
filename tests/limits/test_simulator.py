"""Voltages and currents of random layouts against a circuit simulator, and against a network solved node by node.

Both rails are modelled here, each with its own resistance; the copper is worked out from the handbook formulas.
"""

import os
import shutil
import subprocess
from functools import cache

import numpy as np
import pytest

from eavesong.limits import Assumptions, limits

LAYOUTS = 40


def copper(gauge, celsius, metres):
    """Ohms of one stranded conductor: ASTM B258 diameter, IACS 1/58 ohm mm²/m at 20 °C, 0.393 % a kelvin, 2 % of
    lay."""
    area = np.pi / 4 * (0.127 * 92 ** ((36 - gauge) / 39)) ** 2
    return metres / 58 / area * 1.02 * (1 + 0.00393 * (celsius - 20))


@cache
def case(seed):
    """A random string on a wall: its layout's text, and the same as plain numbers."""
    rng = np.random.default_rng(seed)
    n, pitch = int(rng.integers(2, 60)), float(rng.choice([0.05, 0.1, 0.3]))
    volts, each = (5.0, 0.055) if rng.random() < 0.5 else (12.0, 0.06)
    celsius, wire = int(rng.integers(-10, 50)), int(rng.choice([18, 20, 22]))
    places = sorted({1, *rng.integers(2, n + 1, rng.integers(0, 4)).tolist()})
    leads = [(int(rng.choice([12, 14, 16])), round(float(rng.uniform(0.5, 6)), 2)) for _ in places]
    inject = ", ".join(
        f'{{ prop = "row", pixel = {place}, lead = {{ gauge = {gauge}, length = {length} }} }}'
        for place, (gauge, length) in list(zip(places, leads, strict=True))[1:]
    )
    text = f"""\
title = "Case {seed}"
[power]
pixel_type = "own"
celsius = {celsius}
[[pixel_type]]
name = "own"
volts = {volts}
amperes = [{each / 3}, {each / 3}, {each / 3}]
idle = 0
wire = {{ gauge = {wire} }}
[[prop]]
name = "row"
shape = "line"
to = [{n * pitch}, 0]
pixels = {n}
[[controller]]
name = "box"
[[controller.output]]
number = 1
chain = ["row"]
[[supply]]
name = "one"
volts = {volts}
watts = 1000
[[supply.feed]]
controller = "box"
output = 1
lead = {{ gauge = {leads[0][0]}, length = {leads[0][1]} }}
inject = [{inject}]
"""
    link = copper(wire, celsius, pitch)
    ohms = [copper(gauge, celsius, 1.15 * length) for gauge, length in leads]
    return text, (n, volts, each, link, [place - 1 for place in places], ohms)


def nodal(n, volts, each, link, places, ohms):
    """Volts (n,) between the rails at each pixel, amperes of each lead: Kirchhoff's laws, dense, both rails."""
    size = 2 * n
    matrix, right = np.zeros((size, size)), np.zeros(size)
    for rail in (0, n):
        for i in range(n - 1):
            a, b = rail + i, rail + i + 1
            matrix[[a, b], [a, b]] += 1 / link
            matrix[[a, b], [b, a]] -= 1 / link
        for place, resistance in zip(places, ohms, strict=True):
            matrix[rail + place, rail + place] += 1 / resistance
            right[rail + place] += (volts if rail == 0 else 0.0) / resistance
    right[:n] -= each
    right[n:] += each
    found = np.linalg.solve(matrix, right)
    return found[:n] - found[n:], [(volts - found[p]) / r for p, r in zip(places, ohms, strict=True)]


@pytest.mark.parametrize("seed", range(LAYOUTS))
def test_voltages_and_currents_are_those_of_the_network(house, seed):
    text, network = case(seed)
    (voltage,) = limits(house(text), None, Assumptions()).voltages
    volts, amperes = nodal(*network)
    assert voltage.full.volts == pytest.approx(volts.min(), abs=5e-4)
    assert voltage.lead_amperes == pytest.approx(amperes, abs=2e-4)


def deck(networks):
    """All networks as one netlist."""
    lines = ["strings of pixels"]
    for k, (n, volts, each, link, places, ohms) in enumerate(networks):
        lines.append(f"V{k} s{k} 0 {volts}")
        for i in range(n):
            lines.append(f"I{k}_{i} p{k}_{i} n{k}_{i} {each}")
        for i in range(n - 1):
            lines += [f"R{k}p{i} p{k}_{i} p{k}_{i + 1} {link}", f"R{k}n{i} n{k}_{i} n{k}_{i + 1} {link}"]
        for j, (place, resistance) in enumerate(zip(places, ohms, strict=True)):
            lines += [f"R{k}a{j} s{k} p{k}_{place} {resistance}", f"R{k}b{j} 0 n{k}_{place} {resistance}"]
    return "\n".join([*lines, ".control", "set filetype=ascii", "op", "write out.raw", ".endc", ".end", ""])


@pytest.fixture(scope="module")
def simulated(tmp_path_factory):
    """Volts of every node of every network, by its name."""
    if not shutil.which("ngspice") and not os.environ.get("CI"):
        pytest.skip("no ngspice: install Debian's package")
    folder = tmp_path_factory.mktemp("spice")
    (folder / "deck.cir").write_text(deck([case(seed)[1] for seed in range(LAYOUTS)]))
    subprocess.run(["ngspice", "-b", "deck.cir"], cwd=folder, capture_output=True, check=False)
    head, values = (folder / "out.raw").read_text().split("Values:\n")
    names = [line.split()[1] for line in head.split("\nVariables:\n")[1].splitlines()]
    numbers = [float(number) for number in values.split()[1:]]  # the first is the number of the row
    return dict(zip((name[2:-1] for name in names), numbers, strict=True))


@pytest.mark.parametrize("seed", range(LAYOUTS))
def test_a_circuit_simulator_finds_the_same_lowest_voltage(house, simulated, seed):
    text, (n, *_) = case(seed)
    (voltage,) = limits(house(text), None, Assumptions()).voltages
    lowest = min(simulated[f"p{seed}_{i}"] - simulated[f"n{seed}_{i}"] for i in range(n))
    assert voltage.full.volts == pytest.approx(lowest, abs=5e-4)

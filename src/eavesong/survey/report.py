"""What a solved survey says, in words and as JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from eavesong.layout.lengths import FEET, length_text
from eavesong.survey.advice import MISREAD, Advice
from eavesong.survey.doubt import Doubt, smallest_seen
from eavesong.survey.known import FILM_DIAGONAL, Known
from eavesong.survey.read import Read
from eavesong.survey.solution import SURE, Solution
from eavesong.survey.trust import STRAIGHT
from eavesong.survey.write import told
from eavesong.words import METRES

VAGUE_FOCAL = 0.06
"""Standard error, as a share, from which on a focal length is said to be hardly known."""
GRAZING = 4.0
"""Degrees between sight and a plane below which a point on it slides."""
AXES = ("left or right", "high or low", "near or far")


def findings(read: Read, solution: Solution) -> list[str]:
    """What somebody should look at, each with what to do about it; empty when all is well."""
    units = read.survey.units
    found = [_doubted(read, solution, doubt) for doubt in solution.doubts]
    if not solution.fits and not any(doubt.left_out for doubt in solution.doubts):
        found.append("What is known disagrees by more than clicks and tape allow, and no single thing is to blame: "
                     "look at the picture (--picture) for points clicked or placed on a plane wrongly.")  # fmt: skip
    for point in solution.unheld:
        name = solution.known.points[point]
        found.append(f"Nothing holds '{name}': say which plane it lies on, what it stands above, or click it in a "
                     "second photo.")  # fmt: skip
    for view, about in enumerate(solution.known.views):
        give = solution.focal_give(view)
        if give > VAGUE_FOCAL and not about.focal_told:
            found.append(
                f"The focal length of '{about.name}' is known only to ± {100 * SURE * give:.0f} % and cannot be told "
                "from the distance, and what stands nearer or farther than the front is unsure. Use the photo as the "
                "camera saved it, write focal = … (mm, 35 mm equivalent), photograph the house from a corner as well, "
                "or measure on the ground towards the street."
            )
    found += _grazed(solution)
    if solution.trust.another > 0:
        found.append(f"Another house fits nearly as well, with points up to {told(solution.trust.another, units)} "
                     "elsewhere; the error bars say so. One more measure, as below, tells them apart.")  # fmt: skip
    return found


def unchecked(solution: Solution) -> dict[int, float]:
    """Measures whose misreading would go unseen, and the error in metres that would just be seen, or infinity."""
    known = solution.adjusted.known
    seen = smallest_seen(solution.adjusted)
    ends = {tuple(known.measure_ends[each].tolist()): float(seen[each]) for each in np.flatnonzero(seen > MISREAD)}
    pairs = [tuple(pair) for pair in solution.known.measure_ends.tolist()]
    return {number: ends[pair] for number, pair in enumerate(pairs) if pair in ends}


def _grazed(solution: Solution) -> list[str]:
    """Points seen at so flat an angle to their only plane that they slide along the line of sight."""
    found = []
    known = solution.known
    for wall, about in enumerate(known.walls):
        names = []
        for view, point in zip(known.click_view.tolist(), known.click_point.tolist(), strict=True):
            if [wall] != known.on[known.on[:, 0] == point, 1].tolist():
                continue
            ray = solution.points[point] - solution.lens(view).place
            off = solution.adjusted.off_wall(point, wall) - solution.adjusted.off_place(solution.lens(view).place, wall)
            if abs(off) < np.sin(np.radians(GRAZING)) * np.linalg.norm(ray):
                names.append(known.points[point])
        if names:
            found.append(f"'{about.name}' is seen at a very flat angle, so {_listed(names)} slide along the line of "
                         "sight: photograph it from elsewhere, or measure to them.")  # fmt: skip
    return found


def _listed(names: list[str]) -> str:
    shown = [f"'{name}'" for name in dict.fromkeys(names)]
    return ", ".join(shown[:4]) + (" and others" if len(shown) > 4 else "")


def _doubted(read: Read, solution: Solution, doubt: Doubt) -> str:
    """A doubt in words, with what would explain it as well."""
    text = _WORDS[doubt.kind](read.survey.units, solution, doubt)
    if doubt.kind != "measures":
        text += " That was left out."
    if doubt.instead:
        others = "; ".join(_called(solution.known, kind, index) for kind, index in doubt.instead[:4])
        text += f" As well it may be {others}."
        if {doubt.kind, *(kind for kind, _ in doubt.instead)} == {"measures"}:
            text += " These cannot be told apart: measure each of them again."
    return text


def _called(known: Known, kind: str, index: int) -> str:
    """What something is called in a list."""
    names = known.points
    if kind == "measures":
        return "the measure from '{}' to '{}'".format(*(names[point] for point in known.measure_ends[index]))
    if kind == "clicks":
        return f"the click of '{names[known.click_point[index]]}' in '{known.views[known.click_view[index]].name}'"
    if kind == "on":
        point, wall = known.on[index]
        return f"that '{names[point]}' lies on '{known.walls[wall].name}'"
    if kind == "same":
        a, b, axis = known.same[index]
        return f"that '{names[a]}' is {_how(int(axis))} '{names[b]}'"
    return "that '{}' to '{}' is parallel to '{}' to '{}'".format(*(names[point] for point in known.along[index]))


def _how(axis: int) -> str:
    return "level with" if axis == 1 else "straight above or below"


def _measure_words(units: str, solution: Solution, doubt: Doubt) -> str:
    known = solution.known
    a, b = known.measure_ends[doubt.index]
    length = known.lengths[doubt.index]
    read, others = (length_text(each, units, 2) for each in (length, length - doubt.size))
    rest = f"it reads {read}, the rest says {others} ± {told(SURE * doubt.give, units)}"
    after = "It was left out." if doubt.left_out else "It may be chance, so it was kept."
    return (f"The measure from '{known.points[a]}' to '{known.points[b]}' disagrees with the rest by "
            f"{told(abs(doubt.size), units)} ({rest}): measure it again. {after}")  # fmt: skip


def _click_words(units: str, solution: Solution, doubt: Doubt) -> str:
    called = _called(solution.known, "clicks", doubt.index).removeprefix("the ")
    return (f"The {called} is {doubt.size:.0f} picture elements from where the rest has it: click it again, or look "
            "whether it lies on another plane.")  # fmt: skip


def _on_words(units: str, solution: Solution, doubt: Doubt) -> str:
    point, wall = solution.known.on[doubt.index]
    side = "before" if doubt.size > 0 else "behind"
    return (f"'{solution.known.points[point]}' seems not to lie on '{solution.known.walls[wall].name}': the rest has "
            f"it {told(abs(doubt.size), units)} {side} it.")  # fmt: skip


def _same_words(units: str, solution: Solution, doubt: Doubt) -> str:
    a, b, axis = solution.known.same[doubt.index]
    names = solution.known.points
    return f"'{names[a]}' seems not to be {_how(int(axis))} '{names[b]}': by {told(abs(doubt.size), units)}."


def _along_words(units: str, solution: Solution, doubt: Doubt) -> str:
    a, b, c, d = (solution.known.points[point] for point in solution.known.along[doubt.index])
    return f"The lines '{a}' to '{b}' and '{c}' to '{d}' seem not to be parallel: by {told(doubt.size, units)}."


_WORDS = {
    "measures": _measure_words, "clicks": _click_words, "on": _on_words, "same": _same_words, "along": _along_words,
}  # fmt: skip


def report_text(read: Read, solution: Solution) -> str:
    """What was found, for people."""
    units, known = read.survey.units, solution.known
    lines = [read.survey.title, "", *(_camera(solution, view, read.survey.units) for view in range(len(known.views)))]
    lines += read.notes
    of_unit, unit = (METRES["ft"], "feet") if units in FEET else (1.0, "metres")
    width = max(13, *(len(name) for name in known.points))
    lines += ["", f"{f'point, {unit}':<{width}}  {'right':>8} {'up':>8} {'front':>8}   ± (19 of 20)"]
    for number, name in enumerate(known.points):
        x, y, z = np.round(solution.points[number] / of_unit, 2) + 0.0
        lines.append(f"{name:<{width}}  {x:8.2f} {y:8.2f} {z:8.2f}   {told(solution.bar(number), units)}")
    if found := findings(read, solution):
        lines += ["", "To look at:", *(f"- {each}" for each in found)]
    if loose := unchecked(solution):
        check = solution.check
        also = f"; or measure '{known.points[check.start]}' to '{known.points[check.end]}' as well" if check else ""
        lines += ["", f"Too little else checks these measures, so take each once more{also}:"]
        lines += [f"- {_pair(known, each)}: {_unseen(least, units)}" for each, least in loose.items()]
    if solution.advice:
        lines += ["", "What to measure next:"]
        lines += [f"{rank}. {_advised(solution, advice, units)}" for rank, advice in enumerate(solution.advice, 1)]
    return "\n".join(lines)


def _pair(known: Known, measure: int) -> str:
    return _called(known, "measures", measure).removeprefix("the measure from ")


def _unseen(least: float, units: str) -> str:
    return "no error would be seen" if np.isinf(least) else f"an error of less than {told(least, units)} goes unseen"


def _advised(solution: Solution, advice: Advice, units: str) -> str:
    known = solution.known
    high = "" if advice.within_reach else " (above reach: only with a safe way up, or a laser)"
    checked = " and ".join(_pair(solution.adjusted.known, each) for each in advice.checks)
    also = f"; checks {checked}" if checked else ""
    return (f"'{known.points[advice.start]}' to '{known.points[advice.end]}'{high}: props from "
            f"± {told(advice.before, units)} to ± {told(advice.after, units)}{also}")  # fmt: skip


def _camera(solution: Solution, view: int, units: str) -> str:
    lens, about = solution.lens(view), solution.known.views[view]
    millimetres = lens.focal / np.hypot(about.width, about.height) * FILM_DIAGONAL
    x, y, z = (length_text(float(each), units) for each in lens.place)
    wide = np.degrees(2 * np.arctan(about.width / 2 / lens.focal))
    return (f"{about.name}: taken {z} before the front, {x} to the right, {y} up; "
            f"{millimetres:.1f} mm ± {100 * SURE * solution.focal_give(view):.1f} % (35 mm equivalent), "
            f"{wide:.0f} degrees wide")  # fmt: skip


def report_data(read: Read, solution: Solution) -> dict[str, Any]:
    """The same for programs: metres, standard errors axis by axis, covariances, cameras, doubts and advice."""
    known: Known = solution.known
    names = known.points
    return {
        "title": read.survey.title,
        "points": [
            {
                "name": name,
                "place": solution.points[number].tolist(),
                "standard_error": solution.standard_errors[number].tolist(),
                "bar_95": solution.bar(number),
                "covariance": solution.covariance[3 * number : 3 * number + 3, 3 * number : 3 * number + 3].tolist(),
            }
            for number, name in enumerate(names)
        ],
        "cameras": [
            {
                "photo": about.name,
                "place": solution.lens(view).place.tolist(),
                "focal_pixels": solution.lens(view).focal,
                "focal_give": solution.focal_give(view),
                "radial": solution.lens(view).k,
                "rotation": solution.lens(view).turn.tolist(),
            }
            for view, about in enumerate(known.views)
        ],
        "doubts": [
            {"kind": doubt.kind, "about": _about(known, doubt), "by": doubt.size, "left_out": doubt.left_out}
            for doubt in solution.doubts
        ],
        "findings": findings(read, solution),
        "unchecked_measures": [_about_measure(known, number) for number in unchecked(solution)],
        "measure_to_check": [known.points[solution.check.start], known.points[solution.check.end]]
        if solution.check
        else None,
        "bent": solution.trust.bent > STRAIGHT,
        "measure_next": [
            {
                "from": names[advice.start], "to": names[advice.end], "within_reach": advice.within_reach,
                "before": advice.before, "after": advice.after,
                "checks": [_about_measure(solution.adjusted.known, each) for each in advice.checks],
            }
            for advice in solution.advice
        ],
    }  # fmt: skip


def _about_measure(known: Known, number: int) -> list[str]:
    return [known.points[point] for point in known.measure_ends[number]]


def _about(known: Known, doubt: Doubt) -> list[str]:
    names = known.points
    if doubt.kind == "measures":
        return _about_measure(known, doubt.index)
    if doubt.kind == "clicks":
        return [names[known.click_point[doubt.index]], known.views[known.click_view[doubt.index]].name]
    if doubt.kind == "on":
        point, wall = known.on[doubt.index]
        return [names[point], known.walls[wall].name]
    return [names[point] for point in getattr(known, doubt.kind)[doubt.index][: 2 if doubt.kind == "same" else 4]]

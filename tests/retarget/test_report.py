"""What a changed house does to a show: every cue is told of, and what is proposed brings light."""

import json
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest

from eavesong.check import check
from eavesong.layout import Layout, load_layout
from eavesong.music import BeatGrid
from eavesong.retarget.page import retarget_page
from eavesong.retarget.report import Retargeting, retargeting
from eavesong.retarget.retarget import _report
from eavesong.retarget.text import retarget_text
from eavesong.scene import set_scene
from eavesong.show import Show

Read = Callable[[str], Show]

PROPS = {
    "eaves": ([0, 3, 1], [6, 3, 1], ["eaves", "roofline", "upper"]),
    "gable": ([6, 3, 1], [8, 5, 1], ["gable", "roofline", "upper"]),
    "hedge": ([0, 0.5, 4], [4, 0.5, 4], ["hedge", "ground"]),
    "path": ([5, 0, 4], [9, 0, 4], ["path", "ground"]),
}


def text_of(names: Sequence[str], unlit: Sequence[str] = (), **tags: list[str]) -> str:
    text = f'title = "House"\nunlit = {json.dumps(unlit)}\n[frame]\nfrom = [0, 0, 0]\nto = [10, 5, 5]\n'
    for name in names:
        start, end, usual = PROPS.get(name, ([2, 4, 0], [3, 4, 0], []))
        text += f'[[prop]]\nname = "{name}"\nshape = "line"\nfrom = {start}\nto = {end}\npixels = 20\n'
        text += f"tags = {json.dumps(tags.get(name, usual))}\n"
    return text


@pytest.fixture
def build(tmp_path: Path) -> Callable[..., Layout]:
    """Makes a house of these props, some with other tags."""

    def build(*names: str, unlit: Sequence[str] = (), **tags: list[str]) -> Layout:
        path = tmp_path / "built.toml"
        path.write_text(text_of(names, unlit, **tags))
        return load_layout(path)

    return build


SHOW = """
[[cue]]
effect = "wash"
name = "Roof"
on = "roofline"
[[cue]]
effect = "glow"
name = "Hedge"
on = "hedge"
[[cue]]
effect = "glow"
name = "Path"
on = "path and ground"
"""


@pytest.fixture
def told(read: Read, build: Callable, grid: BeatGrid) -> Callable[..., Retargeting]:
    """The report of the show above from the full house to another one."""
    return lambda new, show=SHOW: retargeting(read(show), build(*PROPS), new, grid)


def test_nothing_changed_is_nothing_to_look_at(told: Callable, build: Callable) -> None:
    report = told(build(*PROPS))
    assert [cue.state for cue in report.cues] == ["same"] * 3
    assert report.dark == ()
    assert not report.needs_a_look


def test_no_cue_is_dropped_in_silence(told: Callable, build: Callable) -> None:
    report = told(build("eaves", "hedge"))
    assert [cue.name for cue in report.cues] == ["cue 1 'Roof'", "cue 2 'Hedge'", "cue 3 'Path'"]
    assert [cue.state for cue in report.cues] == ["changed", "same", "fall-back"]
    assert report.cues[0].lost == ("gable",)
    assert (report.cues[0].before.pixels, report.cues[0].now.pixels) == (40, 20)
    assert report.needs_a_look


def test_a_cue_that_goes_dark_is_told_with_what_brings_it_back(
    read: Read, told: Callable, build: Callable, grid: BeatGrid
) -> None:
    show = "[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = 'bower'\n"
    old = build("eaves", "hedge", hedge=["bower"])
    new = build("eaves", "path", path=["path", "ground"])
    report = retargeting(read(show), old, new, grid)
    cue = report.cues[1]
    assert cue.state == "dark"
    assert cue.before.props == ("hedge",)
    assert cue.proposals[0] == "Give 'path', most like what it lit before, the tag 'bower'."
    assert cue.proposals[1] == "Or add to its 'on': 'path'."
    for mended, text in (
        (build("eaves", "path", path=["path", "bower"]), show),
        (new, show.replace("'bower'", "['bower', 'path']")),
    ):
        assert retargeting(read(text), old, mended, grid).cues[1].now.props == ("path",)


def test_a_prop_by_another_name_is_neither_gained_nor_lost(moved: Callable) -> None:
    old = shaped("House", tree("fir 1", 2), tree("fir 2", 6))
    report = moved('[[cue]]\neffect = "glow"\non = "tree"\n', old, shaped("House", tree("fir", 2)))
    assert (report.cues[0].gained, report.cues[0].lost) == ((), ("fir 2",))


def test_a_fall_back_is_told_with_the_tag_that_ends_it(told: Callable, build: Callable) -> None:
    report = told(build("eaves", "gable", "path"))
    cue = report.cues[1]
    assert (cue.state, cue.now.taken) == ("fall-back", "garden instead of hedge")
    assert cue.now.props == ("path",)
    assert cue.proposals[0] == "Give 'path', most like what it lit before, the tag 'hedge'."
    assert told(build("eaves", "gable", "path", path=["path", "ground", "hedge"])).cues[1].state == "changed"


def test_what_nobody_lights_yet_gets_the_tag_of_its_neighbour(told: Callable, build: Callable) -> None:
    report = told(build(*PROPS, "dormer"))
    (dark,) = report.dark
    assert (dark.name, dark.why) == ("dormer", "added")
    assert dark.proposal == "Give it the tag 'roofline', like 'eaves': then cue 1 'Roof' lights it."
    assert told(build(*PROPS, "dormer", dormer=["roofline"])).dark == ()


def test_a_name_that_says_what_it_is_decides_the_tag(told: Callable, build: Callable) -> None:
    (dark,) = told(build(*PROPS, "little hedge")).dark
    assert dark.proposal == "Give it the tag 'hedge', like 'hedge': then cue 2 'Hedge' lights it."


def test_a_prop_that_lost_its_tag_went_dark(told: Callable, build: Callable) -> None:
    report = told(build(*PROPS, gable=["upper"]))
    assert [(prop.name, prop.why) for prop in report.dark] == [("gable", "went dark")]
    was_dark = told(build(*PROPS), SHOW.replace("roofline", "eaves"))
    assert [(prop.name, prop.why) for prop in was_dark.dark] == [("gable", "was dark before")]
    assert was_dark.needs_a_look, "dark is dark, as check and batch have it"


def test_a_box_that_holds_nothing_any_more(told: Callable, build: Callable, read: Read, grid: BeatGrid) -> None:
    show = "[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = 'roofline'\nwithin = { x = [0.7, 1] }\n"
    report = told(build("eaves", "path"), show)
    assert report.cues[1].proposals == ("No pixel of it lies within its box now: widen 'within', or delete it.",)


def test_a_renamed_prop_is_told_before_a_box_that_holds_nothing(read: Read, tmp_path: Path, grid: BeatGrid) -> None:
    """What lies in the box is called otherwise now; another prop that the cue names lies beside it."""
    houses = []
    for name in ("zig", "zag"):
        (tmp_path / f"{name}.toml").write_text(text_of(["hedge", name]))
        houses.append(load_layout(tmp_path / f"{name}.toml"))
    written = "[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = 'hedge or zig'\nwithin = { y = [0.7, 1] }\n"
    cue = retargeting(read(written), *houses, grid).cues[1]
    assert cue.state == "dark"
    assert cue.proposals[0].startswith("'zig' is called 'zag' now: write that into its 'on'")


def test_a_cue_that_takes_another_choice(told: Callable, build: Callable) -> None:
    report = told(
        build("eaves", "path"), SHOW.replace("'hedge'", "x").replace('on = "hedge"', 'on = ["hedge", "path"]')
    )
    assert (report.cues[1].state, report.cues[1].now.choice) == ("another choice", 2)


def test_the_report_reads_in_a_terminal_as_json_and_as_a_page(told: Callable, build: Callable) -> None:
    old, new = build(*PROPS), build("eaves", "hedge", "dormer", hedge=["ground"])
    report = told(new)
    text = retarget_text(report)
    assert max(map(len, text.splitlines())) < 80
    for word in ("The house frame stayed.", "1 added", "2 gone", "cue 3 'Path'", "dormer (added): Give it the tag"):
        assert word in text
    data = json.loads(json.dumps(report.as_dict()))
    assert data["needs_a_look"] is True
    assert [cue["state"] for cue in data["cues"]] == [cue.state for cue in report.cues]
    page = retarget_page(report, old, new)
    assert page.count("<svg") == 2
    assert "dormer" in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")  # stands alone
    for cue in report.cues:
        assert cue.name.replace("'", "&#x27;") in page


def test_the_page_believes_no_name(told: Callable, tmp_path: Path) -> None:
    path = tmp_path / "strange.toml"
    path.write_text(text_of(["eaves"]).replace('"eaves"\nshape', '"<script>alert(1)</script>"\nshape'))
    new = load_layout(path)
    assert "<script" not in retarget_page(told(new), new, new)


def test_a_moved_frame_is_said_plainly(told: Callable, build: Callable, tmp_path: Path) -> None:
    path = tmp_path / "wider.toml"
    path.write_text(text_of([*PROPS]).replace("to = [10, 5, 5]", "to = [20, 5, 5]"))
    report = told(load_layout(path))
    text = retarget_text(report)
    assert "The house frame moved: everything shifts." in text
    assert "    to = [10, 5, 5]" in text
    assert report.pin_in_new_only
    assert report.needs_a_look


DARK = '[[cue]]\neffect = "wash"\npalette = "black"\non = "all"\n'


def test_a_cue_that_only_darkens_lights_nothing(told: Callable, build: Callable) -> None:
    (dark,) = told(build(*PROPS, "dormer"), SHOW + DARK).dark
    assert dark.proposal.startswith("Give it the tag 'roofline'")
    assert "Every prop is lit" not in retarget_text(told(build(*PROPS, "dormer"), SHOW + DARK))


def test_props_that_are_meant_to_be_dark_are_told_once_and_apart(told: Callable, build: Callable) -> None:
    new = build(*PROPS, unlit=["path"])
    report = told(new)
    assert (report.dark, report.unlit, report.needs_a_look) == ((), ("path",), False)
    assert [cue.state for cue in report.cues] == ["same", "same", "unlit"]
    assert [cue.proposals for cue in report.cues] == [(), (), ()]
    said = retarget_text(report)
    assert said.count("Meant to be dark") == 1
    assert "Give the props" not in said


def test_what_is_dark_is_what_a_check_finds_dark(told: Callable, build: Callable, read: Read, grid: BeatGrid) -> None:
    new = build(*PROPS, "dormer", gable=[])
    assert tuple(prop.name for prop in told(new).dark) == check(set_scene(read(SHOW), new, grid)).dark_props


def test_a_prop_whose_cue_is_on_at_no_time_is_told_so(told: Callable, build: Callable) -> None:
    late = '[[cue]]\neffect = "glow"\nname = "Late"\non = "dormer"\ntimes = [[100, 120]]\n'
    (dark,) = told(build(*PROPS, "dormer"), SHOW + late).dark
    assert dark.proposal == "cue 4 'Late' is on it, but at no time of this song: see what 'check' says of it."


def shaped(title: str, *props: str) -> str:
    return f'title = "{title}"\n[frame]\nfrom = [-5, 0, -5]\nto = [15, 10, 10]\n' + "".join(props)


def tree(name: str, x: float, tags: str = '"tree"') -> str:
    return (
        f'[[prop]]\nname = "{name}"\nshape = "cone"\nheight = 2\nbase = 1\nstrings = 4\npixels = 5\n'
        f"at = [{x}, 0, 3]\ntags = [{tags}]\n"
    )


def line(name: str, y: float, tags: str = "") -> str:
    return f'[[prop]]\nname = "{name}"\nshape = "line"\nfrom = [0, {y}]\nto = [6, {y}]\npixels = 20\ntags = [{tags}]\n'


STAR = '[[prop]]\nname = "star"\nshape = "star"\nouter = 0.5\ninner = 0.2\npixels = 20\nat = [3, 7, 0]\n'


@pytest.fixture
def moved(read: Read, grid: BeatGrid, tmp_path: Path) -> Callable[..., Retargeting]:
    """The report of a show that moves from one text of a house to another."""

    def report(show: str, old: str, new: str) -> Retargeting:
        houses = []
        for name, text in (("old", old), ("new", new)):
            (tmp_path / f"{name}.toml").write_text(text)
            houses.append(load_layout(tmp_path / f"{name}.toml"))
        return retargeting(read(show), *houses, grid)

    return report


def test_what_is_of_the_same_kind_is_proposed_before_what_is_near(moved: Callable) -> None:
    """The cue is on a name with a blank, which no prop can be given as a tag."""
    small, roof = tree("small tree", 9), line("garage roof", 1, '"roofline"')
    old = shaped("Home", tree("mega tree", 2), small, roof)
    new = shaped("Home", small, roof)
    cue = moved("[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = 'mega tree'\n", old, new).cues[1]
    assert cue.state == "dark"
    assert cue.proposals == ("Add to its 'on' as another choice: 'tree', which is 'small tree'.",)


def test_a_balcony_is_never_asked_to_be_a_star(moved: Callable) -> None:
    show = "[[cue]]\neffect = 'glow'\non = 'star'\n[[cue]]\neffect = 'wash'\non = 'eaves'\n"
    eaves = line("eaves", 3, '"eaves"')
    report = moved(show, shaped("Home", STAR, eaves), shaped("Home", line("balcony", 6), eaves))
    told = [*(proposal for cue in report.cues for proposal in cue.proposals), *(prop.proposal for prop in report.dark)]
    assert told
    assert not any("the tag 'star'" in proposal for proposal in told)


def test_another_house_is_not_told_as_a_moved_one(moved: Callable) -> None:
    old = shaped("Larch", line("eaves", 3, '"eaves"'), tree("tree", 2))
    new = shaped("Pine", line("eaves", 4.5, '"eaves"'), tree("tree", 5)).replace("to = [15, 10", "to = [25, 10")
    report = moved("[[cue]]\neffect = 'wash'\n", old, new)
    text = " ".join(retarget_text(report).split())
    assert report.house.another
    assert not report.needs_a_look
    gold = retarget_text(moved("[[cue]]\neffect = 'wash'\n", old + '[palettes]\nall = "gold"\n', new))
    assert "Wished before, and not in the new layout: colours of its own in place of all" in " ".join(gold.split())
    assert "Another house: next to nothing stands where something stood" in text
    assert "[frame]" not in text
    assert "moved by" not in text
    assert not moved("[[cue]]\neffect = 'wash'\n", old, new.replace('"Pine"', '"Larch"')).house.another
    shared = line("hedge", 1).replace("pixels = 20", "pixels = 8")  # hung up at the same measures; 40 others are not
    assert moved("[[cue]]\neffect = 'wash'\n", old + shared, new + shared).house.another


def test_what_a_cue_was_lit_by_is_the_tag_that_is_proposed(read: Read, build: Callable, grid: BeatGrid) -> None:
    """The gable was no star: it was lit as 'attic', the second choice, and would be by that tag again."""
    show = read("[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = ['star', 'attic']\n")
    old, new = build("eaves", "gable", gable=["attic"]), build("eaves", "gable", gable=["gable"])
    cue = retargeting(show, old, new, grid).cues[1]
    assert (cue.state, cue.now.taken) == ("fall-back", "the upper part instead of star")
    assert cue.proposals[0] == "Give 'gable', most like what it lit before, the tag 'attic'."
    assert cue.proposals[-1].startswith("Or keep the upper part: add 'upper' to 'on' as a choice of its own")
    kept = read("[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = ['star', 'attic', 'upper']\n")
    assert retargeting(kept, old, new, grid).cues[1].state != "fall-back"


def test_a_new_prop_that_is_dark_for_most_of_the_song_is_told(read: Read, build: Callable, grid: BeatGrid) -> None:
    """Lit by a cue on everything for 10 s of 32, it is lit at some time; what has been there is not looked at again."""
    show = read(SHOW + "[[cue]]\neffect = 'glow'\non = 'all'\ntimes = [[0, 10]]\n")
    old, new = build(*PROPS), build(*PROPS, "dormer")
    report = _report(set_scene(show, old, grid), set_scene(show, new, grid))
    assert [(prop.name, prop.why) for prop in report.seldom] == [("dormer", "lit for 0:10 of 0:32")]
    assert report.needs_a_look
    assert "dormer (lit for 0:10 of 0:32): Give it the tag 'roofline'" in " ".join(retarget_text(report).split())
    assert "lit for 0:10 of 0:32" in retarget_page(report, old, new)
    assert _report(set_scene(show, old, grid), set_scene(show, old, grid)).seldom == ()


def test_a_prop_that_loses_a_cue_to_a_new_one_and_is_dark_for_most_of_the_song_is_told(
    read: Read, build: Callable, grid: BeatGrid
) -> None:
    """The hedge stood in for a fir. The path has a cue no longer than that, and had no other before."""
    text = "[[cue]]\neffect = 'glow'\non = '{0}'\ntimes = [[0, {1}]]\n"
    show = read("[[cue]]\neffect = 'glow'\non = ['fir', 'hedge']\n" + text.format("hedge", 5) + text.format("path", 5))
    old, new = build("hedge", "path"), build("hedge", "path", "fir")
    report = _report(set_scene(show, old, grid), set_scene(show, new, grid))
    assert [(prop.name, prop.why) for prop in report.seldom] == [("hedge", "lit for 0:05 of 0:32")]


GOLD = "[[cue]]\neffect = 'glow'\non = 'hedge or path'\n[[cue]]\nname = 'Gold'\neffect = 'glow'\non = 'hedge'\n"


def test_a_cue_that_is_painted_over_on_the_new_house_alone_is_told(read: Read, build: Callable, grid: BeatGrid) -> None:
    """It was seen on the path, which is gone; cues are papers on a table, and gold lies over the hedge."""
    show, old, new = read(GOLD), build(*PROPS), build("eaves", "gable", "hedge")
    scenes = set_scene(show, old, grid), set_scene(show, new, grid)
    report = _report(*scenes)
    assert [cue.state for cue in report.cues] == ["never seen", "same"]
    assert report.needs_a_look
    told = " ".join(retarget_text(report).split())
    assert "never seen cue 2 'Gold' is painted over it here, and was not before" in told
    assert "Give cue 2 'Gold' a 'blend' or 'opacity'" in told
    assert "cue 2 &#x27;Gold&#x27; is painted over it here" in retarget_page(report, old, new)
    found = [finding.found for finding in check(scenes[1], drawn=True).findings]
    assert "the cue is never seen: cue 2 'Gold' is painted over it" in found
    assert [cue.state for cue in _report(scenes[1], scenes[1]).cues] == ["same", "same"]  # it was so before


@pytest.mark.parametrize("seconds", [20, 8])
def test_a_tag_that_lights_for_half_of_the_song_is_proposed_too_where_one_does(
    read: Read, build: Callable, grid: BeatGrid, seconds: int
) -> None:
    """'roofline' suits the dormer best, but would light it for 10 s of 32; 'upper' for 20 s, or for 8 s."""
    show = read(
        "[[cue]]\neffect = 'wash'\non = 'roofline'\ntimes = [[0, 10]]\n"
        f"[[cue]]\neffect = 'glow'\non = 'upper'\ntimes = [[0, {seconds}]]\n"
    )
    (dark,) = retargeting(show, build("eaves"), build("eaves", "dormer"), grid).dark
    first = "then cue 1 (wash) lights it, for 0:10 of the song; add a cue for more of it."
    assert dark.proposal.startswith(f"Give it the tag 'roofline', like 'eaves': {first}")
    more = " With the tag 'upper', like 'eaves', cue 2 (glow) lights it for most of the song."
    assert dark.proposal.endswith(more if seconds == 20 else first)


def test_a_new_wreath_may_go_with_the_stars_where_nothing_else_ends_its_darkness(moved: Callable) -> None:
    """Not with a cue that is on one prop by its name: that is meant for that one. Both are figures."""
    ring = '[[prop]]\nname = "crown"\nshape = "ring"\nat = [8, 4, 0]\nwidth = 0.8\npixels = 20\ntags = ["wreath"]\n'
    star, spruce = STAR + 'tags = ["star"]\n', tree("spruce", 2)
    show = "[[cue]]\neffect = 'wash'\non = 'star'\n[[cue]]\neffect = 'glow'\non = 'spruce'\ntimes = [[0, 4]]\n"
    (dark,) = moved(show, shaped("Home", star, spruce), shaped("Home", star, spruce, ring)).dark
    assert (dark.name, dark.proposal) == ("crown", "Give it the tag 'star', like 'star': then cue 1 (wash) lights it.")


def test_the_old_name_of_what_is_called_otherwise_is_no_tag_for_something_new(moved: Callable) -> None:
    """Its cue is told the new name; with the tag the new thing would be taken for the old one."""
    old = shaped("Home", line("box", 1, '"hedge"'), line("other", 2, '"hedge"'))
    new = shaped("Home", line("yew", 1, '"hedge"'), line("other", 2, '"hedge"'), line("sleigh", 3, '"ground"'))
    show = "[[cue]]\neffect = 'wash'\non = 'other'\n[[cue]]\neffect = 'glow'\non = 'box'\ntimes = [[0, 4]]\n"
    report = moved(show, old, new)
    assert {each.name: each.proposal for each in report.dark}["sleigh"] == "Add a cue on it, or on 'all'."


def test_cues_of_which_the_same_is_to_be_said_are_told_together(read: Read, build: Callable, grid: BeatGrid) -> None:
    show = read("".join(f"[[cue]]\neffect = '{effect}'\non = 'hedge'\n" for effect in ("wash", "glow", "wash")))
    text = retarget_text(retargeting(show, build("eaves", "hedge"), build("eaves"), grid))
    assert "  cue 1 (wash), cue 2 (glow), cue 3 (wash): " in text
    assert text.count("before: hedge, 20 pixels") == 1
    assert "    - To keep the whole house: add 'all' to 'on'" in text


def test_a_tag_that_a_prop_cannot_be_is_not_proposed(read: Read, build: Callable, grid: BeatGrid) -> None:
    """Doors are lit all through, but neither a chimney nor what is known as an arch is a door or a window."""
    show = read(
        "[[cue]]\neffect = 'wash'\non = ['door', 'window']\n[[cue]]\neffect = 'glow'\non = 'upper'\ntimes = [[0, 8]]\n"
    )
    old = build("eaves", "path", path=["door", "window"])
    for tags, advice in ((["chimney"], "tag 'upper'"), (["arch"], "tag 'upper'")):
        (dark,) = retargeting(show, old, build("eaves", "path", "new", path=["door", "window"], new=tags), grid).dark
        assert advice in dark.proposal
        assert "'door'" not in dark.proposal


def test_a_cane_may_go_with_the_arches_of_the_path(read: Read, build: Callable, grid: BeatGrid) -> None:
    show = read("[[cue]]\neffect = 'wash'\non = 'arch'\n")
    (dark,) = retargeting(
        show, build("path", path=["arch"]), build("path", "new", path=["arch"], new=["cane"]), grid
    ).dark
    assert dark.proposal.startswith("Give it the tag 'arch', like 'path': then cue 1 (wash) lights it.")


def test_a_prop_with_another_name_changes_no_cue(read: Read, tmp_path: Path) -> None:
    show = read(SHOW)
    text = text_of(list(PROPS))
    houses = []
    for name in ("gable", "front gable"):
        path = tmp_path / f"{name}.toml"
        path.write_text(text.replace('"gable"', f'"{name}"', 1))
        houses.append(load_layout(path))
    report = retargeting(show, *houses, BeatGrid((0.0, 0.5), (1, 2), (), 32.0))
    assert [prop.kinds for prop in report.house.changed] == [("renamed",)]
    assert {cue.state for cue in report.cues} == {"same"}


@pytest.mark.parametrize(
    ("on", "told"),
    [
        ("hedge or eaves", 0),  # bears the tag, whatever it is called
        ("'my hedge' or eaves", 1),
        ("'my hedge' or 'your hedge' or eaves", 0),  # both names are written
    ],
)
def test_a_prop_that_a_cue_names_and_that_is_called_otherwise_now_is_told(
    read: Read, tmp_path: Path, grid: BeatGrid, on: str, told: int
) -> None:
    houses = []
    for name in ("my hedge", "your hedge"):
        path = tmp_path / f"{name}.toml"
        path.write_text(text_of(["eaves", "hedge"]).replace('name = "hedge"', f'name = "{name}"'))
        houses.append(load_layout(path))
    show = read(f'[[cue]]\neffect = "wash"\n[[cue]]\neffect = "glow"\non = "{on}"\n')
    report = retargeting(show, *houses, grid)
    proposals = [proposal for cue in report.cues for proposal in cue.proposals]
    assert len(proposals) == told == report.needs_a_look
    assert not told or proposals[0].startswith("'my hedge' is called 'your hedge' now: write that into its 'on'")


@pytest.mark.parametrize(
    ("names", "tag", "told"),
    [
        (("my hedge", "your hedge"), "hedge", ["'my hedge' is called 'your hedge' now: write that into its 'on'."]),
        (("box", "yew"), "hedge", ["'box' is called 'yew' now: write that into its 'on', or give it the tag 'box'."]),
    ],
)
def test_a_cue_that_is_dark_since_its_prop_is_called_otherwise_is_told_the_new_name_alone(
    moved: Callable, names: tuple[str, str], tag: str, told: list[str]
) -> None:
    """Not the tag that another prop bears, too."""
    old, new = (shaped("Home", line(name, 1, f'"{tag}"'), line("other", 2, f'"{tag}"')) for name in names)
    cue = moved(f"[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\non = '{names[0]}'\n", old, new).cues[1]
    assert (cue.state, cue.now.props, [*cue.proposals]) == ("dark", (), told)


@pytest.mark.parametrize(
    ("cue", "state", "told"),
    [
        ("on = 'fir 2'", "dark", "'fir 2' is called 'spruce 2' now: write that into its 'on'."),  # one of the row alone
        ("on = ['fir 2', 'tree']", "another choice", "'fir 2' is called 'spruce 2' now: write that into its 'on'."),
        ("on = ['tree', 'fir 2']", "same", ""),  # never asked for
        ("on = 'tree and not fir'", "changed", "'fir' is called 'spruce' now: write that into its 'on'"),
        (
            "on = 'tree'\norder = ['fir 2', 'oak']",
            "changed",
            "'fir 2' is called 'spruce 2' now: write that into its 'order'.",
        ),
        ("on = 'tree'\norder = 'left to right'", "same", ""),
    ],
)
def test_a_name_is_told_wherever_a_cue_asks_for_it(moved: Callable, cue: str, state: str, told: str) -> None:
    """In a choice that another takes over from, behind 'not', and in an order of its own."""
    row = tree("fir", 2) + "repeat = { count = 2, step = [2, 0, 0] }\n"
    old = shaped("Home", row, tree("oak", 8))
    report = moved(
        f"[[cue]]\neffect = 'wash'\n[[cue]]\neffect = 'glow'\n{cue}\n", old, old.replace('"fir"', '"spruce"')
    )
    assert (report.cues[1].state, " ".join(report.cues[1].proposals)[: len(told) or 9]) == (state, told)


def test_a_cue_on_whose_renamed_prop_something_stands_in_is_told_the_new_name_first(moved: Callable) -> None:
    old, new = (shaped("Home", STAR.replace('"star"', f'"{name}"', 1)) for name in ("north star", "star"))
    cue = moved("[[cue]]\neffect = 'glow'\non = ['north star', 'eaves']\n", old, new).cues[0]
    assert cue.proposals[0] == "'north star' is called 'star' now: write that into its 'on'."


def test_what_lies_near_the_ground_is_no_roofline(read: Read, build: Callable, grid: BeatGrid) -> None:
    show = read("[[cue]]\neffect = 'wash'\non = 'roofline'\n")
    old = build("eaves", "gable")
    (high,) = retargeting(show, old, build("eaves", "gable", "dormer"), grid).dark
    (low,) = retargeting(show, old, build("eaves", "gable", "path", path=["rail"]), grid).dark
    assert "the tag 'roofline'" in high.proposal
    assert "the tag 'roofline'" not in low.proposal


@pytest.mark.parametrize(
    ("tag", "expected"),
    [
        ("wreath", "Give it the tag 'wreath': then cue 1 (glow) lights it, and no longer 'fir'."),
        ("crown", "Add a cue on it, or on 'all'."),  # of no kind that is known: it takes nothing away
    ],
)
def test_a_tag_that_takes_light_from_other_props_says_so_and_is_for_what_the_cue_looks_for_first(
    moved: Callable, tag: str, expected: str
) -> None:
    """A ring is a kind of wreath."""
    house = shaped("House", tree("fir", 2))
    new = (
        line("rail", 3)
        if tag == "crown"
        else STAR.replace('"star"', '"bow"', 1)
        .replace('"star"', '"ring"')
        .replace("outer = 0.5\ninner = 0.2", "width = 1")
    )
    report = moved(f"[[cue]]\neffect = 'glow'\non = ['{tag}', 'tree']\n", house, house + new)
    assert [dark.proposal for dark in report.dark] == [expected]


def test_what_a_prop_is_counts_before_what_it_hangs_on(moved: Callable) -> None:
    """A snowflake of spokes on the garage: its kind of star, not the garage's door."""
    flake = '[[prop]]\nname = "flake"\nshape = "spokes"\narms = 6\nouter = 1\npixels = 5\nat = [3, 4, 0]\n'
    flake += 'tags = ["garage", "spokes"]\n'
    house = shaped("House", STAR + 'tags = ["star"]\n', line("gate", 4, '"door"'))
    show = "[[cue]]\neffect = 'wash'\non = 'door'\n[[cue]]\neffect = 'glow'\non = 'star'\n"
    (dark,) = moved(show, house, house + flake).dark
    assert (dark.name, dark.proposal) == ("flake", "Give it the tag 'star', like 'star': then cue 2 (glow) lights it.")

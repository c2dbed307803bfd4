"""The command as a whole: help, exit codes, and no traceback whatever happens."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from eavesong import __version__
from eavesong.cli import COMMANDS, EXAMPLES, _plainly, group

Run = Callable[..., "object"]


def test_pydantic_looks_for_no_plug_ins_and_misses_nothing_by_it() -> None:
    code = (
        "import sys; from eavesong.cli import _look_for_no_plug_ins; _look_for_no_plug_ins()\n"
        "from eavesong.show.model import Fade; Fade(beats=1)\n"
        "print([name for name in ('importlib.metadata', 'email', 'zipfile') if name in sys.modules])\n"
        "from pydantic.plugin._loader import PYDANTIC_ENTRY_POINT_GROUP; print(PYDANTIC_ENTRY_POINT_GROUP)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["[]", "pydantic"]


def test_help_lists_every_command_without_importing_one(eavesong) -> None:
    ended = eavesong("--help")
    assert ended.code == 0
    assert [line.split()[0] for line in ended.out.partition("Commands:\n")[2].splitlines()] == list(COMMANDS)
    code = (
        "import sys; from eavesong.cli import group; group.main(['--help'], standalone_mode=False);"
        "print([name for name in ('numpy', 'numba', 'pydantic', 'h5py') if name in sys.modules], file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_what_it_is_for(eavesong, name: str) -> None:
    ended = eavesong(name, "--help")
    assert ended.code == 0
    assert f"Usage: eavesong {name}" in ended.out
    command = group.get_command(click.Context(group), name)
    assert command is not None
    assert command.help
    assert all(option.help for option in command.params if isinstance(option, click.Option))


@pytest.mark.parametrize("name", COMMANDS)
def test_what_is_left_out_is_told_with_an_example_that_can_be_read(eavesong, name: str) -> None:
    command = group.get_command(click.Context(group), name)
    assert command is not None
    needed = [each for each in command.params if each.required]
    assert not needed or name in EXAMPLES
    if name in EXAMPLES:
        words = EXAMPLES[name].split()
        assert words[:2] == ["eavesong", name]
        command.make_context(name, words[2:])  # raises for what is missing or unknown
    if needed:
        ended = eavesong(name)
        assert ended.code == 2
        assert ended.err.rstrip().endswith(f"For example: {EXAMPLES[name]}")


def test_the_version_is_that_of_the_package(eavesong) -> None:
    assert eavesong("--version").out == f"eavesong {__version__}\n"


def test_a_command_typed_wrongly_is_2_with_the_nearest_one(eavesong) -> None:
    ended = eavesong("rendre")
    assert ended.code == 2
    assert "There is no command 'rendre'. Did you mean 'render'?" in ended.err


def test_an_option_typed_wrongly_is_2(eavesong) -> None:
    ended = eavesong("render", "a.show.toml", "--layuot", "b.toml")
    assert ended.code == 2
    assert "--layout" in ended.err


def test_a_missing_file_is_3_with_what_lies_there(eavesong, tmp_path: Path) -> None:
    (tmp_path / "house.toml").write_text("")
    ended = eavesong("layout", tmp_path / "hause.toml")
    assert ended.code == 3
    assert "there is no such file\n    Did you mean 'house.toml'?" in ended.err
    assert "Traceback" not in ended.err


def test_all_problems_are_told_and_counted(eavesong, tmp_path: Path) -> None:
    effect = tmp_path / "wrong.toml"
    effect.write_text('title = "W"\nabout = "Wrong."\ncode = """\nlevel = swep(x)\ncolour = palete(y)\n"""\n')
    ended = eavesong("effects", effect)
    assert ended.code == 3
    assert "line 4, column 9: there is no function 'swep'\n    Did you mean 'step'?" in ended.err
    assert "line 5, column 10: there is no function 'palete'\n    Did you mean 'palette'?" in ended.err
    assert ended.err.endswith("\n2 problems.\n")


def test_a_fault_of_ours_is_70_with_a_report_and_no_traceback(eavesong, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("eavesong.language.load_effect", lambda name: 1 / 0)
    ended = eavesong("effects", "knock")
    assert ended.code == 70
    assert "eavesong itself has a fault: ZeroDivisionError" in ended.err
    assert "Traceback" not in ended.err
    report = Path(ended.err.split()[-1])
    assert "Traceback" in report.read_text()
    report.unlink()


def test_an_interruption_is_130(eavesong, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(name: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("eavesong.language.load_effect", interrupted)
    assert eavesong("effects", "knock").code == 130


@pytest.mark.parametrize("name", COMMANDS)
def test_whatever_writes_files_replaces_nobodys_but_its_own(name: str) -> None:
    """Every command with a file to write has the option without which it takes the place of nothing else."""
    command = group.get_command(click.Context(group), name)
    assert command is not None
    options = {word.lstrip("-") for option in command.params for word in option.opts}
    writes = options & {"out", "picture", "page", "parts", "propose", "draw", "sections", "click", "salvage", "report"}
    assert not writes or "overwrite" in options, writes


SWALLOWED = """
import ctypes, os, signal, time
import click
from eavesong import cli

signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever runs tests in the background has it ignored

@click.command()
def command():
    def called():
        os.kill(os.getpid(), signal.{})
        time.sleep(0.01)
    ctypes.CFUNCTYPE(None)(called)()  # what is raised in it goes no further
    time.sleep(600)

cli.group.get_command = lambda context, name: command
cli.main(["effects"])
"""


@pytest.mark.parametrize(("signal", "code"), [("SIGTERM", 143), ("SIGINT", 130)])
def test_being_asked_to_end_is_not_lost_in_a_function_that_c_calls(signal: str, code: int) -> None:
    """As LLVM calls one while code is compiled. Python's own word of it is not printed either."""
    words = [sys.executable, "-c", SWALLOWED.format(signal)]
    done = subprocess.run(words, capture_output=True, text=True, timeout=300)
    assert done.returncode == code
    assert "ignored" not in done.stderr
    assert "Traceback" not in done.stderr


def test_words_of_the_command_line_are_those_of_people(tmp_path, monkeypatch):
    (tmp_path / "Midnight Snow.wav").write_bytes(b"")
    monkeypatch.chdir(tmp_path)
    told = _plainly("Got unexpected extra argument (Snow.wav)", ["beats", "Midnight", "Snow.wav"])
    assert told.endswith('A name with blanks stands in quotes: "Midnight Snow.wav".')
    assert (
        _plainly("'80ms' is not a valid float.", [])
        == "'80ms' is not a number: write it alone, without a unit, with a point."
    )

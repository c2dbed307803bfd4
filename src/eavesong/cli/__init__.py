"""The command ``eavesong``: one file per command, read only when that command is asked for."""

from __future__ import annotations

import gc
import os
import signal
import sys
from importlib import import_module
from types import ModuleType
from typing import Any

import click

from eavesong import __version__
from eavesong.errors import EavesongError, OutputError, advise

COMMANDS = {
    "demo": "Do the whole job once, on three songs of our own.",
    "new": "Begin: write a house, a show and a setlist to change.",
    "survey": "Find a house's measures from a photo and a tape measure.",
    "layout": "Summarise a house and draw it.",
    "effects": "List the effects, or describe one.",
    "gallery": "Make a page with pictures of every effect.",
    "explain": "Show what an effect is compiled to.",
    "beats": "Find the beats, bars and sections of a song.",
    "draft": "Write a first version of a show from the song.",
    "watch": "Show the house live while its texts are changed.",
    "check": "Say what every cue of a show lights, before rendering.",
    "render": "Render a show on a house into a frames file.",
    "retarget": "Move a show to a changed house, rendering only what changed.",
    "pack": "Put a show into one small file to hand on, without its song.",
    "unpack": "Unpack a show for your own copy of its song.",
    "align": "Take a beats text from one copy of a song to another.",
    "batch": "Render all songs of a setlist, on one machine or several.",
    "follow": "Say how the light of frames follows their song.",
    "limits": "Say whether supplies, wires, data lines and eyes can carry a show.",
    "info": "Say what is in a frames file.",
    "preview": "Show the house lit: a picture, a clip, or a page to play.",
    "play": "Play frames on the house with the song, or a setlist's evenings.",
    "listen": "Show what arrives on the network, as a small live picture.",
    "identify": "Light one prop or output at a time, dimly.",
    "schema": "Print the JSON Schema of a kind of file, for editors.",
}
"""Every command and its line in the help, so that asking for help imports none of them."""

EXAMPLES = {
    "survey": "eavesong survey house.survey.toml",
    "new": "eavesong new our-house",
    "layout": "eavesong layout house.toml --draw house.png",
    "explain": "eavesong explain swell",
    "beats": "eavesong beats song.flac",
    "draft": "eavesong draft song.flac --layout house.toml --out first.show.toml",
    "watch": "eavesong watch first.show.toml --layout house.toml",
    "check": "eavesong check first.show.toml --layout house.toml",
    "render": "eavesong render first.show.toml --layout house.toml --out first.h5",
    "retarget": "eavesong retarget first.show.toml --from house-2026.toml --to house-2027.toml",
    "pack": "eavesong pack first.show.toml --out first.pack",
    "unpack": "eavesong unpack first.pack --song song.flac",
    "align": "eavesong align song.beats --from song.flac --to other-copy.mp3",
    "batch": "eavesong batch evenings.toml",
    "follow": "eavesong follow first.h5",
    "limits": "eavesong limits house.toml first.h5",
    "info": "eavesong info first.h5",
    "preview": "eavesong preview first.h5 --out first.png --at 0:30",
    "play": "eavesong play first.h5",
    "identify": "eavesong identify --layout house.toml",
    "schema": "eavesong schema layout",
}
"""A whole line for every command that needs something: it is shown to whoever leaves that out."""

CRASHED = 70
INTERRUPTED = 130


class _Commands(click.Group):
    """A group that imports a command when it is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The commands' names, in the order of the help."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The command called so, its module imported now; None where there is none."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"eavesong.cli.{cmd_name}").command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the commands and their lines, without importing any."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that ``args`` name and what is left for it; a UsageError with advice where none is called so."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            ctx.fail(f"There is no command '{args[0]}'. {advise(args[0], COMMANDS, 'command')}")
        return super().resolve_command(ctx, args)


@click.group(cls=_Commands, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.version_option(__version__, message="eavesong %(version)s")
def group() -> None:
    """Choreograph a house of lights once, and play it on any house.

    Exit codes: 0 all well, 1 a check found something, 2 typed wrongly, 3 an input cannot be used, 4 an output
    cannot be written, 70 a fault in eavesong, 130 interrupted.
    """


def _look_for_no_plug_ins() -> None:
    """Stand in for what looks for plug-ins of pydantic, of which none has a say in our files: it would go through every
    package that is installed, and import readers of mail and of archives even to be told not to."""
    name = "pydantic.plugin._loader"

    def real(what: str) -> Any:
        """Anything else that is asked of it, from what it stands in for."""
        if what.startswith("__"):  # which the import system asks of any module
            raise AttributeError(what)
        sys.modules.pop(name, None)
        return getattr(import_module(name), what)

    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # for processes that this one starts
    instead: Any = ModuleType(name)
    instead.get_plugins, instead.__getattr__ = tuple, real
    sys.modules.setdefault(name, instead)


def main(arguments: list[str] | None = None) -> None:
    """Run the command line and end the process with its exit code; errors are printed, never a traceback."""
    # Asked to end, a command ends as it does on an error: drafts are removed, files stay what they were.
    signal.signal(signal.SIGTERM, lambda number, frame: sys.exit(128 + number))
    if sys.unraisablehook is sys.__unraisablehook__:  # and not that of whoever runs us within a program
        sys.unraisablehook = _ask_again
    # numpy is not loaded yet, and reads this when it is. Our matrices are small: more threads would spin and wait, and
    # take the processors from those that work.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # What a command imports and builds stays: looking through it a hundred times was a tenth of what a short one took.
    gc.set_threshold(10_000)
    _look_for_no_plug_ins()
    try:
        result: Any = group.main(arguments, prog_name="eavesong", standalone_mode=False)
    except click.exceptions.Abort:
        if arguments is None:  # it ends now: who asks twice needs no traceback of what is being put away
            signal.signal(signal.SIGINT, signal.SIG_IGN)
        click.echo("Interrupted.", err=True)
        sys.exit(INTERRUPTED)
    except click.ClickException as fault:
        vars(fault).update(message=_plainly(fault.message, sys.argv[1:] if arguments is None else arguments))
        fault.show()
        command = fault.ctx.info_name if isinstance(fault, click.MissingParameter) and fault.ctx else None
        if command in EXAMPLES:
            click.echo(f"For example: {EXAMPLES[command]}", err=True)
        sys.exit(fault.exit_code)
    except EavesongError as fault:
        click.echo(str(fault), err=True)
        if fault.count > 1:
            click.echo(f"\n{fault.count:,} problems.", err=True)
        sys.exit(fault.exit_code)
    except BrokenPipeError:
        sys.stderr.close()
        sys.exit(0)
    except OSError as fault:
        where = f"{fault.filename}: " if fault.filename else ""
        click.echo(f"{where}{fault.strerror or fault}", err=True)
        sys.exit(OutputError.exit_code)
    except ModuleNotFoundError as fault:
        if (fault.name or "eavesong").partition(".")[0] == "eavesong":
            _report_fault(fault)
            sys.exit(CRASHED)
        told = f"'{fault.name}' is not installed. This command needs all of eavesong: pip install eavesong"
        click.echo(told, err=True)
        sys.exit(EavesongError.exit_code)
    except Exception as fault:
        _report_fault(fault)
        sys.exit(CRASHED)
    sys.exit(result if isinstance(result, int) else 0)


ASK_AGAIN = 0.05
"""Seconds after which a command is asked again to end."""


def _ask_again(swallowed: Any) -> None:
    """Ask once more to end where that came while something ran that lets no exception through.

    Python throws away, and prints, what is raised in a function that C calls, as LLVM does while code is compiled, or
    while something is taken out of the memory. Whoever asked would wait for ever.
    """
    asked = {KeyboardInterrupt: signal.SIGINT, SystemExit: signal.SIGTERM}.get(swallowed.exc_type)
    if asked is None:
        sys.__unraisablehook__(swallowed)
        return
    import threading

    main_thread = threading.main_thread().ident
    assert main_thread is not None
    kill: Any = getattr(signal, "pthread_kill", lambda thread, number: signal.raise_signal(number))
    again = threading.Timer(ASK_AGAIN, kill, (main_thread, asked))
    again.daemon = True
    again.start()


_OF_CLICK = {
    "is not a valid integer range": "is not a whole number",
    "is not a valid float range": "is not a number",
    "is not a valid integer": "is not a whole number",
    "is not a valid float": "is not a number: write it alone, without a unit, with a point",
}
"""Words of click's messages, and everybody's."""


def _plainly(message: str, arguments: list[str]) -> str:
    """A message of click's in words that people use; for an argument too many, how names with blanks are written."""
    for theirs, plain in _OF_CLICK.items():
        message = message.replace(theirs, plain)
    if "unexpected extra argument" in message:
        spans = (
            " ".join(arguments[first : first + many]) for first in range(1, len(arguments)) for many in range(2, 9)
        )
        meant = next((name for name in spans if os.path.exists(name)), "Midnight Snow.wav")
        message += f'. A name with blanks stands in quotes: "{meant}".'
    return message


def _report_fault(fault: Exception) -> None:
    """A fault of ours: where it happened, in two lines, and the traceback in a file for whoever mends it."""
    import tempfile
    import traceback

    kind: Any = {"mode": "w", "encoding": "utf-8", "prefix": "eavesong-fault-", "suffix": ".txt"}
    with tempfile.NamedTemporaryFile(**kind, delete=False) as report:
        report.write("".join(traceback.format_exception(fault)))
    click.echo(f"eavesong itself has a fault: {type(fault).__name__}: {fault}", err=True)
    click.echo(f"Please report it with the file {report.name}", err=True)

"""``pack.toml``: what a pack says of itself, as a pydantic model, and its README for people."""

from __future__ import annotations

import json
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, Strict

from eavesong.files import plain_text
from eavesong.show.model import Line


class _Table(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class PackedSong(_Table):
    """What is known of the song, which is not in the pack."""

    name: Line = ""
    """Its file's name without the ending, so that people know which song to look for."""
    seconds: Annotated[float, Field(gt=0, le=30_000, allow_inf_nan=False)]
    sha256: Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
    """Of its file: another person's is another one, but on the way back nothing needs to be looked for."""


class Manifest(_Table):
    """The whole of ``pack.toml``."""

    format: Literal[1]
    title: Line
    show: Line
    """Name of the show's file in the pack."""
    events: Literal["written", "heard"]
    """Whether somebody wrote or mended the events text; else any copy of the song can be heard anew."""
    licence: Line = ""
    credits: Annotated[tuple[Line, ...], Strict(False), Field(max_length=50)] = ()
    effects: Annotated[
        tuple[Annotated[str, Field(max_length=120), AfterValidator(plain_text)], ...],
        Strict(False),
        Field(max_length=300),
    ] = ()
    """The effects that come with eavesong and that the show uses, by name."""
    song: PackedSong


def manifest_text(manifest: Manifest) -> str:
    """The manifest as TOML."""
    given = manifest.model_dump()
    song = given.pop("song")
    lines = [f"{key} = {_value(value)}" for key, value in given.items() if value not in ("", ())]
    return "\n".join([*lines, "", "[song]", *(f"{key} = {_value(value)}" for key, value in song.items())]) + "\n"


def _value(value: Any) -> str:
    if isinstance(value, tuple | list):
        return "[" + ", ".join(map(_value, value)) + "]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def readme(manifest: Manifest, picture: bool, files: list[str]) -> str:
    """One screen for people who find the pack."""
    minutes, seconds = divmod(round(manifest.song.seconds), 60)
    credits = "".join(f"by         {each}\n" for each in manifest.credits)
    licence = manifest.licence or "not said: ask whoever gave it to you"
    own = [name for name in files if name.endswith(".toml") and name not in ("pack.toml", manifest.show)]
    looks = "filmstrip.webp shows what it looks like, without what one house wishes.\n\n" if picture else ""
    return f"""{manifest.title}
{"=" * len(manifest.title)}

A light show for a song, to be played on any house with eavesong. The song is not in
here and may not be handed on with it; you need a copy of your own.

for        {manifest.song.name or "a song"} ({minutes}:{seconds:02d})
{credits}may be used: {licence}

{looks}To unpack it for your copy of the song and your house:

    eavesong unpack THIS.pack.zip --song mine.mp3 --layout house.toml --to song/

Your copy may start earlier or later, run faster or slower, or be another edit:
eavesong finds out, and says how sure it is.

{manifest.show:<24} the show: which effect plays on what, and when
song.beats, .sections    beats and sections of the copy it was made for
song.events              strokes, stops, builds and the like ({manifest.events})
song.trace               what begins when, to find the song; no music can be made from it
pack.toml                all of this for programs
{"".join(f"{name:<24} an effect of its own{chr(10)}" for name in own)}"""

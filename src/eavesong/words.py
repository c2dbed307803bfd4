"""How figures are written wherever people read them."""

from __future__ import annotations

import re

_COMMANDING = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]")
"""Control characters (C0, C1: ISO/IEC 6429), what turns the direction of writing (Unicode UAX 9), halves of pairs."""


def visible(text: str, keep: str = "") -> str:
    """``text`` with what would command a terminal written out, ``\\x1b`` for escape; ``keep`` stays as it is."""
    return _COMMANDING.sub(lambda found: found[0] if found[0] in keep else ascii(found[0])[1:-1], text)


def typed(path: object) -> str:
    """A path as every system's command line takes it: in double quotes where it holds blanks."""
    return f'"{path}"' if re.search(r"[\s&()';]", str(path)) else str(path)


_LITTLE = re.compile(r"\d+|an?|the")


def song_and_show(show: str, song: str) -> str:
    """What a song is called where it is shown: the show's title, and the ``song``, a file's name, if that tells more.

    One show may be for many songs: ``frost waltz · First show``; a show called like its song stands alone, articles and
    numbers left aside.
    """
    stem = re.sub(r"\.[A-Za-z0-9]{1,5}$", "", song).replace("-", " ").replace("_", " ").strip()
    inner, outer = (re.sub(r"[\W_]", "", text.casefold()) for text in (stem, show))
    if not inner or inner in outer:
        return show or stem
    words, of_song = ([word for word in re.findall(r"\w+", text.casefold()) if not _LITTLE.fullmatch(word)]
                      for text in (show, stem))  # fmt: skip
    return show if words == of_song else f"{stem} · {show}" if show else stem


def called_after(stem: str) -> str:
    """A title from a file's name: ``Lantern walk`` for ``lantern-walk``, ``01 - Frost`` as it is."""
    words = re.sub(r"(?<=\w)-(?=\w)", " ", stem.replace("_", " ")).strip()
    return words[:1].upper() + words[1:] if words == words.lower() else words


def no_text(name: str, data: bytes) -> str:
    """What a file is that is no text, by its first bytes or the end of its name: ``a song``; else empty."""
    if data.startswith(b"\x89HDF"):  # the signature of HDF5, in which frames are kept
        return "a frames file"
    end = name.lower().rpartition(".")[2]
    kinds = {
        "a song": ("wav", "flac", "mp3", "ogg", "oga", "opus", "m4a", "aac", "aif", "aiff"),
        "a picture": ("png", "jpg", "jpeg", "webp", "heic"),
        "a pack": ("zip", "pack"),
    }
    return next((kind for kind, ends in kinds.items() if end in ends), "")


_ELSEWHERE = {
    "unlit": 'What a house keeps dark stands in its layout, above the first [header]: unlit = ["…"].',
    "layout": "A show names no house: it is given as --layout HOUSE, or as 'layout' in a setlist.",
    "limit": "It is asked for when frames are made: render --limit, or 'limit' in a setlist.",
    "soften": "It is asked for when frames are made: render --soften, or 'soften' in a setlist.",
    "evening": "An [evening] stands in a setlist.",
    "palettes": "[palettes] stand in the house's layout, in place of others, or in the show, its own.",
    "photo": 'The photo of a house is named in its layout: photo = "house.jpg".',
    "speed": "What an effect takes goes into parameters = { … }: 'eavesong effects NAME' lists it.",
    "brightness": "How strong a cue is, from 0 to 1, is its 'opacity'; 'brightness' is of an output in a layout.",
    "bpm": "Beats are heard in the song: eavesong beats SONG shows them, and how to mend them.",
}
"""Keys that people write into the wrong file, and where they belong."""


def elsewhere(key: str) -> str:
    """Advice for a ``key`` that is none here and one of another kind of file; empty for any other."""
    return _ELSEWHERE.get("bpm" if key == "tempo" else key, "")


NUMBER = r"[+-]?\d+(?:[.,]\d+)?"
UNIT = r"(?:mm|cm|met(?:re|er)s?|m|feet|foot|ft|inch(?:es)?|in|'|\"|′|″)"
_OWN = {"m": "m", "c": "cm", "mm": "mm", "f": "ft", "'": "ft", "′": "ft", "i": "in", '"': "in", "″": "in"}
"""The unit of a file that a unit of ``UNIT`` is, by its first letters."""


_OTHER_UNITS = {
    "seconds": ("s", "sec", "secs"),
    "minutes": ("min", "mins"),
    "hours": ("h", "hrs"),
    "watts": ("w",),
    "volts": ("v",),
    "amperes": ("a", "amp", "amps"),
    "degrees": ("deg", "°"),
}
"""Units other than of lengths, and how they are written for short."""


METRES = {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": 0.3048, "in": 0.0254}
"""Metres in one of each unit. 1 yd = 0.9144 m exactly: international yard and pound agreement, 1959."""
_PARTS = rf"[+-]?\d+\s+\d+/\d+|[+-]?\d+/\d+|{NUMBER}"
_FEET_AND_INCHES = re.compile(rf"\s*(\d+)\s*(?:feet|foot|ft|'|′)\s*({_PARTS})\s*(?:inch(?:es)?|in|\"|″|'')?\s*")
_ONE_LENGTH = re.compile(rf"\s*({_PARTS})\s*({UNIT})\s*")


def number_meant(text: str, units: str = "") -> str:
    """What to write instead of a ``text`` where a number belongs, ``3,6`` or ``12 ft``; empty for any other text.

    units: in which the file tells lengths, one of METRES; empty where that is not known.
    """
    if length := _length_in(text):
        number, own = length
        if units in METRES:
            return f"Write {_rounded(number * METRES[own] / METRES[units])}, without a unit: this file's are '{units}'."
        feet = f", {_rounded(number / 12)} where they are 'ft'" if own == "in" else ""
        return f"Write a number alone, in the units of the file: {_rounded(number)} where these are '{own}'{feet}."
    if share := re.fullmatch(rf"\s*({NUMBER})\s*%\s*", text):
        return f"Write {float(share[1].replace(',', '.')) / 100:g}, without quotes."
    if other := re.fullmatch(rf"\s*({NUMBER})\s*([A-Za-z]+|°)\s*", text):
        kind = next((kind for kind, short in _OTHER_UNITS.items() if other[2].lower() in (*short, kind, kind[:-1])), "")
        number_alone = other[1].replace(",", ".")
        return f"Write a number alone, in the units of the file: {number_alone} where these are {kind}." if kind else ""
    if re.fullmatch(rf"\s*({_PARTS})\s*", text):
        return f"Write {_rounded(_number(text)) if '/' in text else text.strip().replace(',', '.')}, without quotes."
    return ""


def _length_in(text: str) -> tuple[float, str] | None:
    """A length as a tape tells it, ``12 ft``, ``26 ft 2 1/2 in``, and its unit; None for any other text."""
    if both := _FEET_AND_INCHES.fullmatch(text):
        return float(both[1]) + _number(both[2]) / 12, "ft"
    found = _ONE_LENGTH.fullmatch(text)
    return (_number(found[1]), _OWN.get(found[2]) or _OWN[found[2][:1]]) if found else None


def _number(text: str) -> float:
    """``6``, ``6,5``, ``1/2`` or ``6 1/2``; 0 where something is divided by nothing."""
    total, sign = 0.0, -1.0 if text.strip().startswith("-") else 1.0
    for part in text.strip().lstrip("+-").split():
        over, _, under = part.replace(",", ".").partition("/")
        total += float(over) / float(under or 1) if float(under or 1) else 0.0
    return sign * total


def _rounded(number: float) -> str:
    return f"{round(number, 3):g}" if abs(number) >= 0.01 else f"{number:.3g}"


_CLOCK = re.compile(r"(?:(\d{1,3}):(?=\d\d?:))?(\d{1,4}):([0-5]?\d(?:\.\d*)?)", re.ASCII)


def seconds_on_clock(text: str) -> float | None:
    """The seconds of a time of a song with colons, ``1:02.5`` or ``1:02:05``; None for any other text."""
    if not (found := _CLOCK.fullmatch(text.strip())):
        return None
    return 3600.0 * int(found[1] or 0) + 60.0 * int(found[2]) + float(found[3])


def song_time_meant(text: str) -> str:
    """What to write instead of a ``text`` that is no time of a song: ``0:75`` has too many seconds, ``1.15``
    is a minute and a quarter."""
    if found := re.fullmatch(r"\s*(\d{1,3})[:.,](\d{2})(?:[.,]\d+)?\s*(?:min|m)?\s*", text, re.ASCII):
        return f"Write '{clock_text(60 * int(found[1]) + int(found[2]), 0)}'."
    return "Write seconds, 62.5, or minutes too, '1:02.5'."


def clock_text(seconds: float, places: int = 2) -> str:
    """A time of a song in minutes and seconds: ``1:02.50``; with hours where there are any: ``1:02:05.00``.

    Rounded to so many decimal places before it is parted, so that 59.996 s are ``1:00.00``; a minus sign before the
    song begins, none before a zero.
    """
    parts = round(abs(seconds) * 10**places)
    whole, fraction = divmod(parts, 10**places)
    minutes, rest = divmod(whole, 60)
    hours, minutes = divmod(minutes, 60)
    sign = "-" if seconds < 0 and parts else ""
    text = f"{hours}:{minutes:02d}:{rest:02d}" if hours else f"{minutes}:{rest:02d}"
    return f"{sign}{text}.{fraction:0{places}d}" if places else f"{sign}{text}"

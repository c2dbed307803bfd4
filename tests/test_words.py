"""Times as people read them."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eavesong.words import (
    METRES,
    called_after,
    clock_text,
    no_text,
    number_meant,
    seconds_on_clock,
    song_and_show,
    song_time_meant,
    visible,
)


@pytest.mark.parametrize(
    ("seconds", "places", "shown"),
    [
        (0, 2, "0:00.00"),
        (62.5, 2, "1:02.50"),
        (62.35, 1, "1:02.4"),
        (7.4, 0, "0:07"),
        (3725, 0, "1:02:05"),
        (3661, 2, "1:01:01.00"),
        (-1.25, 2, "-0:01.25"),
        # Rounding reaches the next second, minute and hour, and never leaves 60 behind.
        (59.994, 2, "0:59.99"),
        (59.996, 2, "1:00.00"),
        (59.96, 1, "1:00.0"),
        (59.6, 0, "1:00"),
        (119.999, 2, "2:00.00"),
        (3599.996, 2, "1:00:00.00"),
        (-59.999, 2, "-1:00.00"),
        (-0.001, 2, "0:00.00"),
    ],
)
def test_times_as_people_read_them(seconds: float, places: int, shown: str) -> None:
    assert clock_text(seconds, places) == shown


@given(st.floats(-1e6, 1e6), st.integers(0, 3))
def test_what_is_read_is_the_time_to_the_last_place(seconds: float, places: int) -> None:
    shown = clock_text(seconds, places)
    parts = [Fraction(part) for part in shown.removeprefix("-").split(":")]
    assert all(part < 60 for part in parts[1:])
    read = sum(part * 60**power for power, part in enumerate(reversed(parts)))
    read = -read if shown.startswith("-") else read
    assert abs(float(read) - seconds) <= 0.5 / 10**places + 1e-9


def test_what_commands_a_terminal_is_written_out() -> None:
    """ISO/IEC 6429: 01/11 is ESCAPE, 09/11 CONTROL SEQUENCE INTRODUCER; Unicode: U+202E turns what follows around."""
    assert visible("\x1b[2J\x9b2J\u202e\r\n") == r"\x1b[2J\x9b2J\u202e\r\n"
    assert visible("Grüße, ☃ 👩‍🚒") == "Grüße, ☃ 👩‍🚒"
    assert visible("two\nlines\x00", keep="\n") == "two\nlines\\x00"


ALONE = "Write a number alone, in the units of the file:"


@pytest.mark.parametrize(
    ("text", "advice"),
    [
        ("3,6", "Write 3.6, without quotes."),
        ("50", "Write 50, without quotes."),
        (" -3.6 m", f"{ALONE} -3.6 where these are 'm'."),
        ("120 cm", f"{ALONE} 120 where these are 'cm'."),
        ("12 feet", f"{ALONE} 12 where these are 'ft'."),
        ("12'", f"{ALONE} 12 where these are 'ft'."),
        ("5 mm", f"{ALONE} 5 where these are 'mm'."),
        ("20 s", f"{ALONE} 20 where these are seconds."),
        ("1,5 min", f"{ALONE} 1.5 where these are minutes."),
        ("400W", f"{ALONE} 400 where these are watts."),
        ("45°", f"{ALONE} 45 where these are degrees."),
        ("80 %", "Write 0.8, without quotes."),
        ("twelve", ""),
        ("3 bars", ""),
    ],
)
def test_a_number_in_quotes_or_with_a_unit_is_known_for_what_it_is(text: str, advice: str) -> None:
    assert number_meant(text) == advice


@pytest.mark.parametrize(
    ("text", "units", "number"),
    [("2 in", "ft", "0.167"), ("26 ft 2 1/2 in", "ft", "26.208"), ("6 1/2 in", "in", "6.5"), ("6 1/2 in", "m", "0.165"),
     ("5' 6\"", "m", "1.676"), ("120 cm", "m", "1.2"), ("3/4 in", "ft", "0.062"), ("5 mm", "m", "0.005")],
)  # fmt: skip
def test_a_length_is_told_in_the_units_of_its_file(text: str, units: str, number: str) -> None:
    """0.3048 m a foot, of twelve inches: international yard and pound agreement, 1959."""
    assert number_meant(text, units) == f"Write {number}, without a unit: this file's are '{units}'."


def test_inches_are_told_as_feet_too_where_nobody_knows_what_the_file_has() -> None:
    assert number_meant("2 in") == f"{ALONE} 2 where these are 'in', 0.167 where they are 'ft'."
    assert number_meant("1/2") == "Write 0.5, without quotes."


@pytest.mark.parametrize(
    ("show", "song", "called"),
    [
        ("First show", "frost-waltz.flac", "frost waltz · First show"),
        ("Frost Waltz", "frost-waltz.wav", "Frost Waltz"),
        ("Frost Waltz, quick", "frost_waltz.wav", "Frost Waltz, quick"),
        ("Mill", "the-mill.ogg", "Mill"),
        ("Attic", "our-attic.mp3", "our attic · Attic"),
        ("Slow", "slow-waltz.flac", "slow waltz · Slow"),
        ("", "bells.mp3", "bells"),
        ("Bells", "", "Bells"),
        ("", "", ""),
    ],
)
def test_two_songs_of_one_show_are_told_apart(show: str, song: str, called: str) -> None:
    assert song_and_show(show, song) == called


@pytest.mark.parametrize(
    ("text", "seconds"), [("0:59.5", 59.5), ("0:75", None), ("1:02:03", 3723.0), ("90:00", 5400.0)]
)
def test_a_minute_on_the_clock_has_sixty_seconds(text, seconds):
    assert seconds_on_clock(text) == seconds


@pytest.mark.parametrize(
    ("text", "advice"),
    [("0:75", "Write '1:15'."), ("1.15", "Write '1:15'."), ("soon", "Write seconds, 62.5, or minutes too, '1:02.5'.")],
)
def test_what_is_no_time_of_a_song_gets_the_likely_one(text: str, advice: str) -> None:
    assert song_time_meant(text) == advice


@pytest.mark.parametrize(
    ("name", "data", "what"),
    [
        (
            "a.toml",
            b"\x89HDF\r\n\x1a\n",
            "a frames file",
        ),  # the format's signature (HDF5 File Format Specification, II.A)
        ("Snow.MP3", b"ID3", "a song"),
        ("house.jpg", b"", "a picture"),
        ("first.zip", b"PK", "a pack"),
        ("house.toml", b"\xff", ""),
    ],
)
def test_what_is_no_text_is_known_by_its_beginning_or_its_name(name: str, data: bytes, what: str) -> None:
    assert no_text(name, data) == what


def test_units_are_what_the_agreement_of_1959_and_the_si_say():
    """1 yd = 0.9144 m exactly (international yard and pound agreement, 1959); 1 yd = 3 ft = 36 in."""
    assert METRES["ft"] * 3 == pytest.approx(0.9144, rel=1e-15)
    assert METRES["in"] * 36 == pytest.approx(0.9144, rel=1e-15)
    assert [METRES[unit] * 1000 for unit in ("m", "cm", "mm")] == [1000, 10, 1]


@pytest.mark.parametrize(
    ("stem", "title"),
    [("lantern-walk", "Lantern walk"), ("frost_waltz", "Frost waltz"), ("01 - Frost", "01 - Frost"), ("ABC", "ABC")],
)
def test_a_title_from_the_name_of_a_file(stem: str, title: str) -> None:
    assert called_after(stem) == title

"""Dusk and sunset: NOAA's equations against worked examples, published tables and another astronomy library."""

import math
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import ephem
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavesong.season.sun import DUSK, SUNSET, nightfall, solar_noon, sun_at

LONGYEARBYEN = (78.22, 15.65, "Arctic/Longyearbyen")
TROMSO = (69.65, 18.96, "Europe/Oslo")


def test_the_sun_of_a_worked_example() -> None:
    # Meeus, Astronomical Algorithms, examples 25.a and 28.a (1992 October 13, 0h TD): declination -7.78507°,
    # equation of time +13 m 42.6 s. From memory.
    sun = sun_at(datetime(1992, 10, 13, tzinfo=UTC))
    assert sun.declination == pytest.approx(-7.78507, abs=0.001)
    assert sun.equation_of_time == pytest.approx(13 + 42.6 / 60, abs=0.02)


@pytest.mark.parametrize(
    ("place", "latitude", "longitude", "zone", "day", "sunset"),
    [
        # Times as newspapers and almanac sites print them for these cities, to the minute; from memory.
        ("London", 51.51, -0.13, "Europe/London", date(2026, 12, 21), "15:53"),
        ("New York", 40.71, -74.01, "America/New_York", date(2026, 12, 21), "16:32"),
        ("Sydney", -33.87, 151.21, "Australia/Sydney", date(2026, 12, 21), "20:05"),
        ("Reykjavik", 64.15, -21.94, "Atlantic/Reykjavik", date(2026, 12, 21), "15:30"),
    ],
)
def test_sunset_as_printed(place: str, latitude: float, longitude: float, zone: str, day: date, sunset: str) -> None:
    found = nightfall(day, latitude, longitude, ZoneInfo(zone), SUNSET)
    assert found is not None
    printed = datetime.combine(day, datetime.strptime(sunset, "%H:%M").time(), ZoneInfo(zone))
    assert abs(found - printed) <= timedelta(minutes=2), place


def almanac(noon: datetime, latitude: float, longitude: float, zenith: float) -> datetime | None:
    """PyEphem (libastro, VSOP87): when the sun's centre sinks to ``zenith`` after noon."""
    watcher = ephem.Observer()
    watcher.lat, watcher.lon, watcher.pressure = str(latitude), str(longitude), 0
    watcher.horizon = str(90 - zenith)
    watcher.date = ephem.Date(noon.astimezone(UTC).replace(tzinfo=None))
    try:
        setting = watcher.next_setting(ephem.Sun(), use_center=True).datetime().replace(tzinfo=UTC)
    except (ephem.AlwaysUpError, ephem.NeverUpError):
        return None
    return setting if setting - noon < timedelta(hours=12.5) else None


PLACES = [
    (60.17, 24.94, "Europe/Helsinki"),
    (51.51, -0.13, "Europe/London"),
    (40.71, -74.01, "America/New_York"),
    (1.35, 103.82, "Asia/Singapore"),
    (-33.87, 151.21, "Australia/Sydney"),
    (-54.80, -68.30, "America/Argentina/Ushuaia"),
    (-13.83, -171.76, "Pacific/Apia"),  # its clocks are a day ahead of its sun
    TROMSO,
]
DAYS = [date(2026, 1, 6), date(2026, 3, 20), date(2026, 10, 31), date(2026, 12, 21), date(2028, 2, 29)]


@pytest.mark.parametrize("zenith", [SUNSET, DUSK])
@pytest.mark.parametrize(("latitude", "longitude", "zone"), PLACES)
def test_against_another_library(latitude: float, longitude: float, zone: str, zenith: float) -> None:
    for day in DAYS:
        noon = solar_noon(day, longitude, ZoneInfo(zone))
        found = nightfall(day, latitude, longitude, ZoneInfo(zone), zenith)
        expected = almanac(noon, latitude, longitude, zenith)
        if expected is None:
            assert found is None or abs(found - noon) < timedelta(seconds=2)
            continue
        assert found is not None
        assert found.date() == day
        # NOAA: good to a minute between ±72° of latitude.
        assert abs(found - expected) < timedelta(minutes=1), (day, found, expected)


def test_polar_night() -> None:
    # Longyearbyen: civil polar night from mid November to the end of January (Norwegian almanac, from memory).
    noon = solar_noon(date(2026, 12, 21), LONGYEARBYEN[1], ZoneInfo(LONGYEARBYEN[2]))
    assert nightfall(date(2026, 12, 21), *LONGYEARBYEN[:2], ZoneInfo(LONGYEARBYEN[2])) == pytest.approx(
        noon, abs=timedelta(seconds=2)
    )
    # Tromsø: the sun does not rise from 27 November to 15 January, but there is a dusk (from memory).
    assert nightfall(date(2026, 12, 21), *TROMSO[:2], ZoneInfo(TROMSO[2]), SUNSET) == pytest.approx(
        solar_noon(date(2026, 12, 21), TROMSO[1], ZoneInfo(TROMSO[2])), abs=timedelta(seconds=2)
    )
    dusk = nightfall(date(2026, 12, 21), *TROMSO[:2], ZoneInfo(TROMSO[2]))
    assert dusk is not None
    assert 13 <= dusk.hour <= 14


def test_dusk_runs_into_noon_as_polar_night_comes() -> None:
    zone = ZoneInfo(LONGYEARBYEN[2])
    days = [date(2026, 10, 1) + timedelta(days=n) for n in range(92)]
    hours = []
    for day in days:
        dusk = nightfall(day, *LONGYEARBYEN[:2], zone)
        assert dusk is not None
        hours.append((dusk - solar_noon(day, LONGYEARBYEN[1], zone)).total_seconds() / 3600)
    assert all(b <= a + 1e-3 for a, b in pairwise(hours))
    assert hours[-1] == pytest.approx(0, abs=1e-3)


@pytest.mark.parametrize(("latitude", "longitude", "zone"), [LONGYEARBYEN, TROMSO, (65.01, 25.47, "Europe/Helsinki")])
def test_it_does_not_get_dark_in_midsummer(latitude: float, longitude: float, zone: str) -> None:
    assert nightfall(date(2026, 6, 21), latitude, longitude, ZoneInfo(zone)) is None


def test_solar_noon_is_on_the_day_asked_for() -> None:
    for zone, longitude in (("Pacific/Apia", -171.76), ("Pacific/Kiritimati", -157.4), ("Pacific/Pago_Pago", -170.7)):
        noon = solar_noon(date(2026, 12, 4), longitude, ZoneInfo(zone)).astimezone(ZoneInfo(zone))
        assert (noon.date(), abs(noon.hour - 12) <= 2) == (date(2026, 12, 4), True)


@settings(max_examples=200)
@given(
    day=st.dates(date(2000, 1, 1), date(2099, 12, 31)),
    latitude=st.floats(-90, 90),
    longitude=st.floats(-180, 180),
)
def test_any_place_on_any_day(day: date, latitude: float, longitude: float) -> None:
    found = nightfall(day, latitude, longitude, UTC)
    if found is None:
        return
    after = (found - solar_noon(day, longitude, UTC)).total_seconds() / 3600
    assert -0.01 <= after <= 12.1
    assert math.isfinite(after)

"""When it gets dark: NOAA's published solar equations.

Source: NOAA Global Monitoring Laboratory, "NOAA Solar Calculator" and its calculation spreadsheets, after Jean Meeus,
*Astronomical Algorithms* (Willmann-Bell 1991). NOAA states them good to a minute between ±72° of latitude, and to some
ten minutes beyond, where the air bends light unforeseeably. Degrees throughout, unless a name says otherwise.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo

SUNSET = 90.833
"""The sun's distance from the zenith at sunset: 90°, refraction 34', half the sun's disc 16' (NOAA)."""
DUSK = 96.0
"""At the end of civil twilight: lamps are needed from then on (NOAA; the sun 6° down)."""

J2000 = datetime(2000, 1, 1, 12, tzinfo=UTC)


@dataclass(frozen=True)
class Sun:
    """Where the sun is at a moment."""

    declination: float
    equation_of_time: float
    """Minutes by which a sundial is ahead of the clock."""


def sun_at(moment: datetime) -> Sun:
    """The sun at ``moment`` (with a time zone): NOAA's equations in the order of its spreadsheet."""
    t = (moment - J2000).total_seconds() / (86_400 * 36_525)
    mean_longitude = (280.46646 + t * (36_000.76983 + t * 0.0003032)) % 360
    anomaly = math.radians(357.52911 + t * (35_999.05029 - 0.0001537 * t))
    eccentricity = 0.016708634 - t * (0.000042037 + 0.0000001267 * t)
    centre = (
        math.sin(anomaly) * (1.914602 - t * (0.004817 + 0.000014 * t))
        + math.sin(2 * anomaly) * (0.019993 - 0.000101 * t)
        + math.sin(3 * anomaly) * 0.000289
    )
    node = math.radians(125.04 - 1934.136 * t)
    longitude = math.radians(mean_longitude + centre - 0.00569 - 0.00478 * math.sin(node))
    mean_tilt = 23 + (26 + (21.448 - t * (46.815 + t * (0.00059 - t * 0.001813))) / 60) / 60
    tilt = math.radians(mean_tilt + 0.00256 * math.cos(node))
    y, twice = math.tan(tilt / 2) ** 2, math.radians(2 * mean_longitude)
    equation = (
        y * math.sin(twice)
        - 2 * eccentricity * math.sin(anomaly)
        + 4 * eccentricity * y * math.sin(anomaly) * math.cos(twice)
        - 0.5 * y * y * math.sin(2 * twice)
        - 1.25 * eccentricity**2 * math.sin(2 * anomaly)
    )
    return Sun(math.degrees(math.asin(math.sin(tilt) * math.sin(longitude))), 4 * math.degrees(equation))


def solar_noon(day: date, longitude: float, zone: tzinfo) -> datetime:
    """When the sun stands highest on that day of the calendar in ``zone``, in UTC; ``longitude`` east positive."""
    mean = _mean_noon(day, longitude, zone)
    return mean - timedelta(minutes=sun_at(mean).equation_of_time)


def nightfall(day: date, latitude: float, longitude: float, zone: tzinfo, zenith: float = DUSK) -> datetime | None:
    """When the sun sinks to ``zenith`` degrees from the zenith on that day, in ``zone``.

    Where it stays below all day (polar night) that is solar noon, which is what nightfall tends to as polar night
    comes; where it stays above (midnight sun, white nights) there is none. ``latitude`` north, ``longitude`` east
    positive.
    """
    mean = _mean_noon(day, longitude, zone)
    moment = mean
    for _ in range(4):  # the sun moves on while it sinks
        sun = sun_at(moment)
        angle = _hour_angle(latitude, sun.declination, zenith)
        if angle is None:
            return None
        moment = mean + timedelta(minutes=4 * angle - sun.equation_of_time)
    return moment.astimezone(zone)


def _mean_noon(day: date, longitude: float, zone: tzinfo) -> datetime:
    """Noon of the mean sun, in UTC."""
    noon = datetime(day.year, day.month, day.day, tzinfo=UTC) + timedelta(minutes=720 - 4 * longitude)
    # Where the clocks are far from the sun (Samoa), that is noon of the day before or after.
    return noon + timedelta(days=(day - noon.astimezone(zone).date()).days)


def _hour_angle(latitude: float, declination: float, zenith: float) -> float | None:
    """Degrees the earth turns from noon until the sun is at ``zenith``: 0 if always below, None if always above."""
    place, sun = math.radians(min(max(latitude, -89.99), 89.99)), math.radians(declination)
    cosine = math.cos(math.radians(zenith)) / (math.cos(place) * math.cos(sun)) - math.tan(place) * math.tan(sun)
    if cosine < -1:
        return None
    return math.degrees(math.acos(cosine)) if cosine < 1 else 0.0

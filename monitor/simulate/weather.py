"""Air, moisture and sun over one place: yearly and daily rhythm, slow noise, and events written into the script.

Rules:
 1. `at(time)` depends on seed, climate and instant alone, not on the order or spacing of calls: the noise
    lives on a fixed hourly grid (exact Ornstein-Uhlenbeck steps, straight lines between) that begins at `start`.
 2. A scripted spell adds to the rhythm with soft shoulders; it may also set the sky.
 3. Times are UTC ms; the daily rhythm follows the sun over the longitude, not a clock on a wall.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, cos, exp, pi, radians, sin, sqrt
from random import Random
from typing import NamedTuple

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.simulate.laws import vapour_pressure

_YEAR_DAYS = 365.2425


@dataclass(frozen=True, slots=True, kw_only=True)
class Climate:
    """The made-up climate of a place (defaults: a mild continental one near 41.7° N, 74.2° W; our choice).

    Attributes:
        latitude, longitude: Degrees, north and east positive.
        mean_c, yearly_k, daily_k: Yearly mean, and half the yearly and the clear day's swing.
        warmest_day: Day of the year with the warmest mean.
        noise_k, noise_h: Standard deviation and correlation time of the slow noise.
        cloud, cloud_sd, cloud_h: Mean cloud cover 0 to 1, its spread before clipping, and its correlation time.
        dew_gap_k: Distance of the dew point below the mean of the day.
    """

    latitude: float = 41.7
    longitude: float = -74.2
    mean_c: float = 10.0
    yearly_k: float = 12.5
    daily_k: float = 6.0
    warmest_day: float = 203.0
    noise_k: float = 2.6
    noise_h: float = 60.0
    cloud: float = 0.42
    cloud_sd: float = 0.30
    cloud_h: float = 14.0
    dew_gap_k: float = 4.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Spell:
    """A scripted stretch of weather: `rise_k` at its middle part, and the sky if `cloud` is given.

    `shoulder_ms` at each end blends in and out as half a cosine.
    """

    start: int
    end: int
    rise_k: float = 0.0
    cloud: float | None = None
    calm: bool = False
    """Whether the slow noise is muted inside, so that the script alone decides."""
    shoulder_ms: int = 6 * HOUR_MS

    def share(self, time: int) -> float:
        """Return the strength of the spell at a time, 0 to 1."""
        if not self.start < time < self.end:
            return 0.0
        edge = min(time - self.start, self.end - time) / max(1, self.shoulder_ms)
        return 1.0 if edge >= 1.0 else 0.5 - 0.5 * cos(pi * edge)


class Sun(NamedTuple):
    """Direction of the sun as a unit vector: east, north, up (up below 0: night)."""

    east: float
    north: float
    up: float


class Air(NamedTuple):
    """The weather of one instant.

    Attributes:
        celsius: Air temperature.
        vapour_pa: Vapour pressure of the air.
        ground_c: Temperature of the ground half a metre down.
        beam: Direct sun on a plane facing it, W/m².
        diffuse: Sky light on a level plane, W/m².
        sun: Direction of the sun.
    """

    celsius: float
    vapour_pa: float
    ground_c: float
    beam: float
    diffuse: float
    sun: Sun

    def level(self) -> float:
        """Return the sun on a level plane, W/m²."""
        return self.beam * max(0.0, self.sun.up) + self.diffuse

    def wall(self, facing_deg: float) -> float:
        """Return the sun on an upright wall, W/m²; `facing_deg` clockwise from north (180 faces south)."""
        facing = radians(facing_deg)
        straight = self.sun.east * sin(facing) + self.sun.north * cos(facing)
        lit = self.beam * max(0.0, straight) if self.sun.up > 0.0 else 0.0
        # An upright plane sees half the sky, and half the ground, which reflects a fifth of its light.
        return lit + 0.5 * self.diffuse + 0.1 * self.level()


def sun_at(time: int, latitude: float, longitude: float) -> Sun:
    """Return the sun's direction (Cooper's declination 1969; equation of time left out, at most 17 minutes).

    Args:
        time: UTC ms.
        latitude: Degrees, north positive.
        longitude: Degrees, east positive.

    Returns:
        A unit vector; `up` is below 0 at night.
    """
    day = time / DAY_MS % _YEAR_DAYS  # 1970 began a year; the drift of leap days stays below a day
    declination = radians(23.45) * sin(2.0 * pi * (284.0 + day + 1.0) / 365.0)
    hour_angle = 2.0 * pi * (time / DAY_MS + longitude / 360.0 - 0.5)
    phi = radians(latitude)
    up = sin(phi) * sin(declination) + cos(phi) * cos(declination) * cos(hour_angle)
    east = -cos(declination) * sin(hour_angle)
    north = cos(phi) * sin(declination) - sin(phi) * cos(declination) * cos(hour_angle)
    return Sun(east, north, up)


def clear_sky(up: float) -> float:
    """Return the clear sky's sun on a level plane, W/m² (Haurwitz 1945); `up` is the sine of the sun's height."""
    return 1_098.0 * up * exp(-0.059 / up) if up > 0.01 else 0.0


class _Slow:
    """An Ornstein-Uhlenbeck noise of variance 1 on an hourly grid, drawn in order and kept."""

    def __init__(self, start: int, correlation_h: float, rng: Random) -> None:
        self._start = start
        self._keep = exp(-1.0 / correlation_h)
        self._kick = sqrt(1.0 - self._keep * self._keep)
        self._rng = rng
        self._grid = [rng.gauss(0.0, 1.0)]

    def at(self, time: int) -> float:
        place = max(0.0, (time - self._start) / HOUR_MS)
        index = int(place)
        while len(self._grid) < index + 2:
            self._grid.append(self._keep * self._grid[-1] + self._kick * self._rng.gauss(0.0, 1.0))
        share = place - index
        return self._grid[index] * (1.0 - share) + self._grid[index + 1] * share


class Weather:
    """The weather of a place from `start` on; before it the noise stands still."""

    def __init__(self, climate: Climate, rng: Random, start: int, spells: Sequence[Spell] = ()) -> None:
        """Draw two independent noises from `rng`; the same seed gives the same weather for ever."""
        self.climate = climate
        self.spells = tuple(spells)
        self._warmth = _Slow(start, climate.noise_h, Random(rng.getrandbits(64)))
        self._cloud = _Slow(start, climate.cloud_h, Random(rng.getrandbits(64)))

    def cloud_at(self, time: int) -> float:
        """Return the cloud cover, 0 to 1."""
        cover = self.climate.cloud + self.climate.cloud_sd * self._cloud.at(time)
        for spell in self.spells:
            if spell.cloud is not None:
                share = spell.share(time)
                cover += share * (spell.cloud - cover)
        return min(1.0, max(0.0, cover))

    def _season(self, time: int, lag_days: float = 0.0) -> float:
        day = time / DAY_MS % _YEAR_DAYS
        return cos(2.0 * pi * (day - self.climate.warmest_day - lag_days) / _YEAR_DAYS)

    def at(self, time: int) -> Air:
        """Return the weather of an instant (UTC ms)."""
        climate = self.climate
        noise = climate.noise_k * self._warmth.at(time)
        rise = 0.0
        for spell in self.spells:
            share = spell.share(time)
            rise += share * spell.rise_k
            if spell.calm:
                noise *= 1.0 - share
        cover = self.cloud_at(time)
        mean = climate.mean_c + climate.yearly_k * self._season(time) + noise + rise
        # The warmest hour is about 15 h of solar time; cloud halves the swing of the day.
        solar_h = (time / HOUR_MS + climate.longitude / 15.0) % 24.0
        swing = climate.daily_k * (1.0 - 0.5 * cover) * cos(2.0 * pi * (solar_h - 15.0) / 24.0)
        celsius = mean + swing
        dew = min(mean - climate.dew_gap_k * (1.0 - 0.5 * cover), celsius)
        ground = climate.mean_c + 0.65 * climate.yearly_k * self._season(time, 30.0)
        sun = sun_at(time, climate.latitude, climate.longitude)
        clear = clear_sky(sun.up)
        total = clear * (1.0 - 0.75 * cover**3.4)
        sky = (0.15 + 0.85 * cover) * total
        # Cut the beam near the horizon, because trees and sheds hide a low sun (our choice).
        beam = (total - sky) / max(sun.up, 0.1)
        return Air(celsius, vapour_pressure(dew), ground, beam, sky, sun)

    def height_deg(self, time: int) -> float:
        """Return the sun's height above the horizon, degrees."""
        up = sun_at(time, self.climate.latitude, self.climate.longitude).up
        return asin(max(-1.0, min(1.0, up))) * 180.0 / pi

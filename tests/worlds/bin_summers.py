"""Years of worm bins under several made-up climates, in the sun and in the shade, day by day: nobody acts on what is foreseen.

The climates are ours, of the size of real ones (from memory): a mild continental one (the simulator's own), a cold one, a humid
southern one, a hot and dry one, a maritime one. A keeper feeds and waters by feel, and does not feed a bin that is hot.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from monitor.forecast import Reach, Trouble
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.simulate import Bed, Bedding, Box, Climate, Weather

FIRST = date(2023, 1, 1)
_START = parse_time("2023-01-01T00:00:00Z")
_STEP_MS = 15 * MINUTE_MS
EVENING_H = 19
_TAP_C = 12.0
_TOO_HOT_TO_FEED_C = 29.0

CLIMATES: dict[str, Climate] = {
    "continental": Climate(),
    "cold": Climate(latitude=45.0, longitude=-93.0, mean_c=7.5, yearly_k=16.5, daily_k=5.5, noise_k=3.5),
    "humid": Climate(
        latitude=33.7, longitude=-84.4, mean_c=17.0, yearly_k=9.5, daily_k=5.5, noise_k=2.4, dew_gap_k=3.0
    ),
    "hot and dry": Climate(
        latitude=33.4, longitude=-112.0, mean_c=22.5, yearly_k=10.0, daily_k=7.5, noise_k=2.2, cloud=0.2, dew_gap_k=12.0
    ),
    "maritime": Climate(
        latitude=45.5, longitude=-122.7, mean_c=12.0, yearly_k=7.5, daily_k=5.0, noise_k=2.6, cloud=0.55
    ),
}
_BINS = {
    "sun": (
        Box(length_m=0.8, width_m=0.45, depth_m=0.28, facing_deg=200.0, sunlit=0.8, side_w_m2k=3.4, lid_w_m2k=2.6),
        Bedding(wet_kg=58.0, moisture=0.75, celsius=8.0),
    ),
    "shade": (Box(sunlit=0.08), Bedding(wet_kg=90.0, moisture=0.76, celsius=8.0)),
}
BINS = tuple(_BINS)


@dataclass(slots=True)
class BinDays:
    """What happened to a bin, by the sun's own day.

    Attributes:
        air: How far the air went on each day.
        bed: How far the bedding went on each day.
        by_evening: How far it had gone by the evening.
        rings: When each alarm began, in hours from the first day's midnight, by trouble.
        ends: When each ended.
    """

    air: dict[date, Reach] = field(default_factory=dict)
    bed: dict[date, Reach] = field(default_factory=dict)
    by_evening: dict[date, Reach] = field(default_factory=dict)
    rings: dict[Trouble, list[float]] = field(default_factory=lambda: {one: [] for one in Trouble})
    ends: dict[Trouble, list[float]] = field(default_factory=lambda: {one: [] for one in Trouble})

    def next_ring(self, trouble: Trouble, after_h: float, until_h: float) -> float | None:
        """Return when the next alarm began within a span of hours, or None."""
        return next((at for at in self.rings[trouble] if after_h < at <= until_h), None)

    def stands(self, trouble: Trouble, at_h: float) -> bool:
        """Return whether an alarm was on."""
        return sum(one <= at_h for one in self.rings[trouble]) > sum(one <= at_h for one in self.ends[trouble])


def bin_days(climate: str, where: str, seed: int, years: int) -> BinDays:
    """Live some years of one bin.

    Args:
        climate: One of `CLIMATES`.
        where: `sun` or `shade`.
        seed: Draws the weather and the keeper's visits; both bins of a seed stand under one sky.
        years: How many years, from 1 January 2023 on.
    """
    found, limits = BinDays(), BinThresholds()
    watch = {
        Trouble.HEAT: _Alarm(limits.overheating_milli_c, limits.deadband_milli_k, 2),
        Trouble.FROST: _Alarm(-limits.near_freezing_milli_c, limits.deadband_milli_k, 1),
    }
    for since, air, halves in _steps(climate, where, seed, years):
        day, hour = FIRST + timedelta(days=since // DAY_MS), since % DAY_MS / HOUR_MS
        _stretch(found.air, day, air, air)
        _stretch(found.bed, day, min(halves), max(halves))
        if hour <= EVENING_H:
            _stretch(found.by_evening, day, min(halves), max(halves))
        for trouble, alarm in watch.items():
            worst = max(halves) if trouble is Trouble.HEAT else -min(halves)
            moved = alarm.look(round(1_000 * worst))
            if moved is not None:
                (found.rings if moved else found.ends)[trouble].append(since / HOUR_MS)
    return found


@dataclass(slots=True)
class _Alarm:
    """A limit, with the time that it must be passed and the deadband that ends it; more is worse."""

    limit: int
    deadband: int
    looks: int
    seen: int = 0
    on: bool = False

    def look(self, milli: int) -> bool | None:
        """Take in a value; return True where the alarm begins, False where it ends, else None."""
        if not self.on:
            self.seen = self.seen + 1 if milli >= self.limit else 0
            self.on = self.seen >= self.looks
            return True if self.on else None
        if milli < self.limit - self.deadband:
            self.on, self.seen = False, 0
            return False
        return None


def _steps(climate: str, where: str, seed: int, years: int) -> Iterator[tuple[int, float, tuple[float, float]]]:
    """Yield (ms since the first day's midnight by the sun, air, both halves), °C."""
    sky = CLIMATES[climate]
    rng = Random(f"{climate} {seed}")
    start = _START - round(sky.longitude / 15.0) * HOUR_MS
    weather = Weather(sky, Random(rng.getrandbits(64)), start)
    box, bedding = _BINS[where]
    bed, visit = Bed(box, bedding), start
    for time in range(start, start + years * 365 * DAY_MS, _STEP_MS):
        air = weather.at(time).celsius
        if time >= visit:
            visit = time + int(rng.uniform(3.0, 5.0) * DAY_MS)
            _keep(bed, rng.uniform(0.9, 1.5), air)
        near, far = (half.celsius() for half in bed.halves)
        yield time - start, air, (near, far)
        bed.step(_STEP_MS / 1_000.0, weather.at(time + _STEP_MS // 2))


def _keep(bed: Bed, kg: float, air_c: float) -> None:
    warm, damp = bed.at(0.5), bed.moisture_at(0.5)
    if warm < _TOO_HOT_TO_FEED_C:
        bed.feed(kg if warm > 12.0 else 0.4 * kg, max(2.0, air_c))
    if damp < 0.74:
        bed.water(max(0.0, bed.dry_held() * 0.765 / 0.235 - bed.water_held()), _TAP_C)
    elif damp > 0.79:
        bed.bed_down(0.9, air_c)


def _stretch(into: dict[date, Reach], day: date, low_c: float, high_c: float) -> None:
    low, high = round(1_000 * low_c), round(1_000 * high_c)
    known = into.get(day)
    into[day] = Reach(low, high) if known is None else Reach(min(known.low, low), max(known.high, high))

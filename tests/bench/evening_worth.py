"""Prints how often the word of the evening before was right, on years of simulated bins: hits, false alarms, misses, lead.

A word is told as the daemon tells it: not while the alarm itself is on, once in a spell, and not where the rule fails its own
record. It is a *hit* if the alarm rings after it, until the end of the next day. The first year only makes the record.
"""

from collections.abc import Mapping
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random
from statistics import median

from monitor.forecast import (
    AGAIN_AFTER_DAYS,
    Reach,
    RecordRule,
    Trouble,
    Whence,
    enough,
    held_against_itself,
    must_prove_itself,
    past_of,
)
from monitor.model.evening import EveningPolicy
from monitor.model.thresholds import BinThresholds
from tests.worlds.bin_summers import BINS, CLIMATES, EVENING_H, FIRST, BinDays, bin_days

YEARS, SEEDS = 3, (1, 2, 3)
NOISE_K = 1.5
"""Standard deviation of the noisy forecast, K; that of a public forecast of tomorrow's high is of this size (from memory)."""
KINDS = ("persistence", "noisy", "perfect")


@dataclass(slots=True)
class Tally:
    """What became of the words of some bins."""

    bin_years: int = 0
    hits: int = 0
    false: int = 0
    rings: int = 0
    missed: int = 0
    leads: list[float] = field(default_factory=list)

    def add(self, other: "Tally") -> None:
        """Add another tally to this one."""
        self.bin_years += other.bin_years
        self.hits, self.false = self.hits + other.hits, self.false + other.false
        self.rings, self.missed = self.rings + other.rings, self.missed + other.missed
        self.leads += other.leads

    def said(self) -> str:
        """Return the tally in words."""
        words, years = self.hits + self.false, self.bin_years or 1
        right = f"{self.hits / words:4.0%}" if words else "   –"
        lead = f"{median(self.leads):4.0f} h" if self.leads else "     –"
        return (
            f"{words / years:5.2f} words a bin-year, right {right}, hits {self.hits:4d}, false {self.false:3d}, "
            f"rings unforetold {self.missed / years:5.2f} of {self.rings / years:5.2f} a bin-year, lead {lead}"
        )


def judged(days: BinDays, trouble: Trouble, kind: str, seed: int) -> Tally:
    """Return what became of the words about one bin.

    Args:
        days: The bin's days.
        trouble: Heat or frost.
        kind: Where tomorrow's air comes from, one of `KINDS`.
        seed: Draws the noise.
    """
    tally, policy, limits = Tally(bin_years=YEARS - 1), EveningPolicy(), BinThresholds()
    rule = RecordRule(within_milli_k=policy.within_milli_k, days=policy.days)
    limit = limits.overheating_milli_c if trouble is Trouble.HEAT else limits.near_freezing_milli_c
    past, persists, told = past_of(trouble, limit, days.bed, days.air), kind == "persistence", -365
    said = {} if persists else _forecasts(days.air, trouble, kind, seed)
    for number in range(365, YEARS * 365 - 1):
        today, evening_h = FIRST + timedelta(days=number), 24.0 * number + EVENING_H
        if days.stands(trouble, evening_h):
            continue
        ring = days.next_ring(trouble, evening_h, 24.0 * (number + 2))
        tally.rings += ring is not None
        air = past.air[today] if persists else said[today + timedelta(days=1)]
        expected = rule.foresee(past, today, air, days.by_evening[today].worst(trouble))
        calm = past.place[today] < past.limit
        if expected is None or not enough(
            held_against_itself(rule, past, today, said, after_calm=calm, persists=persists),
            proven=must_prove_itself(trouble, Whence.TODAY if persists else Whence.TYPED),
        ):
            tally.missed += ring is not None
        elif number > told + AGAIN_AFTER_DAYS:
            told = number
            tally.hits, tally.false = tally.hits + (ring is not None), tally.false + (ring is None)
            tally.leads += [] if ring is None else [ring - evening_h]
    return tally


def _forecasts(air: Mapping[date, Reach], trouble: Trouble, kind: str, seed: int) -> dict[date, int]:
    rng, spread = Random(seed), 1_000 * (NOISE_K if kind == "noisy" else 0.0)
    return {day: reach.worst(trouble) + round(rng.gauss(0.0, spread)) for day, reach in air.items()}


def _lived(job: tuple[str, str, int]) -> dict[tuple[Trouble, str], Tally]:
    climate, where, seed = job
    days = bin_days(climate, where, seed, YEARS)
    return {(trouble, kind): judged(days, trouble, kind, seed) for trouble in Trouble for kind in KINDS}


def main() -> None:
    """Print the figures."""
    jobs = [(climate, where, seed) for climate in CLIMATES for where in BINS for seed in SEEDS]
    found: dict[tuple[str, str, str, str], Tally] = {}
    with ProcessPoolExecutor(2) as pool:
        for (climate, where, _), tallies in zip(jobs, pool.map(_lived, jobs), strict=True):
            for (trouble, kind), tally in tallies.items():
                for name in ("all", climate):
                    found.setdefault((trouble.value, where, kind, name), Tally()).add(tally)
    for (what, where, kind, name), tally in sorted(found.items()):
        print(f"{what:5s} {where:5s} {kind:11s} {name:11s}: {tally.said()}")

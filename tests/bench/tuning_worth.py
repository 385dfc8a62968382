"""Is tuning worth it? On made-up years with known troubles: chosen on one part of the weeks, judged on the other.

Also the speed of trying: sets a second over a year of one bin.
"""

import os
import statistics
import sys
import time
from dataclasses import dataclass

from monitor.app.entries.label_file import stretches_of
from monitor.app.tuning_run.tuning_job import Asked, Done, tune, varies_of
from monitor.app.tuning_run.tuning_record import Material
from monitor.app.tuning_run.tuning_runs import run_of
from monitor.configuration import load_text, read_range
from monitor.engine.stretch import for_place
from monitor.model.units import Quantity, to_micro
from monitor.recordings import Label, LabelKind, ReadingRow, columns_of, plan_pieces
from monitor.tuning import Window, sets_of
from tests.worlds.bin_year import bin_year, own_limits

YARD = """
[site]
time_zone = "America/New_York"
temperature_unit = "degF"
[bins.b1]
name = "Open bin"
[probes.b1-t]
place = "b1"
[probes.b1-u]
place = "b1"
[probes.b1-m]
place = "b1"
quantity = "moisture"
[probes.amb]
place = "ambient"
"""
RANGES = (
    "overheating=78..94 degF:1",
    "overheating_dwell=0..120m:20",
    "danger_all=86..94 degF:2",
    "near_freezing=35..46 degF:1",
    "too_wet=81..88 %:1",
    "too_dry=54..68 %:1",
    "too_wet_dwell=1..12h:1",
)


@dataclass(frozen=True)
class Worth:
    """What tuning brought on the weeks that it was not chosen on."""

    caught_now: int
    caught: int
    needless_now: int
    needless: int
    troubles: int

    def cost(self, worth: int) -> tuple[int, int]:
        """Return today's cost and the chosen set's: needless messages, and `worth` for each missed trouble."""
        now = (self.troubles - self.caught_now) * worth + self.needless_now
        return now, (self.troubles - self.caught) * worth + self.needless


def made_up(seed: int, step_s: int, days: int = 365, yard: str = YARD) -> Material:
    """Return a labelled year of a bin as `tune` takes it; `yard` is the configuration of today."""
    year = bin_year(seed, step_s=step_s, days=days, limits=own_limits(seed))
    settings = load_text(yard, None, {}).settings
    rows = [
        ReadingRow(one.time, one.probe, Quantity(one.quantity), to_micro(one.value), one.unit, None, None)
        for one in year.samples
    ]
    pieces, reduced = for_place(plan_pieces(columns_of(rows), year.works), settings, "b1")
    labels = [
        Label(place=one.place, start=one.start, end=one.end, kind=LabelKind(one.kind), note=one.note)
        for one in year.labels
    ]
    return Material(
        "b1", reduced, settings, pieces, [], year.samples[0].time, year.samples[-1].time, stretches_of(labels)
    )


def tuned(material: Material, ranges: tuple[str, ...], wanted: int, workers: int, worth: int = 10) -> Done:
    """Tune it."""
    read = [read_range(text, material.settings, "b1") for text in ranges]
    asked = Asked(wanted=wanted, seed=1, worth=worth, window=Window(), workers=workers)
    return tune(material, read, asked)


def worth_of(done: Done) -> Worth:
    """Return what the suggested set did beside today's."""
    assert done.findings.best is not None
    now, best = done.findings.now.score, done.findings.best.score
    return Worth(now.caught, best.caught, now.needless, best.needless, now.troubles)


def speed(material: Material, wanted: int = 12) -> float:
    """Return the sets a second, one process."""
    ranges = [read_range(text, material.settings, "b1") for text in RANGES]
    varies = varies_of(ranges)
    run = run_of(material, varies)
    sets = sets_of(varies, wanted, 1)
    run(sets[0])
    begun = time.perf_counter()
    for values in sets:
        run(values)
    return len(sets) / (time.perf_counter() - begun)


def main(seeds: int = 8, wanted: int = 50, step_s: int = 1_800) -> None:
    """Print what tuning is worth on many years, and how fast it is."""
    print(f"{speed(made_up(1, 600)):.2f} sets/s on one core, a year of one bin, a reading each 10 min", flush=True)
    found: list[Worth] = []
    for seed in range(1, seeds + 1):
        begun = time.perf_counter()
        done = tuned(made_up(seed, step_s), RANGES, wanted, os.cpu_count() or 1)
        one = worth_of(done)
        found.append(one)
        now, then = one.cost(10)
        print(
            f"seed {seed}: caught {one.caught_now} -> {one.caught} of {one.troubles}, "
            f"needless {one.needless_now} -> {one.needless}, cost {now} -> {then}, {time.perf_counter() - begun:.0f} s",
            flush=True,
        )
    fewer = sum(one.caught < one.caught_now for one in found)
    both = sum(one.caught >= one.caught_now and one.needless <= one.needless_now for one in found)
    gains = [1 - one.cost(10)[1] / max(1, one.cost(10)[0]) for one in found]
    print(f"caught fewer troubles than the defaults on {fewer} of {len(found)} years; no worse in both on {both}")
    print(
        f"cost less by {statistics.median(gains):.0%} in the median, {min(gains):.0%} at worst, {max(gains):.0%} at best"
    )
    share_now = sum(one.caught_now for one in found) / sum(one.troubles for one in found)
    share = sum(one.caught for one in found) / sum(one.troubles for one in found)
    print(f"troubles caught, all years: {share_now:.0%} by the defaults, {share:.0%} tuned")
    print(f"needless messages, all years: {sum(o.needless_now for o in found)} and {sum(o.needless for o in found)}")


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:]))

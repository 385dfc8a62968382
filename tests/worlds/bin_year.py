"""A year of one worm bin with known troubles, for tuning and for tests of the engine's alarms.

Rules:
 1. The seed draws everything: the hot spells, the times at which the bin is overfed, forgotten or flooded, the failure of
    its probe. The same seed gives the same year.
 2. A label `trouble` follows the bedding itself (not a probe): beyond a harm limit for half an hour or more, spells closer
    than six hours joined. A dead probe is a trouble of its own. The rest of the year is `fine`, in stretches of a day or
    more.
 3. The harm limits are the bin's defaults of `model.thresholds`: coolest half above 90 °F or any above 95 °F, 39 °F
    or below, moisture of wet mass below 60 or above 85 %; or those handed in. `own_limits` draws some: worms
    differ, and the sources disagree above 25 °C. The size of the differences is our choice.
"""

from dataclasses import dataclass, field
from random import Random

from monitor.model.alarm_kinds import Alarm
from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.work import Work, WorkKind
from monitor.simulate import Bed, Bedding, Box, Climate, Fault, FaultKind, Probe, Sample, Spell, Weather
from monitor.simulate.probe_errors import AIR_THERMOMETER, MOISTURE, THERMOMETER
from tests.worlds.recorded_rows import Label

PLACE = "b1"
YEAR_START = parse_time("2025-01-01T05:00:00Z")
_TAP_C = 12.0
_CLIMATE = Climate(mean_c=13.0, yearly_k=9.5)
# A bin under an open roof with a loose lid dries twice as fast as the demo's.
_BOX = Box(sunlit=0.8, damping=0.2, vent_m_s=8.0e-4, holds=5.2, drain_h=80.0)
_LID_OFF = 16.0
_MAKES = {"b1-t": THERMOMETER, "b1-u": THERMOMETER, "b1-m": MOISTURE, "amb": AIR_THERMOMETER}
_JOINED_MS = 6 * HOUR_MS
_BRINGS = {
    "hot spell": ("too hot",),
    "overfed": ("too hot", "too wet"),
    "forgotten": ("too dry",),
    "flooded": ("too wet",),
}
"""The harms that each scripted trouble can bring."""
_SHORTEST_MS = 30 * MINUTE_MS


@dataclass(slots=True)
class BinYear:
    """The events of the year, and the samples.

    Attributes:
        samples: Samples of the probes `b1-t`, `b1-u` (bedding), `b1-m` (moisture) and `amb`, in the order of time.
        works: The work log.
        labels: The truth, by start.
        spells: The hot spells of the weather.
        causes: (start, end, word) of each scripted trouble.
    """

    samples: list[Sample] = field(default_factory=list)
    works: list[Work] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)
    spells: tuple[Spell, ...] = ()
    causes: list[tuple[int, int, str]] = field(default_factory=list)


def _day(start: int, rng: Random, first: float, last: float) -> int:
    """Return an instant between two days of the year."""
    return start + int(rng.uniform(first, last) * DAY_MS)


def _script(start: int, rng: Random) -> BinYear:
    """Draw the year's troubles."""
    year = BinYear()
    spells = []
    for first, last in ((155, 185), (186, 212), (213, 240)):
        begin = _day(start, rng, first, last)
        end = begin + int(rng.uniform(2.0, 4.0) * DAY_MS)
        spells.append(Spell(start=begin, end=end, rise_k=rng.uniform(7.0, 9.5), cloud=0.1))
        year.causes.append((begin, end, "hot spell"))
    year.spells = tuple(spells)
    for first, last in ((95, 150), (190, 260)):
        begin = _day(start, rng, first, last)
        year.causes.append((begin, begin + 6 * DAY_MS, "overfed"))
    begin = _day(start, rng, 150, 175)
    year.causes.append((begin, begin + 70 * DAY_MS, "forgotten"))
    for first, last in ((80, 140), (265, 330)):
        begin = _day(start, rng, first, last)
        year.causes.append((begin, begin + 10 * DAY_MS, "flooded"))
    for first, last in ((20, 170), (180, 350)):
        begin = _day(start, rng, first, last)
        year.causes.append((begin, begin + int(rng.uniform(1.5, 5.0) * DAY_MS), "dead probe"))
    year.causes.sort()
    return year


def _within(year: BinYear, word: str, time: int) -> bool:
    return any(start <= time < end for start, end, cause in year.causes if cause == word)


@dataclass(slots=True)
class _Keeper:
    """Feeds, waters and beds the bin by the feel of the bedding, unless the script says otherwise."""

    year: BinYear
    bed: Bed
    rng: Random
    visit: int
    struck: set[tuple[int, str]] = field(default_factory=set)
    lid_off: bool = False

    def come(self, time: int, air_c: float) -> None:
        """Do the work that is due by `time`."""
        for start, _end, word in self.year.causes:
            if start <= time and word in {"overfed", "flooded"} and (start, word) not in self.struck:
                self.struck.add((start, word))
                if word == "overfed":
                    self._log(time, WorkKind.FED, self.rng.uniform(9.0, 14.0), "kg", air_c)
                else:
                    self._wet(time, self.rng.uniform(0.875, 0.885), air_c)
        away = _within(self.year, "forgotten", time)
        if away != self.lid_off:  # the lid was left off, and the wind dries the bin
            self.lid_off = away
            self.bed.cover(1.0, _LID_OFF if away else 1.0 / _LID_OFF)
        if time < self.visit:
            return
        self.visit = time + int(self.rng.uniform(3.0, 5.0) * DAY_MS)
        if away:
            return
        if not _within(self.year, "overfed", time):
            # Feed less in the cold, when worms eat less.
            share = 1.0 if self.bed.at(0.5) > 12.0 else 0.4
            self._log(time, WorkKind.FED, share * self.rng.uniform(0.9, 1.5), "kg", air_c)
        damp = self.bed.moisture_at(0.5)
        if damp < 0.74:
            self._wet(time, self.rng.uniform(0.755, 0.775), air_c)
        elif damp > 0.79 and not _within(self.year, "flooded", time):
            self._log(time, WorkKind.BEDDED, self.rng.uniform(0.6, 1.2), "kg", air_c)

    def _wet(self, time: int, goal: float, air_c: float) -> None:
        dry = self.bed.dry_held()
        litres = dry * goal / (1.0 - goal) - self.bed.water_held()
        if litres >= 0.5:
            self._log(time, WorkKind.WATERED, litres, "L", air_c)

    def _log(self, time: int, kind: WorkKind, amount: float, measure: str, air_c: float) -> None:
        amount = round(amount, 1)
        work = Work(time=time, place=PLACE, kind=kind, amount=f"{amount:.1f}", measure=measure, by="Yard keeper")
        self.year.works.append(work)
        if kind is WorkKind.FED:
            self.bed.feed(amount, max(2.0, air_c))
        elif kind is WorkKind.BEDDED:
            self.bed.bed_down(amount, air_c)
        else:
            self.bed.water(amount, _TAP_C)


def _probe_faults(year: BinYear, start: int, end: int, rng: Random) -> dict[str, tuple[Fault, ...]]:
    dead = [
        Fault(kind=FaultKind.SILENT, start=begin, end=stop) for begin, stop, word in year.causes if word == "dead probe"
    ]
    faults: dict[str, tuple[Fault, ...]] = {"b1-m": (), "amb": ()}
    for name in ("b1-t", "b1-u"):
        small: list[Fault] = []
        for _ in range(8):
            kind = rng.choice((FaultKind.SPIKE, FaultKind.NO_ANSWER))
            at = rng.randrange(start, end)
            small.append(Fault(kind=kind, start=at, end=at + 10 * MINUTE_MS, amount=rng.choice((-20.0, 15.0, 25.0))))
        faults[name] = (*dead, *small)
    return faults


def harm(bed: Bed, limits: BinThresholds) -> tuple[str, str]:
    """Return the present harms to the worms, as (`too hot` or `freezing`, `too dry` or `too wet`); "" for none."""
    warm = sorted(half.celsius() for half in bed.halves)
    damp = sorted(100.0 * half.moisture() for half in bed.halves)
    thermal = Alarm.FREEZING.value if warm[0] <= limits.freezing_milli_c / 1000 else ""
    if warm[0] > limits.danger_all_milli_c / 1000 or warm[1] > limits.danger_any_milli_c / 1000:
        thermal = "too hot"
    dampness = "too dry" if damp[0] < limits.too_dry_milli_pct / 1000 else ""
    if damp[1] > limits.too_wet_milli_pct / 1000:
        dampness = "too wet"
    return thermal, dampness


def _spans(harms: list[tuple[int, str]], step_ms: int) -> list[tuple[int, int, str]]:
    """Return (start, end, word) of each stretch of one harm, near ones joined, short ones dropped."""
    spans: list[tuple[int, int, str]] = []
    for time, word in harms:
        if not word:
            continue
        if spans and spans[-1][2] == word and time - spans[-1][1] <= _JOINED_MS:
            spans[-1] = (spans[-1][0], time + step_ms, word)
        else:
            spans.append((time, time + step_ms, word))
    return [span for span in spans if span[1] - span[0] >= _SHORTEST_MS]


def _labels(year: BinYear, harms: list[tuple[int, tuple[str, str]]], start: int, end: int, step_ms: int) -> list[Label]:
    """Turn the harm at each step into labels, and the rest into `fine`."""
    labels: list[Label] = []
    axes = [[(time, words[axis]) for time, words in harms] for axis in (0, 1)]
    for begin, until, word in (span for axis in axes for span in _spans(axis, step_ms)):
        near = {
            cause: None  # a dict keeps the order of time and drops repeats
            for at, stop, cause in year.causes
            if at <= until and stop + 5 * DAY_MS > begin and word in _BRINGS.get(cause, ())
        }
        note = f"{word} ({', '.join(near)})" if near else word
        labels.append(Label(place=PLACE, start=begin, end=until, kind="trouble", note=note))
    for begin, until, word in year.causes:
        if word == "dead probe" and begin < end:
            labels.append(Label(place=PLACE, start=begin, end=min(until, end), kind="trouble", note=word))
    labels.sort(key=lambda label: (label.start, label.note))
    fine: list[Label] = []
    last = start
    for label in labels:
        if label.start - last >= DAY_MS:
            fine.append(Label(place=PLACE, start=last, end=label.start, kind="fine"))
        last = max(last, label.end)
    if end - last >= DAY_MS:
        fine.append(Label(place=PLACE, start=last, end=end, kind="fine"))
    return sorted([*labels, *fine], key=lambda label: (label.start, label.note))


def own_limits(seed: int) -> BinThresholds:
    """Return the harm limits of one bin's worms: drawn around the defaults, the same for the same seed."""
    rng = Random(seed)
    every = round(rng.uniform(27_500, 34_000), -2)
    return BinThresholds(
        danger_all_milli_c=int(every),
        danger_any_milli_c=int(every) + 2_800,
        freezing_milli_c=int(round(rng.uniform(1_500, 6_000), -2)),
        too_dry_milli_pct=int(round(rng.uniform(55_000, 67_000), -3)),
        too_wet_milli_pct=int(round(rng.uniform(82_000, 87_500), -2)),
    )


def bin_year(
    seed: int,
    *,
    start: int = YEAR_START,
    days: int = 365,
    step_s: int = 600,
    limits: BinThresholds | None = None,
) -> BinYear:
    """Live a year (or its first days) of one bin.

    Args:
        seed: Draws the whole year.
        start: First instant, UTC ms; the troubles are placed for a year that begins about 1 January.
        days: Days of the year to live.
        step_s: Spacing of readings and of the simulation, seconds.
        limits: Harm limits; None: the defaults of a bin. Nothing but the labels depends on them.

    Returns:
        The samples, the work log and the truth.
    """
    rng = Random(seed)
    end = start + days * DAY_MS
    year = _script(start, rng)
    faults = _probe_faults(year, start, end, rng)
    weather = Weather(_CLIMATE, Random(rng.getrandbits(64)), start, year.spells)
    bed = Bed(_BOX, Bedding(wet_kg=66.0, moisture=0.76, celsius=8.0))
    probes = [Probe(name, make, Random(rng.getrandbits(64)), faults[name]) for name, make in _MAKES.items()]
    keeper = _Keeper(year, bed, Random(rng.getrandbits(64)), start + 17 * HOUR_MS)
    limits = limits if limits is not None else BinThresholds()
    harms: list[tuple[int, tuple[str, str]]] = []
    for time in range(start, end, step_s * 1_000):
        air = weather.at(time)
        keeper.come(time, air.celsius)
        true = (bed.at(0.25), bed.at(0.75), 100.0 * bed.moisture_at(0.5), air.celsius)
        for probe, value in zip(probes, true, strict=True):
            sample = probe.sample(time, value, air.celsius)
            if sample is not None:
                year.samples.append(sample)
        harms.append((time, harm(bed, limits)))
        bed.step(step_s, weather.at(time + step_s * 500))
    year.labels = _labels(year, harms, start, end, step_s * 1_000)
    return year

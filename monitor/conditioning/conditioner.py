"""Calibration and flags of all probes together; the engine, the page and the certificate each run this.

Rules:

1. Readings of one probe are fed in order of their own time; those of different probes may be up to an hour apart.
   `late_for_others` reports a reading that comes later than that and could have changed a flag already given: then the
   engine feeds the record again, in order of (time, probe), to a fresh conditioner, and adopts its state.
2. The state is plain data; everything kept beside it can be worked out again from it and the settings.
3. Feeding a reading at t first settles readings, on any probe, whose answer can no longer come by t.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import NamedTuple

from monitor.conditioning.calibration import ALWAYS, NEVER, Line, plain_line, stretch_at
from monitor.conditioning.checks import Checks, checks_for
from monitor.conditioning.company import Company
from monitor.conditioning.flags import expire, is_fine, pending_due, step
from monitor.conditioning.record import ProbeRecord
from monitor.model.flags import Verdict
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import Role


@dataclass(slots=True)
class ConditioningState:
    """The whole memory of conditioning.

    Attributes:
        probes: Records by series id.
        places: Present places of probes that were carried away from the place in the settings.
        consulted: By place, the hour (hours since 1970) before which other probes' hours have been used.
    """

    probes: dict[str, ProbeRecord] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    consulted: dict[str, int] = field(default_factory=dict)


class Still(NamedTuple):
    """A probe that has not changed for a day while nothing shows that it should have: a line for the digest."""

    probe: str
    since: int


class _Lane:
    """One series: its record, and its checks and line prepared from the settings. Made again, never kept."""

    __slots__ = (
        "addend", "around", "checks", "company", "denominator", "end", "numerator", "place", "record", "start", "unit",
    )  # fmt: skip

    def __init__(self, record: ProbeRecord, place: str, company: Company) -> None:
        self.record = record
        self.place = place
        self.company = company
        self.around: tuple[list[str], list[str], list[str]] = [], [], []
        self.unit = ""
        self.start, self.end = ALWAYS, NEVER
        self.numerator, self.addend, self.denominator = 1, 0, 1000
        self.checks: Checks

    def aim(self, name: str, probe: Probe | None, unit: str, time: int, thresholds: ProbeThresholds) -> bool:
        """Prepare for values in `unit` from `time` on; False if the unit is not one of the probe's."""
        if probe is None:
            line, self.start, self.end = plain_line(unit), NEVER, ALWAYS
        else:
            line, self.start, self.end = stretch_at(probe, unit, time)
        self.checks = checks_for(name, unit, probe, thresholds, time)
        if line is None:
            self.start, self.end = ALWAYS, NEVER
            return False
        self.numerator, self.addend, self.denominator = line
        self.unit = unit
        if self.record.unit != unit:  # raw values in two units cannot be compared
            self.record.unit = unit
            self.record.micro, self.record.step_micro = None, 0
        return True


class Conditioner:
    """Runs conditioning over a state; several may exist, none may share a state."""

    def __init__(self, state: ConditioningState, settings: Settings, *, few: bool = False) -> None:
        """Continue from a state as it is; the settings may have changed since.

        Args:
            state: The state, which is changed in place.
            settings: Probes, calibrations and limits in force.
            few: Whether only some probes will be fed: then the state has no records of those that have nothing to do with them.
        """
        self.state = state
        self._settings = settings
        if not few:
            for name, probe in settings.probes.items():
                if probe.quantity is Quantity.TEMPERATURE:
                    state.probes.setdefault(name, ProbeRecord())
        self._by_place: dict[str, list[str]] = {}
        self._lanes: dict[str, _Lane] = {}
        self._waiting: dict[str, int] = {}
        self._due = ALWAYS
        self._late_before: dict[str, int] = {}
        self._prepare()

    def step(self, reading: Reading) -> tuple[Verdict, ...]:
        """Take a reading (later than all before of its probe) and return all verdicts that are now final.

        A reading whose unit is not one of its probe's gets none: it should not have been admitted.
        """
        time, name, micro, unit = reading
        settled = self.expire(time) if self._due <= time else ()
        lane = self._lanes.get(name) or self._open(name)
        if (unit != lane.unit or not lane.start <= time < lane.end) and not lane.aim(
            name, self._settings.probes.get(name), unit, time, self._settings.probe_thresholds
        ):
            return settled
        denominator = lane.denominator
        milli, rest = divmod(micro * lane.numerator + lane.addend, denominator)
        if rest and (2 * rest > denominator or (2 * rest == denominator and milli & 1)):
            milli += 1
        record = lane.record
        company = lane.company
        consulted = company.consulted
        verdicts = step(record, lane.checks, time, milli, micro, company)
        if record.pending is not None or name in self._waiting:
            self._wait(name, record)
        if company.consulted > consulted:
            self._consulted(lane.place, company.consulted)
        return settled + verdicts if settled else verdicts

    def expire(self, now: int) -> tuple[Verdict, ...]:
        """Return the verdicts of all waiting readings for which no answer can come any more at `now` (UTC ms)."""
        if now < self._due:
            return ()
        verdicts: list[Verdict] = []
        for _, name in sorted((due, name) for name, due in self._waiting.items() if due <= now):
            lane = self._lanes.get(name) or self._open(name)
            verdicts += expire(lane.record, self._checks(name, lane), now)
            self._wait(name, lane.record)
        return tuple(verdicts)

    def due(self) -> int | None:
        """Return when `expire` has verdicts to give, UTC ms, or None."""
        return None if self._due == ALWAYS else self._due

    def late_for_others(self, probe: str, time: int) -> bool:
        """Return whether a reading, in order for its own probe, could have changed a flag that was already given.

        Either its hour was used for another probe, or a waiting reading of its own was settled without it.
        Ask before the reading is fed.
        """
        if probe not in self.state.probes:
            return False
        lane = self._lanes.get(probe) or self._open(probe)
        return time < self._late_before.get(lane.place, NEVER) or time < lane.record.expired

    def move(self, probe: str, place: str) -> None:
        """Note that a probe now stands in another place; this affects only readings fed from now on."""
        self.state.places[probe] = place
        self._prepare()

    def adopt(self, other: "Conditioner", probes: Iterable[str]) -> None:
        """Take over another conditioner's state of some probes: it has seen their record again, in order."""
        for name in probes:
            if name in other.state.probes:
                record = other.state.probes[name]
                self.state.probes[name] = replace(record, hours=list(record.hours))
            if name in other.state.places:
                self.state.places[name] = other.state.places[name]
        for place, hour in other.state.consulted.items():
            self.state.consulted[place] = max(hour, self.state.consulted.get(place, -1))
        self._prepare()

    def still(self) -> list[Still]:
        """Return the probes whose raw value has not changed for 24 h without being flagged for it, by id.

        Left out are probes too coarse for it, and probes that others show to be stuck (they are flagged).
        """
        return self.still_of(self.state.probes)

    def still_of(self, records: Mapping[str, ProbeRecord]) -> list[Still]:
        """Return the result of `still` for the given records."""
        found = []
        for name, record in sorted(records.items()):
            if record.still_ms < self._settings.probe_thresholds.flat_suspect_ms or record.micro is None:
                continue
            checks = self._checks(name, self._lanes.get(name) or self._open(name))
            is_fine_enough = is_fine(record, checks)
            is_coarse = not is_fine_enough and (checks.fine is False or record.step_micro > 0)
            if checks.watched and not is_coarse and not (is_fine_enough and record.moved):
                found.append(Still(name, record.still_since))
        return found

    @property
    def thresholds(self) -> ProbeThresholds:
        """Limits in force."""
        return self._settings.probe_thresholds

    def around(self, name: str) -> tuple[list[str], list[str], list[str]]:
        """Return the ids of (ambients, peers, core peers) with which a probe is compared."""
        return (self._lanes.get(name) or self._open(name)).around

    def aimed(self, name: str) -> tuple[Line, Checks]:
        """Return the calibration and the checks of a series, valid while unit and calibration stay."""
        lane = self._lanes.get(name) or self._open(name)
        return Line(lane.numerator, lane.addend, lane.denominator), self._checks(name, lane)

    def stays(self, name: str) -> tuple[str, int, int] | None:
        """Return (unit, start, end) within which `aimed` holds (own times, UTC ms); None if a series is not known yet."""
        if name not in self.state.probes:
            return None
        lane = self._lanes.get(name) or self._open(name)
        if not lane.record.unit:
            return None
        self._checks(name, lane)
        return lane.unit, lane.start, lane.end

    def place(self, name: str) -> str:
        """Return the place of a series' probe; "" if it is in none."""
        return self._place(name)

    def take_over(self, records: Mapping[str, ProbeRecord], consulted: Iterable[tuple[str, int]]) -> None:
        """Continue from these records, and from (place, hour) consulted, in the order of their first consultation."""
        for name, record in records.items():
            self.state.probes[name] = record
        for place, hour in consulted:
            self.state.consulted[place] = max(hour, self.state.consulted.get(place, -1))
        self._prepare()

    def _checks(self, name: str, lane: _Lane) -> Checks:
        if not lane.unit:  # the state was restored and the probe has sent nothing since
            probe = self._settings.probes.get(name)
            lane.aim(name, probe, lane.record.unit, lane.record.time, self._settings.probe_thresholds)
        return lane.checks

    def _wait(self, name: str, record: ProbeRecord) -> None:
        due = pending_due(record)
        if due is None:
            self._waiting.pop(name, None)
        else:
            self._waiting[name] = due
        self._due = min(self._waiting.values(), default=ALWAYS)

    def _consulted(self, place: str, hour: int) -> None:
        if hour <= self.state.consulted.get(place, -1):
            return
        self.state.consulted[place] = hour
        self._late_before[place] = hour * HOUR_MS
        # Every place compares itself with ambient, so ambient is consulted as far as any place.
        self._late_before[AMBIENT] = max(self.state.consulted.values()) * HOUR_MS

    def _place(self, name: str) -> str:
        probe = self._settings.probes.get(name)
        return self.state.places.get(name) or ("" if probe is None else probe.place)

    def _open(self, name: str) -> _Lane:
        """Make a series' lane, whose record and company then stay the same until `_prepare`."""
        records, place = self.state.probes, self._place(name)
        company = Company(self._settings.probe_thresholds)
        lane = self._lanes[name] = _Lane(records.setdefault(name, ProbeRecord()), place, company)
        here = self._by_place.get(place, ())
        if name in here:
            ambients = [other for other in self._by_place.get(AMBIENT, ()) if other != name]
            peers = [other for other in here if other != name and place != AMBIENT]
            cores = [other for other in peers if self._settings.probes[other].role is Role.CORE]
            lane.around = ambients, peers, cores
            company.ambients, company.peers, company.cores = (
                [records.setdefault(one, ProbeRecord()) for one in them] for them in lane.around
            )
        return lane

    def _prepare(self) -> None:
        """Have the lanes made anew from state and settings, each when it is first needed: a yard may have a thousand."""
        self._lanes = {}
        self._late_before = {place: hour * HOUR_MS for place, hour in sorted(self.state.consulted.items())}
        if self._late_before:
            self._late_before[AMBIENT] = max(self._late_before.values())
        records, places, self._by_place = self.state.probes, self.state.places, {}
        for name, probe in sorted(self._settings.probes.items()):
            if probe.quantity is Quantity.TEMPERATURE:
                self._by_place.setdefault(places.get(name) or probe.place, []).append(name)
        dues = ((name, pending_due(record)) for name, record in sorted(records.items()) if record.pending is not None)
        self._waiting = {name: due for name, due in dues if due is not None}
        self._due = min(self._waiting.values(), default=ALWAYS)


def condition(readings: Iterable[Reading], probes: Collection[str] | None, settings: Settings) -> list[Verdict]:
    """Work out the flags of a whole record.

    Args:
        readings: Ordered by (time, probe), each key once; other probes' and ambient's readings are evidence.
        probes: Series whose verdicts are wanted, or None for all.
        settings: Probes, calibrations and limits in force.

    Returns:
        The verdicts, ordered by (time, probe).
    """
    conditioner = Conditioner(ConditioningState(), settings)
    verdicts: list[Verdict] = []
    for reading in readings:
        verdicts += conditioner.step(reading)
    verdicts += conditioner.expire(ALWAYS)
    return sorted(verdict for verdict in verdicts if probes is None or verdict.probe in probes)


def condition_bare(readings: Iterable[Reading], thresholds: ProbeThresholds | None = None) -> list[Verdict]:
    """Return the flags of a bare recording, ordered by (time, probe): error codes and gross range, else quality 2."""
    settings = Settings(probe_thresholds=thresholds or ProbeThresholds())
    return condition(readings, None, settings)

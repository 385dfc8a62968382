"""Holds a case against its rule: what `certify --json`, the document and the check of a document all go by.

Rules:

1. A reading is accepted with quality 1 or 2, while its probe was in service. The record runs from the earliest first
   to the latest last of them, unless the case names its ends. The verdict is that of the instant asked for (`as_of`),
   which may be later than the last reading: material that came in by then counts.
2. Where a smoothing is asked for, the verdict is the one with it, and the one without stands beside it, everywhere.
3. For each probe taken out of the reckoning the verdict without its readings is worked out too.
4. Where another reading was asked for than the usual one, the verdict of that stands beside (`certificate.usual`).
5. Where material that came in made void what was held before, nothing but *met* anew changes *not met*: no doubt helps.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from monitor.certificate.judged.case import Case, CaseProbe
from monitor.certificate.judged.hand_lines import assumed_time, proving_lines
from monitor.certificate.judged.usual import usual_case
from monitor.conditioning import NEVER, stretch_at
from monitor.conditioning import calibrated as along
from monitor.material import HeatStatus, status_of_record
from monitor.model.errors import MisuseError
from monitor.model.settings import Probe
from monitor.model.times import show_time
from monitor.model.words import Role
from monitor.proof.holdset import HoldSet, hold_sets
from monitor.proof.intervals import Intervals, cut
from monitor.proof.rules import refuse_method
from monitor.proof.temperature import Series, smooth
from monitor.proof.verdict import Evidence, Finding, Outcome, Question, prove


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """The judgement on a case.

    Attributes:
        finding: The verdict and its numbers, as asked for.
        plain: The same without smoothing, or None where none was asked for.
        usual: The same as it is usually read, or None where it is.
        without: (probe, finding without it) for each retired probe; None where nothing is left to judge.
        series: The accepted readings of each probe, calibrated, of its time in service and out of it.
        lines: What the case is held against: those of the probes, and the rounds read by hand.
        assumed: When a line between rounds by hand is assumed, within the record.
        start, end: Ends of the record, UTC ms.
        as_of: The instant that the verdict is of.
        proven: When the temperature was known, from the record's start on, whatever counts of it.
        heat_status: What the heat has done to the material by then.
    """

    finding: Finding
    plain: Finding | None
    usual: Finding | None
    without: tuple[tuple[str, Finding | None], ...]
    series: tuple[Series, ...]
    lines: tuple[Series, ...]
    assumed: Intervals
    start: int
    end: int
    as_of: int
    proven: Intervals
    heat_status: HeatStatus

    @property
    def met(self) -> bool:
        """Whether the rule's time and temperature are met."""
        return self.finding.outcome is Outcome.MET

    @property
    def only_as_asked(self) -> bool:
        """Whether it is met as was asked for, and not as it is usually read."""
        return self.met and self.usual is not None and self.usual.outcome is not Outcome.MET


@dataclass(frozen=True, slots=True, kw_only=True)
class _Heard:
    """The readings of a case that count.

    Attributes:
        series: The accepted readings of each probe, in the order of the case.
        lines: What the case is held against: those of its probes, and the rounds read by hand.
        seen: When each probe was read while it was in, UTC ms.
        ends: Where the record begins and ends, UTC ms.
    """

    series: tuple[Series, ...]
    lines: tuple[Series, ...]
    seen: Mapping[str, NDArray[np.int64]]
    ends: tuple[int, int]


def judge_case(case: Case) -> Judgement:
    """Return the judgement on a case.

    Raises:
        MisuseError: The rule does not cover the method, or no reading counts.
    """
    refused = refuse_method(case.rule, case.method)
    if refused:
        raise MisuseError(refused)
    heard = _heard(case)
    start, end = heard.ends
    finding = _proven(case, heard)
    whole = _whole(case, heard.lines, finding)
    return Judgement(
        finding=finding,
        plain=_proven(replace(case, smoothing_ms=0), heard) if case.smoothing_ms else None,
        usual=_usual(case, heard),
        without=tuple(_without(case, heard)),
        series=heard.series,
        lines=heard.lines,
        assumed=cut(assumed_time(heard.lines, case.max_gap_ms), start, end),
        start=start,
        end=end,
        as_of=end if case.as_of is None else case.as_of,
        proven=finding.proven if whole is None else cut(whole.proven, start, end),
        heat_status=_heat_status(finding, whole),
    )


def _heard(case: Case) -> _Heard:
    """Return the readings of a case that count.

    Raises:
        MisuseError: Nothing counts, or the record would end before it starts.
    """
    series = tuple(accepted(one) for one in case.probes)
    lines = proving_lines(case, case.probes, series)
    ends = _ends(case, lines)
    if ends is None:
        named = ", ".join(one.probe for one in case.probes) or "none is named"
        asked = next((remark for remark in case.remarks if "thrown away as impossible" in remark), "")
        raise MisuseError(
            f"No reading counts (probes: {named}): each is flagged bad, lies outside its probe's service, or is not there. "
            "Read a new heap by hand and log it, then ask again." + (f" {asked}" if asked else "")
        )
    seen = {own.probe: _in_service(one) for own, one in zip(case.probes, series, strict=True)}
    return _Heard(series=series, lines=lines, seen=seen, ends=ends)


def _usual(case: Case, heard: _Heard) -> Finding | None:
    """Return the verdict as it is usually read, or None where it is (rule 4)."""
    usually = usual_case(case)
    if usually is None:
        return None
    return _proven(usually, replace(heard, lines=proving_lines(usually, usually.probes, heard.series)))


def _without(case: Case, heard: _Heard) -> Iterator[tuple[str, Finding | None]]:
    """Yield the verdict without each probe that was taken out of the reckoning (rule 3)."""
    for place, one in enumerate(case.probes):
        if not one.retired_by:
            continue
        probes = (*case.probes[:place], *case.probes[place + 1 :])
        lines = proving_lines(case, probes, (*heard.series[:place], *heard.series[place + 1 :]))
        seen = {probe: times for probe, times in heard.seen.items() if probe != one.probe}
        left = any(_in_service(other).size for other in lines)
        yield one.probe, _proven(case, replace(heard, lines=lines, seen=seen)) if left else None


def _heat_status(finding: Finding, whole: HoldSet | None) -> HeatStatus:
    """Return the heat status of the material; `whole` comes from `_whole`."""
    return status_of_record(
        met=finding.outcome is Outcome.MET,
        # The hold that ended as material came in is no hold of the batch since.
        holding=any(end > finding.counts_from or whole is None for _, end in finding.hold),
        held_before=whole is not None and _held_before(whole, finding),
    )


def _whole(case: Case, series: Sequence[Series], finding: Finding) -> HoldSet | None:
    """Return the hold set with the time before material last came in; None where all of the record counts."""
    if finding.counts_from <= finding.start:
        return None
    lines = [smooth(one, case.smoothing_ms, case.max_gap_ms) for one in series]
    limits = case.rule.live.limits.guarded(case.guard_milli_k)
    return hold_sets(lines, (limits,), max_gap_ms=case.max_gap_ms, basis=case.basis)[0]


def _held_before(whole: HoldSet, finding: Finding) -> bool:
    return bool(cut(whole.hold, finding.start, min(finding.counts_from - 1, finding.end)))


def _ends(case: Case, series: Sequence[Series]) -> tuple[int, int] | None:
    times = [found for found in map(_in_service, series) if found.size]
    if not times:
        return None
    start = min(int(one[0]) for one in times) if case.start is None else case.start
    end = max(int(one[-1]) for one in times) if case.end is None else case.end
    if case.end is None:
        # What was read last and cannot be read counts as not proven, too.
        end = max([end, *(at for one in series for at in one.unread[-1:])])
    if end < start:
        raise MisuseError("The record would end before it starts; give a `from` that lies before the `to`.")
    return start, end


def _in_service(one: Series) -> NDArray[np.int64]:
    """Return the times of the readings that were taken while the probe was in."""
    return one.times[member(one.times, one.service)]


def member(times: NDArray[np.int64], within: Intervals) -> NDArray[np.bool_]:
    """Tell for each instant whether it lies in one of some times in service, whose ends are not included."""
    if not within:
        return np.zeros(times.shape, dtype=np.bool_)
    starts = np.array([start for start, _ in within], dtype=np.int64)
    ends = np.array([end for _, end in within], dtype=np.int64)
    place = np.searchsorted(starts, times, side="right") - 1
    found: NDArray[np.bool_] = (place >= 0) & (times < ends[np.maximum(place, 0)])
    return found


def _proven(case: Case, heard: _Heard) -> Finding:
    """Return the verdict on some lines under a case's rule; a doubt that cannot help any more is none (rule 5)."""
    start, end = heard.ends
    question = Question(
        rule=case.rule,
        max_gap_ms=case.max_gap_ms,
        basis=case.basis,
        guard_milli_k=case.guard_milli_k,
        smoothing_ms=case.smoothing_ms,
        start=start,
        end=end,
        as_of=case.as_of,
        turnings=case.turnings,
        restarts=case.restarts,
        evidence=Evidence(
            declared={key: one.by for key, one in case.declared.items()},
            length_milli_m=case.measures.get("length"),
            volume_milli_m3=case.measures.get("volume"),
            depths={one.probe: one.depth_milli_m for one in case.probes},
            # It takes arrays as they are.
            times={probe: cast("Sequence[int]", times) for probe, times in heard.seen.items()},
            start=start,
            end=end,
        ),
    )
    return _until_met_anew(case, heard.lines, prove(question, heard.lines))


def _until_met_anew(case: Case, series: Sequence[Series], finding: Finding) -> Finding:
    """Return a finding as it stands, but *not met* for a doubt after an earlier hold was made void (rule 5)."""
    if finding.outcome is not Outcome.NOT_PROVEN:
        return finding
    whole = _whole(case, series, finding)
    if whole is None or not _held_before(whole, finding):
        return finding
    void = (
        f"what was held before {show_time(finding.counts_from)} was made void by what came in then; not met anew since"
    )
    return replace(finding, outcome=Outcome.NOT_MET, reasons=(*finding.reasons, void))


def accepted(one: CaseProbe) -> Series:
    """Return the accepted readings of a probe, calibrated, thousandths of a degree Celsius."""
    milli, known = calibrated(one)
    fit = known & ((one.quality == 1) | (one.quality == 2))
    return Series(probe=one.probe, times=one.times[fit], milli_c=milli[fit], service=one.service, unread=one.unread)


def calibrated(one: CaseProbe) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Return the temperature of each reading, thousandths of a degree Celsius, and whether its unit has any."""
    known = np.zeros(one.times.shape, dtype=np.bool_)
    milli = np.zeros(one.times.shape, dtype=np.int64)
    probe = Probe(place="", role=Role.CORE, address=one.probe, calibrations=one.calibrations)
    for place, unit in enumerate(one.unit_names):
        mine = one.units == place
        at = NEVER
        while True:
            stretch = stretch_at(probe, unit, at)
            now = mine & (one.times >= stretch.start) & (one.times < stretch.end)
            if stretch.line is not None and now.any():
                milli[now] = along(stretch.line, one.micro[now])
                known |= now
            if not (mine & (one.times >= stretch.end)).any():
                break
            at = stretch.end
    return milli, known

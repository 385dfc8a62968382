"""From readings to a verdict in one call: the hold sets that a rule asks for, then the rule held against them."""

from collections.abc import Sequence

from monitor.proof.governing import Course
from monitor.proof.holdset import HoldBasis, hold_sets
from monitor.proof.rules import Rule
from monitor.proof.temperature import Series, falls_before, smooth
from monitor.proof.verdict.evaluate import evaluate
from monitor.proof.verdict.other_conditions import Evidence
from monitor.proof.verdict.rule_finding import Finding


def prove(  # noqa: PLR0913  (one call for all that a case says)
    rule: Rule,
    series: Sequence[Series],
    *,
    max_gap_ms: int,
    basis: HoldBasis = HoldBasis.COLDEST,
    start: int | None = None,
    end: int | None = None,
    turnings: Sequence[int] = (),
    restarts: Sequence[int] = (),
    as_of: int | None = None,
    guard_milli_k: int = 0,
    smoothing_ms: int = 0,
    evidence: Evidence | None = None,
) -> Finding:
    """Return what came of a batch under a rule, straight from the accepted readings of its probes.

    Args:
        rule: The rule.
        series: Accepted readings of each core probe.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        basis: How the probes are judged together.
        start: Where the record begins; else the earliest first reading of any probe (before any smoothing).
        end: Where it ends; else the latest last reading of any probe.
        turnings: As for `evaluate`.
        restarts: As for `evaluate`.
        as_of: As for `evaluate`.
        guard_milli_k: Guard band by which every limit is drawn in, thousandths of a kelvin.
        smoothing_ms: Length of the running mean (`smoothing`), ms; 0 for none.
        evidence: What is known of the rule's other conditions, or None where they are not to be examined.

    Raises:
        ValueError: As `hold_set`, `smooth` and `evaluate`, or no probe has a reading and an end is not given.
    """
    if start is None or end is None:
        heard = [one.times for one in series if one.times.size]
        if not heard:
            raise ValueError("no probe has a reading, so the record has no ends")
        start = min(int(times[0]) for times in heard) if start is None else start
        end = max(int(times[-1]) for times in heard) if end is None else end
    lines = tuple(smooth(one, smoothing_ms, max_gap_ms) for one in series)
    limits = [one.guarded(guard_milli_k) for one in rule.all_limits()]
    return evaluate(
        rule,
        hold_sets(lines, limits, max_gap_ms=max_gap_ms, basis=basis),
        start=start,
        end=end,
        turnings=turnings,
        falls=falls_before(series, turnings),
        max_gap_ms=max_gap_ms,
        restarts=restarts,
        as_of=as_of,
        series=Course(lines, max_gap_ms=max_gap_ms, basis=basis, guard_milli_k=guard_milli_k),
        evidence=evidence,
    )

"""From readings to a verdict in one call: the hold sets of a rule's alternatives, then the rule held against them."""

from collections.abc import Sequence

from monitor.proof.evaluate import Finding, evaluate
from monitor.proof.holdset import Series, hold_set
from monitor.proof.proven import HoldBasis
from monitor.proof.rules import Rule


def prove(
    rule: Rule,
    series: Sequence[Series],
    *,
    max_gap_ms: int,
    basis: HoldBasis = HoldBasis.COLDEST,
    start: int | None = None,
    end: int | None = None,
    turnings: Sequence[int] = (),
    restarts: Sequence[int] = (),
) -> Finding:
    """Return what came of a batch under a rule, straight from the accepted readings of its probes.

    Args:
        rule: The rule.
        series: Accepted readings of each core probe.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        basis: How the probes are judged together.
        start: Where the record begins; else the earliest first reading of any probe.
        end: Where it ends; else the latest last reading of any probe.
        turnings: As for `evaluate`.
        restarts: As for `evaluate`.

    Raises:
        ValueError: As `hold_set` and `evaluate`, or no probe has a reading and an end is not given.
    """
    if start is None or end is None:
        heard = [one.times for one in series if one.times.size]
        if not heard:
            raise ValueError("no probe has a reading, so the record has no ends")
        start = min(int(times[0]) for times in heard) if start is None else start
        end = max(int(times[-1]) for times in heard) if end is None else end
    sets = [hold_set(series, way.limits, max_gap_ms=max_gap_ms, basis=basis) for way in rule.alternatives]
    return evaluate(rule, sets, start=start, end=end, turnings=turnings, restarts=restarts)

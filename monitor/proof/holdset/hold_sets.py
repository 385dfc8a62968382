"""The exact times in which the temperature of a batch was proven and within a rule's limits.

Rules this module keeps (design, the rule evaluation; `stretches` and `crossed` keep those about a single probe):

1. A probe is in service from its `probe in` (included) to its `probe out` (not included); one that is out has no say, and
   while none is in service the time is unproven.
2. Basis coldest: the coldest at or above the lower limit and the hottest at or below the upper one, which is: every
   probe in service within both. Mean: the mean of the probes in service. Each: every probe by itself.
"""

from collections.abc import Sequence

import numpy as np

from monitor.proof.holdset.hold_values import HoldBasis, HoldSet, ProbeSets
from monitor.proof.holdset.limit_crossings import within
from monitor.proof.holdset.mean_within import mean_holds
from monitor.proof.intervals import (
    EMPTY,
    FAR_AHEAD_MS,
    LONG_AGO_MS,
    Intervals,
    Spans,
    as_spans,
    complement,
    intersection,
    members,
    normal,
    union,
)
from monitor.proof.rules import Limits
from monitor.proof.temperature import ALWAYS, Series, Stretches, stretches


def hold_set(
    series: Sequence[Series], limits: Limits, *, max_gap_ms: int, basis: HoldBasis = HoldBasis.COLDEST
) -> HoldSet:
    """Return when the batch is proven and when it is within the limits.

    Args:
        series: Accepted readings of each core probe; a probe without readings is unproven while in service.
        limits: Lower and upper limit.
        max_gap_ms: Longest distance between two readings across which a line is drawn, ms.
        basis: How the probes are judged together.

    Returns:
        The hold set, with those of every probe in the order given.

    Raises:
        ValueError: Readings are out of order, or there are not as many times as values.
    """
    return hold_sets(series, (limits,), max_gap_ms=max_gap_ms, basis=basis)[0]


def hold_sets(
    series: Sequence[Series], all_limits: Sequence[Limits], *, max_gap_ms: int, basis: HoldBasis = HoldBasis.COLDEST
) -> list[HoldSet]:
    """Return the hold set for each of several limits, in their order; what they share is worked out once.

    Args:
        series: As for `hold_set`.
        all_limits: Lower and upper limits.
        max_gap_ms: As for `hold_set`.
        basis: As for `hold_set`.

    Returns:
        One hold set for each of the limits.

    Raises:
        ValueError: As for `hold_set`.
    """
    known = [stretches(one, max_gap_ms) for one in series]
    own = [one.proven for one in known]
    proven = proven_together(known, basis)
    found = []
    for limits in all_limits:
        holding = [within(one, limits) for one in known]
        if basis is HoldBasis.EACH:
            hold = intersection(*holding) if holding else EMPTY
        elif basis is HoldBasis.MEAN and len(known) > 1:
            hold = mean_holds(known, proven, limits)
        else:
            hold = intersection(proven, _together(series, holding))
        probes = tuple(
            ProbeSets(probe=one.probe, proven=mine, hold=hot)
            for one, mine, hot in zip(series, own, holding, strict=True)
        )
        found.append(HoldSet(basis=basis, proven=proven, hold=hold, probes=probes))
    return found


def proven_together(known: Sequence[Stretches], basis: HoldBasis) -> Spans:
    """Return when the temperature of a batch is known, as `HoldSet.proven` says."""
    own = [one.proven for one in known]
    if basis is HoldBasis.EACH:
        return intersection(*own) if own else EMPTY
    return _together([one.series for one in known], own)


def _together(series: Sequence[Series], sets: Sequence[Spans]) -> Spans:
    """Return the instants at which every probe that is in service has its own set, and at least one is.

    The time in which a probe is out is closed at both ends, so that what others hold up to a `probe in` lasts up to it.
    Where that alone would make the single instant of a `probe in` a member, without that probe's own set, the instant is
    taken away again.
    """
    if not series:
        return EMPTY
    if all(one.service == ALWAYS for one in series):
        return intersection(*sets)
    anyone = normal(span for one in series for span in one.service)
    terms, unclaimed = [as_spans([(start, end - 1) for start, end in anyone if start < end])], []
    for one, own in zip(series, sets, strict=True):
        service = normal(one.service)
        entered = service.starts
        unclaimed.append(entered[~members(own, entered)])
        terms.append(union(own, complement(_joined(service, own), LONG_AGO_MS, FAR_AHEAD_MS)))
    common = intersection(*terms)
    single = np.flatnonzero(common.starts == common.ends)
    if not single.size:
        return common
    kept = np.ones(len(common), dtype=np.bool_)
    kept[single] = ~np.isin(common.starts[single], np.concatenate(unclaimed))
    return Spans(common.starts[kept], common.ends[kept])


def _joined(service: Intervals, own: Spans) -> Intervals:
    """Return times in service, each up to the last reading where that is the very last millisecond: nothing lies between."""
    last = members(own, np.array([end - 1 for _, end in service], dtype=np.int64)).tolist()
    return tuple((start, end - read) for (start, end), read in zip(service, last, strict=True) if start <= end - read)

"""When the coldest of some probes was at a temperature, for shading a plot: the rule evaluator's own hold set.

It shades what was measured. Which of it counts for the rule (turnings, days, probes out) is the rule's business.
"""

from collections.abc import Sequence

from monitor.page.lines import Series


def held_spans(found: Sequence[Series], limit_milli_c: int, max_gap_ms: int) -> list[tuple[int, int]]:
    """Return the spans (UTC ms) in which every probe was proven to be at or above a temperature."""
    from monitor.proof import Limits, hold_set  # noqa: PLC0415 (numpy comes with the first plot)
    from monitor.proof import Series as ProofSeries  # noqa: PLC0415

    some = [ProofSeries(probe=one.probe, times=one.time, milli_c=one.milli) for one in found if len(one.time)]
    if not some:
        return []
    limits = Limits(low_milli_c=limit_milli_c)
    return [(int(start), int(end)) for start, end in hold_set(some, limits, max_gap_ms=max_gap_ms).hold]

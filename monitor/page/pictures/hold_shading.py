"""Finds when the coldest of some probes was at a temperature, to shade a plot, by the rule evaluator's hold set.

The shading shows the measured time. How much of it counts for the rule (turnings, days, probes out) is the rule's business.
"""

from collections.abc import Sequence

from monitor.page.pictures.plot_series import PlotSeries

_FOREVER = 2**62


def held_spans(found: Sequence[PlotSeries], limit_milli_c: int, max_gap_ms: int) -> list[tuple[int, int]]:
    """Return the spans (UTC ms) in which every probe was proven to be at or above a temperature.

    Args:
        found: The probes' readings.
        limit_milli_c: The temperature, inclusive, thousandths of °C.
        max_gap_ms: Longest distance between two readings across which a line is drawn.
    """
    from monitor.proof.holdset import hold_set  # noqa: PLC0415 (numpy comes with the first plot)
    from monitor.proof.rules import Limits  # noqa: PLC0415 (numpy comes with the first plot)
    from monitor.proof.temperature import Series  # noqa: PLC0415 (numpy comes with the first plot)

    some = [
        Series(probe=one.probe, times=one.time, milli_c=one.milli, service=_service(one))
        for one in found
        if len(one.time)
    ]
    if not some:
        return []
    # A probe proves nothing while it is outside, nor until it has taken on the heat around it.
    limits = Limits(low_milli_c=limit_milli_c)
    return [(int(start), int(end)) for start, end in hold_set(some, limits, max_gap_ms=max_gap_ms).hold]


def _service(one: PlotSeries) -> list[tuple[int, int]]:
    """Return when a probe's readings count, UTC ms: neither outside nor in the hour after it is back."""
    counted, since = [], -_FOREVER
    for out in one.outings:
        if out.start > since:
            counted.append((since, out.start))
        since = _FOREVER if out.fit is None else max(since, out.fit)
    return [*counted, (since, _FOREVER)] if since < _FOREVER else counted

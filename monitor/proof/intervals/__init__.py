"""Sets of instants, and exact arithmetic on them: any sequence of pairs goes in, columns (`Spans`) come out."""

from monitor.proof.intervals.interval_columns import Column, Spans, distinct, in_order
from monitor.proof.intervals.interval_sets import (
    EMPTY,
    FAR_AHEAD_MS,
    LONG_AGO_MS,
    Intervals,
    Measure,
    as_spans,
    complement,
    contains,
    cut,
    difference,
    instants,
    intersection,
    lasting,
    longest,
    members,
    next_instant,
    next_start,
    normal,
    normal_columns,
    total,
    union,
)

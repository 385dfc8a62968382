"""Several probes side by side: the instants at which any of their lines bends, and which line of each applies there.

Between two such instants (knots) every probe's temperature is a straight line. A bundle is a time in which no probe
comes or goes; it is walked through in pieces that fit the processor's cache.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from monitor.proof.intervals import Column, Spans, as_spans, cut, distinct, normal
from monitor.proof.temperature.segments import CHUNK, Series, Stretches


@dataclass(frozen=True, slots=True)
class Bundle:
    """The probes in service in a time in which none comes or goes.

    Attributes:
        series: Those probes; their readings may reach beyond this time.
        known: When the temperature is proven within this time, ordered.
    """

    series: tuple[Series, ...]
    known: Spans


@dataclass(frozen=True, slots=True)
class Knots:
    """Some knots of a bundle, and the reading of each probe from which the line at that knot starts.

    Attributes:
        times: UTC ms, strictly rising.
        places: One array a probe; before its first reading the place is 0, which is never asked for.
    """

    times: Column
    places: tuple[NDArray[np.intp], ...]


def bundles(known: Sequence[Stretches], proven: Spans) -> Iterator[Bundle]:
    """Cut the proven set where a probe comes or goes; a single proven instant there is a bundle by itself.

    Args:
        known: The readings of each probe.
        proven: When the temperature of the batch is known.

    Yields:
        The bundles; those of single instants come last.
    """
    if not len(proven):
        return
    series = [one.series for one in known]
    services = [normal(one.service) for one in series]
    edges = sorted({at for service in services for pair in service for at in pair})
    for start, end in pairwise(edges):
        part = cut(proven, start, end)
        # A cut may leave a single instant of what lasts beyond; and one that is an edge has its own bundle.
        kept = (part.ends > part.starts) | ((part.starts > start) & (part.ends < end))
        if bool(kept.any()):
            inside = [any(first <= start and end <= last for first, last in service) for service in services]
            yield _bundle(series, inside, Spans(part.starts[kept], part.ends[kept]))
    for at in edges:
        if (at, at) in cut(proven, at - 1, at + 1):
            # A probe that goes out at this very instant has no say in it any more.
            inside = [any(first <= at < last for first, last in service) for service in services]
            yield _bundle(series, inside, as_spans([(at, at)]))


def _bundle(series: Sequence[Series], inside: Sequence[bool], known: Spans) -> Bundle:
    return Bundle(tuple(one for one, wanted in zip(series, inside, strict=True) if wanted), known)


def walk(bundle: Bundle) -> Iterator[Knots]:
    """Walk through all knots of a bundle in order: readings, and the ends of what is proven."""
    first, last = int(bundle.known.starts[0]), int(bundle.known.ends[-1])
    bounds = distinct(np.concatenate((bundle.known.starts, bundle.known.ends)))
    columns = [bounds]
    for one in bundle.series:
        begin, finish = np.searchsorted(one.times, first, "left"), np.searchsorted(one.times, last, "right")
        columns.append(one.times[begin:finish])
    densest = max(columns, key=len)
    cuts = densest[:: max(1, CHUNK // len(columns))][1:]
    places = [[0, *np.searchsorted(column, cuts, "left").tolist(), column.size] for column in columns]
    for number in range(len(cuts) + 1):
        here = [column[own[number] : own[number + 1]] for column, own in zip(columns, places, strict=True)]
        times = distinct(np.concatenate(here))
        if times.size:
            yield Knots(times, tuple(_starts_of_lines(one, times) for one in bundle.series))


def _starts_of_lines(one: Series, knots: Column) -> NDArray[np.intp]:
    """Return the place of the last reading at or before each knot; every reading between the knots is one of them."""
    before = int(np.searchsorted(one.times, knots[0], "right")) - 1
    behind = int(np.searchsorted(one.times, knots[-1], "right"))
    steps = np.zeros(knots.size, dtype=np.intp)
    steps[np.searchsorted(knots, one.times[before + 1 : behind], "left")] = 1
    steps[0] += max(before, 0)
    places: NDArray[np.intp] = np.cumsum(steps)
    return places if before >= 0 else np.maximum(places - 1, 0)


def places_at(bundle: Bundle, instants: Column) -> tuple[NDArray[np.intp], ...]:
    """Return the reading of each probe from which the line at each instant starts."""
    return tuple(np.maximum(np.searchsorted(one.times, instants, "right") - 1, 0) for one in bundle.series)

"""A bin's year: the reach of temperature and moisture on each day, days past a limit, food and harvests.

Rules: a day is past a limit if a reading of it was (on the limit counts, as it does for the alarm). Alarms are those that the
record decided: one rings only if it lasts, and none rings for readings that came in from a file, so there can be more such days
than days with an alarm.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from monitor.material import MaterialRecord, Movement, Node, NodeKind
from monitor.model.thresholds import BinThresholds
from monitor.model.work_kinds import declared
from monitor.notices import local
from monitor.reports.report_spans import Span
from monitor.reports.report_sums import Sum, sum_of

DayReach = Mapping[date, tuple[int, int]]
"""By local day the lowest and the highest reading, thousandths of °C or of a percent."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A harvest: when (UTC ms), its id, and how much it was."""

    at: int
    harvest: str
    mass: Sum


@dataclass(frozen=True, slots=True, kw_only=True)
class BinYear:
    """A bin over some months.

    Attributes:
        place: Its id.
        limits: Its limits, as they are now.
        heat: The reach of its temperature on each day.
        damp: The reach of its moisture on each day.
        hot: Days on which a reading reached the limit of overheating.
        danger: Days on which one passed the limit beyond which any probe tells of worms in danger.
        near_frost: Days on which a reading was at or below the first limit against frost.
        frost: Days on which one was at or below the second.
        alarmed: Days on which an alarm of heat or frost was on, by the decisions of the record.
        fed: The food of each month that has any, by the yard's own months (`2026-10`).
        fed_in_all: All of it.
        taken: The harvests, in order of time.
        taken_in_all: All of them.
    """

    place: str
    limits: BinThresholds
    heat: DayReach
    damp: DayReach
    hot: Sequence[date]
    danger: Sequence[date]
    near_frost: Sequence[date]
    frost: Sequence[date]
    alarmed: Sequence[date]
    fed: Mapping[str, Sum]
    fed_in_all: Sum
    taken: Sequence[Taken]
    taken_in_all: Sum

    @property
    def empty(self) -> bool:
        """Whether the record says nothing of it in these months."""
        return not (self.heat or self.damp or self.fed_in_all.entries or self.taken or self.alarmed)


def bin_year(
    place: str,
    limits: BinThresholds,
    span: Span,
    record: MaterialRecord,
    heat: DayReach,
    damp: DayReach,
    in_alarm: Iterable[tuple[int, int]],
) -> BinYear:
    """Return the year of a bin.

    Args:
        place: The bin.
        limits: Its limits.
        span: The months.
        record: The graph of material and the log.
        heat: The reach of its temperature on each day of them.
        damp: The reach of its moisture.
        in_alarm: The times in which an alarm of heat or frost was on there, (from, to) in UTC ms.
    """
    food = list(_food(record, place, span))
    taken = _taken(record, place, span)
    near = max(limits.near_freezing_milli_c, limits.freezing_milli_c)
    by_month: dict[str, list[Movement]] = {}
    for move in food:
        by_month.setdefault(span.month_of(move.time), []).append(move)
    return BinYear(
        place=place,
        limits=limits,
        heat=heat,
        damp=damp,
        hot=[day for day, (_, high) in sorted(heat.items()) if high >= limits.overheating_milli_c],
        danger=[day for day, (_, high) in sorted(heat.items()) if high > limits.danger_any_milli_c],
        near_frost=[day for day, (low, _) in sorted(heat.items()) if low <= near],
        frost=[day for day, (low, _) in sorted(heat.items()) if low <= limits.freezing_milli_c],
        alarmed=_days(in_alarm, span),
        fed={month: sum_of(some) for month, some in sorted(by_month.items())},
        fed_in_all=sum_of(food),
        taken=[Taken(some[0].time, node.id, sum_of(some)) for node, some in taken.items()],
        taken_in_all=sum_of(move for some in taken.values() for move in some),
    )


def _food(record: MaterialRecord, place: str, span: Span) -> Iterable[Movement]:
    """Yield the food of a bin's worms; the report of a yard sums up the same movements."""
    for node in record.graph.nodes(NodeKind.BED):
        for move in record.graph.into.get(node, ()):
            work = record.entries.get(move.entry)
            if work is not None and work.place == place and declared(work.kind).feeds and span.has(move.time):
                yield move


def _taken(record: MaterialRecord, place: str, span: Span) -> dict[Node, list[Movement]]:
    """Return the harvests from the bed of a bin, each with its movements, in order of time."""
    found: dict[Node, list[Movement]] = {}
    for node in record.graph.nodes(NodeKind.HARVEST):
        some = [move for move in record.graph.into.get(node, ()) if span.has(move.time)]
        if some and (work := record.entries.get(some[0].entry)) is not None and work.place == place:
            found[node] = some
    return dict(sorted(found.items(), key=lambda one: one[1][0].time))


def _days(spans: Iterable[tuple[int, int]], span: Span) -> list[date]:
    """Return the local days of a span that some times touch."""
    found: set[date] = set()
    for start, end in spans:
        if end < span.start or start >= span.end:
            continue
        first = max(local(start, span.zone).date(), span.first)
        last = min(local(max(start, end - 1), span.zone).date(), span.last)
        found |= {day for day in span.days() if first <= day <= last}
    return sorted(found)

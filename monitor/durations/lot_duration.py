"""Judges each condition of a rule of duration for a lot: kept, not kept, or nobody can say, with the reason.

1. A lot is followed up to the beds that it was taken from. Each taking must keep each condition; the worst answer counts.
2. Duration: kept if the newest thing that was in the bed when it was harvested had lain there long enough. Not kept if not even
   the oldest had, or if the bed was harvested whole. Of a part of a bed nobody can say whether the newest is in it.
3. Moisture: kept if it was measured again and again from the bed's beginning to the harvest, and always lay in the range,
   whose ends belong to it. One measurement that surely lies outside breaks it. A squeeze is a range.
4. Layers: kept if each feeding's thickness is known and none is too thick, in whole millimetres.
5. The record cannot say the rest; a person declares it as a test of the lot.
6. The whole is met only if each condition is kept: neither a doubt nor a silence becomes a yes.
"""

import calendar
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import timedelta
from enum import StrEnum
from itertools import pairwise
from zoneinfo import ZoneInfo

from monitor.durations.bed_facts import BedFacts, Moist
from monitor.material import MaterialRecord, Movement, Node, NodeKind
from monitor.model.times import DAY_MS
from monitor.notices import local
from monitor.proof.rules import BedDuration, DurationRule


class Answer(StrEnum):
    """The answers to a condition; stored and shown, so never renamed."""

    KEPT = "kept"
    NOT_KEPT = "not kept"
    UNKNOWN = "nobody can say"


@dataclass(frozen=True, slots=True)
class Finding:
    """The answer to one condition.

    Attributes:
        key: The condition.
        answer: The answer.
        why: The reason, a sentence without its full stop.
    """

    key: str
    answer: Answer
    why: str


@dataclass(frozen=True, slots=True)
class LotDuration:
    """A lot held against a rule of duration.

    Attributes:
        rule: The rule.
        findings: The conditions in the rule's order.
    """

    rule: DurationRule
    findings: tuple[Finding, ...]

    @property
    def answer(self) -> Answer:
        """The worst answer of all conditions."""
        return _worst(self.findings).answer


@dataclass(frozen=True, slots=True)
class _Taking:
    """A harvest of a bed that is in the lot: when (UTC ms), whether of a part, the bed's facts, when things went into it."""

    bed: Node
    time: int
    in_part: bool
    facts: BedFacts
    came: tuple[int, ...]

    def said(self, why: str) -> str:
        return f"{self.bed.id}: {why}"


_OUT_OF_BEDS = (NodeKind.HARVEST, NodeKind.FRACTION, NodeKind.LOT)
"""Kinds of nodes that are followed up to the beds that they came from."""


def lot_duration(
    rule: DurationRule,
    record: MaterialRecord,
    lot: Node,
    bed_of: Callable[[Node], BedFacts],
    declared: Mapping[str, bool],
    zone: ZoneInfo,
) -> LotDuration | None:
    """Hold a lot against a rule of duration.

    Args:
        rule: The rule.
        record: The graph and the log.
        lot: The lot.
        bed_of: Returns the facts about a bed.
        declared: By a condition's key, whether a person said that it is kept.
        zone: The yard's time zone, in which months are counted.

    Returns:
        The findings; None of a lot with nothing out of a worm bed.
    """
    moves, others = _taken(record, lot)
    if not moves:
        return None
    takings = [_taking(record, move, bed_of) for move in moves]
    findings = [
        _worst(_duration(rule, one, zone) for one in takings),
        _worst(_moisture(rule, one, zone) for one in takings),
        _worst(_layers(rule, one) for one in takings),
        *(_declared(one.key, one.text, declared.get(one.key)) for one in rule.declared),
    ]
    if others:
        names = ", ".join(one.id for one in others)
        findings.insert(0, Finding("beds", Answer.NOT_KEPT, f"{names} went into it without passing a worm bed"))
    return LotDuration(rule, tuple(findings))


def _taken(record: MaterialRecord, lot: Node) -> tuple[list[Movement], list[Node]]:
    """Return the movements out of beds that are in a lot, and what came into it by another way than a bed."""
    found: list[Movement] = []
    others: dict[Node, None] = {}
    todo: list[tuple[Node, int | None]] = [(lot, None)]
    seen: set[tuple[Node, int | None]] = set(todo)
    for node, until in todo:
        moves = [one for one in record.graph.into.get(node, ()) if until is None or one.time <= until]
        for move in moves:
            if move.source is not None and move.source.kind is NodeKind.BED:
                found.append(move)
            elif move.source is None or move.source.kind not in _OUT_OF_BEDS:
                others[move.source or node] = None
            elif (step := (move.source, move.time)) not in seen:
                seen.add(step)
                todo.append(step)
    return list(dict.fromkeys(found)), list(others)


def _taking(record: MaterialRecord, move: Movement, bed_of: Callable[[Node], BedFacts]) -> _Taking:
    assert move.source is not None
    came = sorted(one.time for one in record.graph.into.get(move.source, ()) if one.time <= move.time)
    return _Taking(move.source, move.time, move.in_part, bed_of(move.source), tuple(came))


def _duration(rule: DurationRule, taking: _Taking, zone: ZoneInfo) -> Finding:
    answer, why = _lain(rule, taking, zone)
    return Finding("duration", answer, taking.said(why))


def _lain(rule: DurationRule, taking: _Taking, zone: ZoneInfo) -> tuple[Answer, str]:
    limit = _limit_of(rule, taking.facts)
    if not taking.came:
        return Answer.UNKNOWN, "nothing is recorded of what went into it before the harvest"
    if isinstance(limit, str):
        return Answer.UNKNOWN, limit
    wanted = f"the rule asks for {_limit_said(limit)}"
    oldest, newest = taking.came[0], taking.came[-1]
    if _ripe(newest, limit, zone) <= taking.time:
        return Answer.KEPT, f"the last that went in lay there {_days(taking.time - newest)}, and {wanted}"
    if _ripe(oldest, limit, zone) > taking.time:
        return Answer.NOT_KEPT, f"it was begun {_days(taking.time - oldest)} before the harvest, and {wanted}"
    last = f"something went in {_days(taking.time - newest)} before the harvest, and {wanted}"
    if taking.in_part:
        return Answer.UNKNOWN, f"{last}; whether that is in the part that was harvested, nobody can say"
    return Answer.NOT_KEPT, f"{last}; it was harvested whole"


def _limit_of(rule: DurationRule, facts: BedFacts) -> BedDuration | str:
    """Return the least time in a bed, or why nobody can say."""
    if facts.kind is None:
        return "nobody said what kind of bed it is (kind in the configuration)"
    limit = next((one for one in rule.beds if facts.kind in one.kinds), None)
    if limit is None:
        return f"the rule says nothing of beds of the kind {facts.kind.value}"
    if limit.indoors is None or facts.indoors is limit.indoors:
        return limit
    where = "indoors" if limit.indoors else "outdoors"
    if facts.indoors is None:
        return f"nobody said whether it stands {where} (indoors in the configuration)"
    return f"the rule's time for its kind is for beds {where}, and it is none"


def _ripe(at: int, limit: BedDuration, zone: ZoneInfo) -> int:
    """Return the first instant (UTC ms) at which something that came in at an instant has lain long enough.

    Months are those of the calendar: the same day and time so many months on, or the month's last day if it has no such day.
    """
    if limit.days:
        return at + limit.days * DAY_MS
    begun = local(at, zone)
    months = begun.year * 12 + begun.month - 1 + limit.months
    year, month = months // 12, months % 12 + 1
    day = min(begun.day, calendar.monthrange(year, month)[1])
    due = begun.replace(year=year, month=month, day=day)
    # Whole milliseconds, and exact: a float of seconds would be off by one now and then.
    return at + (due.astimezone(ZoneInfo("UTC")) - begun.astimezone(ZoneInfo("UTC"))) // timedelta(milliseconds=1)


def _moisture(rule: DurationRule, taking: _Taking, zone: ZoneInfo) -> Finding:
    answer, why = _damp(rule, taking, zone)
    return Finding("moisture", answer, taking.said(why))


def _damp(rule: DurationRule, taking: _Taking, zone: ZoneInfo) -> tuple[Answer, str]:
    low, high = rule.low_milli_pct, rule.high_milli_pct
    wanted = f"{low // 1000} to {high // 1000} %"
    if not taking.came:
        return Answer.UNKNOWN, "nobody knows when it was begun"
    begun = taking.came[0]
    reads = sorted((one for one in taking.facts.moist if begun <= one.time <= taking.time), key=lambda one: one.time)
    if not reads:
        return Answer.UNKNOWN, "nobody measured its moisture"
    outside = next((one for one in reads if one.high_milli_pct < low or one.low_milli_pct > high), None)
    if outside is not None:
        day = local(outside.time, zone)
        return (
            Answer.NOT_KEPT,
            f"it was at {_range_said(outside)} on {day.day} {day:%b %Y}, and the rule asks for {wanted}",
        )
    wide = next((one for one in reads if one.low_milli_pct < low or one.high_milli_pct > high), None)
    if wide is not None:
        day = local(wide.time, zone)
        return (
            Answer.UNKNOWN,
            f"on {day.day} {day:%b %Y} it was at {_range_said(wide)}, which is not surely within {wanted}",
        )
    times = [begun, *(one.time for one in reads), taking.time]
    longest = max(after - before for before, after in pairwise(times))
    if longest > rule.moisture_every_ms:
        return Answer.UNKNOWN, f"nobody measured its moisture for {_days(longest)}"
    return Answer.KEPT, f"it was always within {wanted} when it was measured"


def _layers(rule: DurationRule, taking: _Taking) -> Finding:
    answer, why = _thin(rule, taking)
    return Finding("layers", answer, taking.said(why))


def _thin(rule: DurationRule, taking: _Taking) -> tuple[Answer, str]:
    begun = taking.came[0] if taking.came else taking.time
    fed = [one for one in taking.facts.layers if begun <= one.time <= taking.time]
    if not fed:
        return Answer.UNKNOWN, "no feeding is recorded"
    known = [one.mm for one in fed if one.mm is not None]
    if known and round(max(known)) > rule.layer_mm:
        return (
            Answer.NOT_KEPT,
            f"a feeding made a layer of {_thick(max(known))}, and thin is {_thick(rule.layer_mm)} at most",
        )
    if len(known) < len(fed):
        return Answer.UNKNOWN, f"nobody can say how thick {len(fed) - len(known)} of {len(fed)} feedings lay"
    return Answer.KEPT, f"no feeding made a layer of more than {_thick(max(known))}"


def _declared(key: str, text: str, said: bool | None) -> Finding:
    if said is None:
        return Finding(
            key, Answer.UNKNOWN, f'"{text}": the record cannot say so; a person can, as a test of the lot called {key}'
        )
    return Finding(
        key, Answer.KEPT if said else Answer.NOT_KEPT, f'"{text}": {"so" if said else "not so"}, by a test of the lot'
    )


def _worst(findings: Iterable[Finding]) -> Finding:
    order = (Answer.NOT_KEPT, Answer.UNKNOWN, Answer.KEPT)
    return min(findings, key=lambda one: order.index(one.answer))


def _range_said(one: Moist) -> str:
    low, high = one.low_milli_pct / 1000, one.high_milli_pct / 1000
    return f"{low:g} %" if low == high else f"{low:g} to {high:g} %"


def _thick(mm: float) -> str:
    return f"{mm / 25.4:.1f} in ({mm:.0f} mm)"


def _limit_said(limit: BedDuration) -> str:
    return f"{limit.days} days" if limit.days else f"{limit.months} months"


def _days(span_ms: int) -> str:
    days = span_ms // DAY_MS
    return "less than a day" if not days else "1 day" if days == 1 else f"{days} days"

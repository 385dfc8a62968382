"""Reads the alternatives of a rule file: limits, and the parts of every kind (`kinds`)."""

from collections.abc import Callable, Mapping

from monitor.proof.rules.declared_rule import Alternative, Join
from monitor.proof.rules.kinds import (
    Constant,
    Days,
    Limits,
    Mean,
    Part,
    Run,
    RunBeforeTurnings,
    Total,
    Turnings,
    Window,
    Within,
)
from monitor.proof.rules.rule_table import Table, one_of


def _turnings(table: Table) -> Turnings | None:
    apart = table.duration("turnings_apart") if table.has("turnings_apart") else 0
    if not table.has("turnings"):
        if apart:
            raise table.fault("turnings_apart", "it says how far apart but not how many", "add `turnings`")
        return None
    return Turnings(count=table.number("turnings"), apart_ms=apart)


def _run(table: Table) -> Part:
    return Run(duration_ms=table.duration("duration"), turnings=_turnings(table))


def _total(table: Table) -> Part:
    return Total(duration_ms=table.duration("duration"), turnings=_turnings(table))


def _days(table: Table) -> Part:
    # Where the text does not say that days need not follow one another, they must.
    return Days(count=table.number("days"), consecutive=not table.flag("scattered"), turnings=_turnings(table))


def _before_turnings(table: Table) -> Part:
    return RunBeforeTurnings(duration_ms=table.duration("duration"), count=table.number("turnings"))


def _constant(table: Table) -> Part:
    below = table.duration("below") if table.has("below") else None
    floor = table.duration("floor")
    if below is not None and below <= floor:
        raise table.fault("below", "it is not longer than `floor`", "write a longer duration")
    return Constant(
        numerator_days=table.number("numerator", 10**12),
        per_degree_milli=table.factor("per_degree"),
        floor_ms=floor,
        below_ms=below,
    )


def _mean_of(table: Table) -> Mean:
    milli_c, text = table.temperature("mean")
    return Mean(low_milli_c=milli_c, strict=table.flag("strict"), text=text)


def _mean(table: Table) -> Part:
    return Window(span_ms=table.duration("span"), within=(Within(part=_mean_of(table)),))


def _window(table: Table) -> Part:
    span_ms = table.duration("span")
    within = tuple(_within(one, span_ms) for one in table.tables("within"))
    if sum(isinstance(one.part, Mean) for one in within) > 1:
        raise table.fault("within", "there is more than one mean", "ask for one mean")
    return Window(span_ms=span_ms, within=within)


def _within(table: Table, span_ms: int) -> Within:
    kind = _kind(table, ("run", "total", "mean"))
    if kind == "mean":
        mean = Within(part=_mean_of(table))
        _finish(table, ("strict",))
        return mean
    duration_ms = table.duration("duration")
    if duration_ms > span_ms:
        raise table.fault("duration", "it is longer than the `span` of its window", "write a shorter one")
    part = Run(duration_ms=duration_ms) if kind == "run" else Total(duration_ms=duration_ms)
    for key in ("limit", "strict"):
        if table.has(key) and not table.has("hold"):
            raise table.fault(key, "it stands without a `hold` of its own", "add `hold`, or leave it out")
    limits = _limits(table) if table.has("hold") else None
    _finish(table, ("hold", "limit", "strict"))
    return Within(part=part, limits=limits)


_KINDS: Mapping[str, tuple[Callable[[Table], Part], tuple[str, ...]]] = {
    "run": (_run, ("turnings", "turnings_apart")),
    "total": (_total, ("turnings", "turnings_apart")),
    "days": (_days, ("scattered", "turnings", "turnings_apart")),
    "window": (_window, ()),
    "mean": (_mean, ("strict",)),
    "run before each turning": (_before_turnings, ()),
    "constant temperature": (_constant, ("below",)),
}
"""Each kind by its word: its reader, and the keys that it can do without."""


def _kind(table: Table, kinds: tuple[str, ...]) -> str:
    right = "write " + one_of(kinds)
    kind = table.take("kind", right)
    if not isinstance(kind, str) or kind not in kinds:
        raise table.fault("kind", f"{kind!r} is not a kind of requirement", right)
    return kind


def _finish(table: Table, optional: tuple[str, ...]) -> None:
    for key in optional:
        table.take(key, "", default="")
    table.end()


def _part(table: Table) -> Part:
    read, optional = _KINDS[_kind(table, tuple(_KINDS))]
    part = read(table)
    _finish(table, optional)
    return part


def _limits(table: Table) -> Limits:
    low, low_text = table.temperature("hold")
    high, high_text = table.temperature("limit") if table.has("limit") else (None, "")
    if high is not None and high <= low:
        raise table.fault("limit", f"{high_text} is not above the hold temperature {low_text}", "write a higher one")
    strict = table.flag("strict")
    return Limits(low_milli_c=low, high_milli_c=high, strict=strict, low_text=low_text, high_text=high_text)


def _alternative(table: Table) -> Alternative:
    limits = _limits(table)
    join = table.word("join", Join, Join.ALL)
    parts = tuple(_part(one) for one in table.tables("parts"))
    _finish(table, ("limit", "strict"))
    return Alternative(limits=limits, parts=parts, join=join)


def read_alternatives(table: Table) -> tuple[Alternative, ...]:
    """Return the alternatives of a rule file, the one with the lowest temperature first."""
    ways = tuple(_alternative(one) for one in table.tables("alternatives"))
    lows = [way.limits.low_milli_c for way in ways]
    if lows[0] != min(lows):
        raise table.fault("alternatives", "the first is not the one with the lowest `hold`", "put that one first")
    return ways

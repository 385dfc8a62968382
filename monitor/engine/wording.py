"""What is known about an alarm when its words are written: from its record, and from what the engine remembers beside."""

from typing import Any

from monitor.alarms import AlarmRecord
from monitor.engine.core import Core
from monitor.engine.runs import progress_now
from monitor.model.units import MILLI, Quantity
from monitor.notices import Facts, Message, compose
from monitor.piles import COOLED_UNMET, TURNING_DUE

_MOISTURE = ("too-wet", "too-dry", "pile-too-dry", "pile-too-wet", "oxygen")
_QUIET_PROBE = ("silent", "broken", "hot-and-lost", "unwatched")


def milli(value: Any) -> int | None:
    """Return a plain number of an effect's values in thousandths, or None."""
    return round(value * MILLI) if isinstance(value, int | float) else None


def facts_of(core: Core, record: AlarmRecord, extra: dict[str, Any] | None = None) -> Facts:
    """Return what is known about an alarm now."""
    watch = core.state.watches.get(record.probe)
    values = record.values
    known: dict[str, Any] = dict(values)
    if "other" in values:
        known["other_milli"] = milli(values["other"])
    bed = core.state.bins.get(record.place)
    if bed is not None and bed.fed_at is not None:
        known["fed_at"] = bed.fed_at
    run = core.run_at(record.place)
    if record.alarm == "turning-due" and run is not None and run.walk.turned_at is not None:
        known["last_turned"] = run.walk.turned_at
    shown = milli(values.get("value"))
    if run is not None and record.on and record.alarm in (TURNING_DUE, COOLED_UNMET):
        # Told again days later, it says how far the batch is now, not how far it was when the alarm rang.
        progress = progress_now(run)
        known |= {} if progress is None else progress.values
        if record.alarm == TURNING_DUE and "variant" not in values:
            shown = _coldest(core, record.place, shown)
    known |= extra or {}
    moist = record.alarm in _MOISTURE
    trend = watch.trend() if watch is not None and not moist and record.alarm not in _QUIET_PROBE else None
    return Facts(
        place=record.place,
        probe=record.probe,
        value_milli=shown,
        limit_milli=milli(values.get("limit")),
        since=record.since,
        now=core.true_now,
        trend_milli_k_per_h=trend,
        quantity=Quantity.MOISTURE if moist else Quantity.TEMPERATURE,
        extra=known,
    )


def _coldest(core: Core, place: str, otherwise: int | None) -> int | None:
    """Return the lowest of what a heap's core probes said last; those that are silent are left out."""
    watches = [core.state.watches.get(probe) for probe in core.cores_of(place)]
    known = [w.accepted_milli for w in watches if w is not None and not w.silent and w.accepted_milli is not None]
    return min(known, default=otherwise)


BLANK = Message("", "")
"""What is told where nobody reads."""


def written(core: Core, notice: str, facts: Facts) -> Message:
    """Return the words of a notice, an alarm or a line of the digest; none where the engine is wordless."""
    return BLANK if core.wordless else compose(notice, facts, core.settings)


def words_for(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an alarm as it stands now."""
    return BLANK if core.wordless else compose(record.alarm, facts_of(core, record), core.settings)


def past_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words of an excursion that is already over."""
    if core.wordless:
        return BLANK
    facts = facts_of(core, record, {"alarm": record.alarm, "until": record.last})
    return compose("past", facts, core.settings)


def over_words(core: Core, record: AlarmRecord) -> Message:
    """Return the words that say an alarm's condition is over; the number is the newest one known."""
    if core.wordless:
        return BLANK
    watch = core.state.watches.get(record.probe)
    extra: dict[str, Any] = {"alarm": record.alarm, "until": core.at}
    facts = facts_of(core, record, extra)
    newest = watch.accepted_milli if watch is not None else None
    if (hand := core.state.hands.get(record.probe)) is not None and not record.values.get("taken_back"):
        newest = hand.milli
    if record.alarm in _QUIET_PROBE or newest is None:
        newest = None
    return compose(
        "over",
        Facts(
            place=facts.place,
            probe=facts.probe,
            value_milli=newest,
            limit_milli=facts.limit_milli if newest is not None else None,
            since=facts.since,
            now=facts.now,
            quantity=facts.quantity,
            extra=facts.extra,
        ),
        core.settings,
    )

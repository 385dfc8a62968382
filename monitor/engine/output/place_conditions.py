"""The effects, alarms and digest lines of a bin's bed, and the digest lines of a pile's moisture and oxygen."""

from collections.abc import Sequence
from functools import partial

from monitor.bins import BinChange, ConditionChange
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.core import Core
from monitor.engine.context.current_values import beyond
from monitor.engine.context.dangerous_heat import Danger
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.engine.output.alarm_facts import written
from monitor.engine.output.alarm_notices import note_line
from monitor.model.alarm_kinds import CATALOG, alarm_key
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.bounds import Bound, Limit, falling, rising
from monitor.model.effects import Draft, EffectKind
from monitor.model.excursions import Excursion, Turn
from monitor.model.flags import Verdict
from monitor.model.readings import is_hand
from monitor.model.times import DAY_MS
from monitor.model.units import Quantity, plain_number
from monitor.model.words import Thermal
from monitor.model.work import WorkKind
from monitor.notices import Facts, hand_words

PILE_TOO_DRY = "pile-too-dry"
"""The line of the digest about a heap that is too dry."""
_LINES = {Thermal.COOL: "cool", Thermal.COLD: "cold", Thermal.WARM: "warm"}


def bed_changes(core: Core, place: str, changes: list[BinChange]) -> None:
    """Take in changes of a bin, and set its next deadline.

    Args:
        core: The engine's ports.
        place: The bin.
        changes: Changes of its conditions and alarms.
    """
    _take_in(core, place, changes)
    core.wait(Deadline(place, DueKind.BED), core.bed(place).due())


def danger_signals(core: Core, place: str, danger: Danger, signals: list[AlarmSignal]) -> None:
    """Hand signals of dangerous heat to the alarms, and set the pile's next deadline.

    Args:
        core: The engine's ports.
        place: The pile.
        danger: The watch for its heat.
        signals: Alarms that begin or end.
    """
    _take_in(core, place, signals)
    core.wait(Deadline(place, DueKind.HOT), danger.due())


def serve_bed(core: Core, place: str) -> None:
    """Tell the conditions of a bin that have now lasted as long as they must."""
    bed_changes(core, place, core.bed(place).serve(core.at))


def serve_danger(core: Core, place: str) -> None:
    """Tell the heat alarms of a pile that have now lasted as long as they must."""
    danger = core.danger(place)
    danger_signals(core, place, danger, danger.serve(core.at))


def _take_in(core: Core, place: str, changes: Sequence[BinChange]) -> None:
    for change in changes if len(changes) < 2 else sorted(changes, key=_ends_last):
        if isinstance(change, ConditionChange):
            core.audience.read(partial(_condition, core, place, change), None)
        elif change.on:
            record = core.state.alarms.get(alarm_key(place, change.alarm, change.probe))
            over = (record is None or not record.on or record.latent) and _is_past(core, place, change)
            if over and record is not None and not record.on and record.since == change.since:
                continue  # told already
            core.begins(
                place, change.alarm, since=change.since, last=change.last, probe=change.probe, values=change.values,
                stage=change.stage,
            )  # fmt: skip
            if over:
                core.ends(place, change.alarm, change.probe)
        else:
            core.ends(place, change.alarm, change.probe)


def _is_past(core: Places, place: str, change: AlarmSignal) -> bool:
    """Return whether a late reading would raise an alarm although a person has read the place since, and found none.

    Such an alarm is told in the past tense; the probe's next reading in time, or one newer than the person's, raises it.
    """
    kind, limit = CATALOG[change.alarm], change.values.limit_milli
    if is_hand(change.probe) or not kind.limits or limit is None or change.values.moved_from:
        return False
    held = [one for one in spots_at(core.state.hands, place, held=True).values() if one.held_until > core.at]
    newer = change.last < core.late_before and any(one.time > change.last for one in held)
    return newer and not any(beyond(change.alarm, limit, one.milli) for one in held)


def _ends_last(change: BinChange) -> int:
    """Return a sort key: an alarm ends after those that it covers, so that none of them rings only to end."""
    if isinstance(change, ConditionChange) or change.on:
        return 0
    return len(CATALOG[change.alarm].covers)


def pile_lines(core: Places, place: str, probe: str, quantity: Quantity) -> list[Limit]:
    """Return the limits at which a pile's probe begins a line of the digest, in the order in which they are checked.

    Args:
        core: The engine's state and settings.
        place: The pile.
        probe: The probe.
        quantity: Its quantity; only moisture and oxygen have limits.
    """
    pile, found = core.pile(place), list[tuple[str, Bound, int]]()
    if pile is not None and quantity is Quantity.MOISTURE:
        dry, wet = pile.thresholds.moisture_low_milli_pct, pile.thresholds.moisture_high_milli_pct
        found = [
            (PILE_TOO_DRY, falling(dry - 1, dry - 1, 0), dry),
            ("pile-too-wet", rising(wet + 1, wet + 1, 0), wet),
        ]
    elif pile is not None and quantity is Quantity.OXYGEN:
        low = pile.thresholds.oxygen_low_milli_pct
        found = [("oxygen", falling(low - 1, low - 1, pile.thresholds.oxygen_dwell_ms), low)]
    known = core.state.lines
    return [
        Limit(kind, known.setdefault(f"{place}/{kind}/{probe}", Excursion()), bound, milli)
        for kind, bound, milli in found
    ]


def pile_moisture(core: Core, place: str, quantity: Quantity, verdict: Verdict, late: bool) -> None:
    """Check a reading of a pile's moisture or oxygen, and note a line for the digest where it begins to be wrong.

    Args:
        core: The engine's ports.
        place: The pile.
        quantity: The probe's quantity.
        verdict: The reading, as flagged.
        late: Whether it arrived late.
    """
    for line in pile_lines(core, place, verdict.probe, quantity):
        excursion, beyond = line.excursion, line.bound.beyond.covers(verdict.milli)
        turn = excursion.step(verdict.time, beyond, beyond, line.bound.delay_ms, late)
        excursion.due = None  # a line waits for no deadline: the next reading is soon enough
        if turn is Turn.ENDED:
            excursion.forget()
        elif turn is Turn.BEGAN and core.true_now - verdict.time < DAY_MS:
            facts = Facts(
                place=place,
                probe=verdict.probe,
                value_milli=verdict.milli,
                limit_milli=line.milli,
                since=excursion.since or verdict.time,
                now=core.at,
                quantity=Quantity.MOISTURE,
            )
            note_line(core, place, written(core, line.name, facts).short)


def _reason(change: ConditionChange, *, empty: bool, outside: bool) -> str:
    """Return why a condition changed, for programs."""
    if change.probe:
        return "reading"
    if empty:
        return WorkKind.EMPTIED.value
    return "outside" if outside else "silent"


def _condition(core: Core, place: str, change: ConditionChange) -> None:
    word = change.after.value
    before = change.before.value if change.before is not None else None
    name = core.settings.place_name(place)
    empty = core.bed(place).state.emptied_at is not None
    outside = not change.probe and any(not core.in_service(probe) for probe, _ in core.probes_of(place))
    shown = "in comfort" if word == Thermal.COMFORT.value else word
    known = f"{name} is {shown}"
    where = f" (probe {change.probe})" if change.probe else ", its probes are silent"
    if not change.probe:
        known = f"{name}: {'temperature' if change.axis == 'thermal' else change.axis} not known"
    if is_hand(change.probe):
        where = f" (read {hand_words(core.settings, change.probe)})"
    elif not change.probe and not any(p for p, _ in core.probes_of(place)):
        where = ", nobody has read it for too long"
    elif outside:
        where = ", its probes lie outside"
    if empty:
        where = ", it is empty"
    core.emit(
        Draft(
            place=place,
            kind=EffectKind.CONDITION,
            axis=change.axis,
            before=before,
            after=word,
            why=f"{known}{where}.",
            since=change.since,
            reason=_reason(change, empty=empty, outside=outside),
            probe=change.probe,
            values={} if change.milli is None else {"value": plain_number(change.milli)},
        )
    )
    line = _LINES.get(change.after) if isinstance(change.after, Thermal) else None
    if line is None or change.before is Thermal.OVERHEATING or not change.probe:
        return
    limits = core.settings.bins[place].thresholds
    limit = {"cool": limits.cool_milli_c, "cold": limits.cold_milli_c, "warm": limits.warm_milli_c}[line]
    facts = Facts(
        place=place,
        probe=change.probe,
        value_milli=change.milli,
        limit_milli=limit,
        since=change.since,
        now=core.at,
    )
    note_line(core, place, written(core, line, facts).short)

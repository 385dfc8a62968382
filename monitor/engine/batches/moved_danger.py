"""Danger belongs to the material: a heap that goes elsewhere takes its danger of fire along.

1. A value that holds `fire` or `too-hot` open at the place that a heap leaves holds the alarm open at the place where it goes,
   with its old beginning. There the alarm is told once more, with the place it came from; at the old place it is over, and
   people are told where it went. A part that is split off takes the danger along, and the rest keeps it too.
2. A value measured after the heap had gone belongs to whatever lies there then, and stays.
3. If a probe goes along, its next reading that counts decides. Any other value stands until the place is read by hand again: at
   the same spot, or at any spot if either reading names no spot of the new place. A second reading within an hour of one by
   hand ends nothing if either names no spot, since it may be of another spot (as in `hand_limits`).
4. If the entry is taken back, the danger goes back as if it had never gone; the danger of a part is over where the part never
   came.
"""

from collections.abc import Collection

from monitor.engine.context.core import Core
from monitor.engine.context.dangerous_heat import Brought
from monitor.engine.context.places import Places
from monitor.engine.output.differing_readings import forget_apart
from monitor.engine.output.place_conditions import danger_signals
from monitor.model.alarm_kinds import alarm_key
from monitor.model.readings import is_hand, names_spot
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import GOING
from monitor.piles import ROUND_MS, probes_left


def carry_danger(core: Core, work: Work) -> None:
    """Carry a heap's danger to where an entry says that the heap or a part of it went, before its probes follow."""
    piles = core.settings.piles
    if work.kind not in GOING or work.place == work.to or work.place not in piles or work.to not in piles:
        return
    stays = work.kind is WorkKind.SPLIT
    along = () if stays or probes_left(work) else core.cores_of(work.place)
    _carry(core, work.place, work.to, work.time, along=along, stays=stays)


def carry_back(core: Core, work: Work, left: str) -> None:
    """Undo that danger went along with a heap.

    Args:
        core: The engine's ports.
        work: The entry that is taken back.
        left: The pile on which nothing lies after that, or "".
    """
    piles = core.settings.piles
    if work.kind not in GOING or work.place not in piles or work.to not in piles or work.to not in core.state.dangers:
        return
    there = core.danger(work.to)
    mine = [one for one, came in there.state.brought.items() if (came.time, came.place) == (work.time, work.place)]
    if work.kind is WorkKind.SPLIT:
        _end(core, work.to, mine, work.place)
    elif left == work.to:
        # Values measured there since then belong to the heap that now lies in its old place again.
        _carry(core, work.to, work.place, core.at, along=core.cores_of(work.to), stays=False, back=True)
    else:
        _carry(core, work.to, work.place, core.at, along=(), stays=False, only=mine, back=True)


def read_anew(core: Places, place: str, series: str, time: int) -> None:
    """Take in a reading by hand of a pile, which replaces values that came with the heap before.

    Args:
        core: The engine's state and settings.
        place: The pile.
        series: The series read.
        time: When it was read, UTC ms.
    """
    danger = core.danger(place)
    for known in [one for one, came in danger.state.brought.items() if came.time < time]:
        if _answers(core, place, known, series) and not _same_round(core, place, known, series, time):
            danger.drop_brought(known)


def forget_brought(core: Core, place: str) -> None:
    """Drop the values that came with a heap that is gone; only fire heat still counts."""
    danger = core.danger(place)
    fire = danger.limits.fire_milli_c - danger.limits.deadband_milli_k
    cooler = [one for one in danger.state.brought if danger.state.newest.get(one, 0) < fire]
    for one in cooler:
        danger_signals(core, place, danger, danger.forget(one))


def unsay_brought(core: Core, series: str, time: int) -> None:
    """Drop a reading by hand that was taken back wherever it went along with a heap.

    Args:
        core: The engine's ports.
        series: Its series.
        time: When it was read, UTC ms.
    """
    for place, state in core.state.dangers.items():
        came = state.brought.get(series)
        if came is not None and came.time >= time and place in core.settings.piles:
            danger_signals(core, place, core.danger(place), core.danger(place).forget(series))


def _carry(
    core: Core,
    source: str,
    target: str,
    time: int,
    *,
    along: Collection[str],
    stays: bool,
    only: Collection[str] | None = None,
    back: bool = False,
) -> None:
    """Let values that hold danger open at one pile hold it open at another; `back`: the heap never left the other."""
    if source not in core.state.dangers:
        return
    old, new = core.danger(source), core.danger(target)
    holding = {
        series: alarms
        for series, alarms in old.holding().items()
        if (only is None or series in only) and (series in along or core.measured_at(source, series) <= time)
    }
    if not holding:
        return
    signals = []
    for series, alarms in holding.items():
        hand = core.state.hands.get(series)
        home = hand is not None and hand.place == target
        if home and hand is not None and hand.time > core.measured_at(source, series) + ROUND_MS:
            continue  # the spot was read again meanwhile, and that reading decides
        came = None if home or (back and series in along) else Brought(time, source, core.measured_at(source, series))
        signals += new.bring(series, old.state.newest[series], came, alarms)
    danger_signals(core, target, new, signals)
    for alarm in {signal.alarm for signal in signals}:
        # However long ago the value was measured, the alarm goes on and is told at the new place.
        record = core.alarms.records[alarm_key(target, alarm)]
        record.by_hand = True
        core.touched.append(alarm_key(target, alarm))
    if not stays:
        _end(core, source, holding, target)


def _end(core: Core, place: str, values: Collection[str], where: str) -> None:
    """Drop the values of a heap that is elsewhere now; alarms that only they held open end at the place."""
    danger, moves, signals = core.danger(place), len(core.moves), []
    for series in values:
        hand = core.state.hands.get(series)
        if hand is not None and hand.place == place:
            hand.held = False
            forget_apart(core, place, series)
        signals += danger.forget(series)
    danger_signals(core, place, danger, signals)
    for move in core.moves[moves:]:
        move.record.values = move.record.values._replace(moved_to=where)


def _answers(core: Places, place: str, known: str, series: str) -> bool:
    """Return whether a reading by hand replaces a value that came with the heap."""
    if not is_hand(known):
        return core.place_of(known) != place
    spots = core.settings.spots_of(place)
    was, now = _spot(core, known), _spot(core, series)
    return was == now or not now or was not in spots


def _same_round(core: Places, place: str, known: str, series: str, time: int) -> bool:
    """Return whether a reading may be of another spot than the value of the same hour that came with the heap."""
    named = names_spot(known) and names_spot(series)
    return is_hand(known) and not named and time <= core.measured_at(place, known) + ROUND_MS


def _spot(core: Places, series: str) -> str:
    found = core.settings.place_of_hand(series)
    return found[1] if found is not None else ""

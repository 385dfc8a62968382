"""The rows of one commit, fed one by one in the order in which an engine takes them: arrivals first, then verdicts."""

from typing import TYPE_CHECKING

from monitor.engine.handlers.readings import take_verdict
from monitor.engine.probes.silence_alarms import heard
from monitor.engine.stretch.lane import Lane
from monitor.model.flags import Verdict

if TYPE_CHECKING:
    from monitor.engine.stretch.drive import Drive

_OWN = 1 << 62

_Item = tuple[int, tuple[int, str, int], Lane, Verdict | int]
"""A step of a row: its key, its order, its probe, and a verdict or (for an arrival) the reading's own time."""


def take_rows(drive: "Drive", places: list[str], at: int, start: int, end: int) -> list[str]:
    """Feed the rows of some places of a commit in their order, and return their probes.

    Args:
        drive: The run.
        places: The places.
        at: The commit's instant, UTC ms.
        start: The key at which its rows begin.
        end: The key before which they end.
    """
    core = drive.core
    late_before = core.late_before
    items: list[_Item] = []
    for place in places:
        for lane in drive.places[place].lanes:
            items += _items(drive, lane, end)
        items += [
            (one.key, one.order, drive.lanes[one.verdict.probe], one.verdict)
            for one in drive.fires.get(place, ())
            if start < one.key < end
        ]
    items.sort(key=lambda item: item[:2])
    seen: list[str] = []
    for _, _, lane, what in items:
        if not isinstance(what, int):
            take_verdict(core, what, late_before)
            continue
        if lane.name not in seen:
            heard(core, lane.name, lane.watch, what < late_before)
            seen.append(lane.name)
        elif what >= late_before:
            lane.watch.arrive(at, False)
        lane.watch.newest = what
    return seen


def _items(drive: "Drive", lane: Lane, end: int) -> list[_Item]:
    rows = int(lane.rows.searchsorted(end // 2))
    items: list[_Item] = [
        (2 * int(lane.rows[i]), (0, "", 0), lane, int(lane.own_time[i])) for i in range(lane.heard, rows)
    ]
    lane.heard = rows
    accepted = int(lane.key.searchsorted(end))
    checks = drive.run.series[lane.name].checks
    for i in range(lane.accepted, accepted):
        time = int(lane.time[i])
        odd = drive.odd.get((lane.name, time))
        verdict = Verdict(time, lane.name, int(lane.milli[i]), checks.flag, checks.reason)
        items.append(
            (
                int(lane.key[i]),
                (_OWN, lane.name, 0) if odd is None else odd.order,
                lane,
                odd.verdict if odd else verdict,
            )
        )
    lane.accepted = accepted
    return items

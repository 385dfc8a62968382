"""Probes that lie out for a turning: meanwhile the pile's heat delays stand still, and people are reminded of the probes."""

from monitor.alarms import GOING_ON
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.engine.context.core import Core
from monitor.engine.context.places import Places
from monitor.engine.output.alarm_notices import tell_once
from monitor.engine.output.place_conditions import danger_signals
from monitor.engine.probes.probes_outside import follow_cores, lie_outside
from monitor.model.alarm_kinds import SHUT
from monitor.model.thresholds import PileThresholds
from monitor.model.words import Priority
from monitor.notices import Facts, Outside
from monitor.piles import reminder_at


def follow_outings(core: Core, place: str) -> None:
    """Bring the agenda and heat delays of a pile into step with its probes that are out."""
    follow_cores(core, place)
    run, thresholds, aside = core.run_at(place), _thresholds(core, place), lie_outside(core, place)
    cores = core.cores_of(place) if run is not None else []
    outings = [core.state.outings[p] for p in cores if p in core.state.outings]
    dues = [due for outing in outings if (due := reminder_at(outing, thresholds)) is not None]
    dues += [due for p in aside if (due := reminder_at(core.state.outings[p], thresholds)) is not None]
    core.wait(Deadline(place, DueKind.OUT), min(dues, default=None))
    if cores and len(outings) == len(cores) and all(outing.out is not None for outing in outings):
        core.danger(place).pause()
        danger_signals(core, place, core.danger(place), [])


def _thresholds(core: Places, place: str) -> PileThresholds:
    """Return the thresholds for reminders at a place; a bin takes the defaults."""
    run, pile = core.run_at(place), core.pile(place)
    return core.thresholds_of(run) if run is not None else pile.thresholds if pile is not None else PileThresholds()


def _may_burn(core: Places, place: str) -> bool:
    """Return whether an alarm goes on during which nobody may open the heap of a place."""
    return any(one.place == place and one.alarm in SHUT and one.state in GOING_ON for one in core.state.alarms.values())


def serve_reminder(core: Core, place: str) -> None:
    """Remind people by name of probes that have been out for long, each time after twice as long."""
    thresholds, aside = _thresholds(core, place), lie_outside(core, place)
    cores = core.cores_of(place) if core.run_at(place) is not None else []
    out: dict[str, int] = {}
    for probe in (*cores, *aside):
        outing = core.state.outings.get(probe)
        due = reminder_at(outing, thresholds) if outing is not None else None
        if outing is not None and outing.out is not None and due is not None and due <= core.at:
            while due <= core.at:
                # Reminders that fell due while the daemon stood still go out as one.
                outing.reminded += 1
                due = outing.out + thresholds.out_reminder_ms * 2**outing.reminded
            out[probe] = outing.out
    if out:
        rest = tuple(probe for probe in cores if core.in_service(probe))
        known = Outside(out=(*out,), rest=rest, aside=set(out) <= set(aside), shut=_may_burn(core, place))
        facts = Facts(place=place, since=min(out.values()), now=core.at, outside=known)
        tell_once(core, "probes-out", facts, key=f"{place}/probes-out", priority=Priority.LOW)
    follow_outings(core, place)

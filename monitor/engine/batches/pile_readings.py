"""Readings of piles, handed to the watch for dangerous heat and to the walk of the batch that lies there."""

from collections.abc import Collection, Sequence

from monitor.engine.batches.batch_effects import after_rework, refresh_latent, tell_walk
from monitor.engine.batches.begin_and_end import begin_by_reading
from monitor.engine.batches.hand_rounds import newer_than_all, proving_spans
from monitor.engine.batches.missed_rounds import follow_chains
from monitor.engine.batches.recompute import AMBIENT_BEFORE_MS, actions_of, rework
from monitor.engine.context.air_highs import note_high
from monitor.engine.context.batch_feeder import Heap
from monitor.engine.context.batch_runs import BatchRun
from monitor.engine.context.core import Core
from monitor.engine.context.places import FOREVER, Places
from monitor.engine.context.route import Route
from monitor.engine.output.place_conditions import danger_signals
from monitor.engine.probes.out_for_turning import follow_outings
from monitor.engine.probes.probes_outside import follow_cores
from monitor.engine.probes.silence_alarms import rearm
from monitor.material import never_met, relatives
from monitor.model.flags import Verdict
from monitor.model.settings import AMBIENT
from monitor.piles import GONE_MS, ROUND_MS, rounds


def heap_of(core: Core, run: BatchRun) -> Heap:
    """Return the heap that feeds a batch's walk live."""
    walk = core.walks[run.batch]
    found = core.heaps.get(run.batch)
    if found is None or found.walk is not walk:
        found = core.heaps[run.batch] = Heap(walk, core.state.outings, core.thresholds_of(run), run.falls)
    return found


def ambient_reading(core: Core, probe: str, time: int, milli: int) -> None:
    """Take an accepted ambient temperature, with which every batch's walk compares.

    Args:
        core: The engine's ports.
        probe: The ambient probe.
        time: When it was measured, UTC ms.
        milli: The temperature, thousandths of °C.
    """
    core.state.air = milli
    note_high(core.state.air_highs, time, milli)
    late = _late_for_outings(core, time, probe) if core.state.outings else ()
    for batch, run in core.state.runs.items():
        walk = core.walks[batch]
        if walk.ambient_touches_past(time):
            touch(run, time)
        else:
            walk.ambient(time, milli)
            if late and any(
                place in late for place in (core.pile_of(run), *(pile for pile, _, _ in core.spans_of(run)))
            ):
                touch(run, time)


def core_reading(core: Core, known: Route, verdict: Verdict, late: bool) -> None:
    """Take a core probe's accepted temperature to the batch that lies there and to the watch for dangerous heat.

    Args:
        core: The engine's ports.
        known: Where the probe's readings go.
        verdict: The reading.
        late: Whether it arrived late.
    """
    time, probe, milli, _, _ = verdict
    place, danger = known.place, known.danger
    assert danger is not None
    run = core.run_at(place)
    if run is None and place not in core.state.batches.settled:
        begin_by_reading(core, place, time)
        run = core.run_at(place)
    if run is None or time < run.built:
        if run is not None and run.by_reading:
            touch(run, time)
        touch_relatives(core, (core.place_at(probe, time),), time)
        danger_signals(core, place, danger, danger.accepted(probe, time, milli, late, only_fire=True))
        return
    outing = core.state.outings.get(probe)
    was_out = outing is not None and outing.out is not None
    if run.touched is not None:
        taken: bool | None = None if was_out else True
    else:
        taken = heap_of(core, run).reading(probe, time, milli, core.state.air)
        if taken is False:
            touch(run, time)
        elif was_out and outing is not None and outing.out is None:
            rearm(core, probe, anew=True)
            follow_cores(core, place)
    core.stepped[run.batch] = True
    if taken is None:
        known.watch.outside = time
        danger_signals(core, place, danger, danger.outside(probe, time, milli, late))
        return
    signals = danger.accepted(probe, time, milli, late)
    if signals or danger.state.hot.since is not None:
        danger_signals(core, place, danger, signals)


def follow_rounds(core: Core, place: str, verdicts: Sequence[Verdict]) -> None:
    """Take readings by hand of a pile at one time to the batch that lies there, as a round.

    Args:
        core: The engine's ports.
        place: The pile.
        verdicts: The readings, ordered by (time, series).
    """
    run = core.run_at(place)
    if run is None and place not in core.state.batches.settled and not core.cores_of(place):
        begin_by_reading(core, place, verdicts[0].time)
        run = core.run_at(place)
    begun = None if run is None else max(run.built, core.state.batches.batches[run.batch].spans[-1].start)
    own = [one for one in verdicts if begun is not None and one.time >= begun]
    for verdict in verdicts:
        if verdict not in own:
            touch_hand(core, place, verdict.time)
    if run is None or not own:
        return
    core.stepped[run.batch] = True
    times = [one.time for one in own]
    heap = heap_of(core, run)
    if rounds_prove(core, run) is not heap.rounds_serve and not heap.failed:
        touch(run, run.built)
    elif run.touched is None and (since := heap.silent_since(max(times))) is not None:
        # The probes have been silent for so long that rounds prove in their stead, from their last reading on.
        touch(run, min(since - GONE_MS, min(times) - ROUND_MS))
    elif run.touched is not None or not newer_than_all(run, times) or heap.spoke_since(min(times)):
        touch(run, min(times) - ROUND_MS)
    else:
        for point in rounds((one.time, one.probe, one.milli) for one in own):
            if not heap_of(core, run).round(point):
                touch(run, point.time)
            run.round_first, run.round_last = point.first, point.time


def rounds_prove(core: Places, run: BatchRun) -> bool:
    """Return whether readings by hand prove the rule now, since no core probe of the batch is in."""
    spans = proving_spans(actions_of(core, run, core.probes_ever(run), never_met), run.built)
    return bool(spans) and spans[-1][1] == FOREVER


def touch_hand(core: Core, place: str, time: int) -> None:
    """Note that a reading by hand of a pile, and so its round, came late, changed or was taken back.

    Args:
        core: The engine's ports.
        place: The pile.
        time: When it was read, UTC ms.
    """
    touch_place(core, place, time - ROUND_MS, time)


def touch(run: BatchRun, time: int) -> None:
    """Note that a batch's record changed at an instant (UTC ms) that may have been examined already."""
    run.touched = time if run.touched is None else min(run.touched, time)


def touch_place(core: Core, place: str, time: int, until: int | None = None) -> None:
    """Note that the record of a place changed.

    A change of `ambient` concerns every batch. A change so long before a batch began that no flag looks back on it does not.

    Args:
        core: The engine's ports.
        place: The place.
        time: Where the change begins, UTC ms.
        until: Where it ends; None: at `time` itself.
    """
    until = time if until is None else until
    for run in core.state.runs.values():
        if run.by_reading and time < run.built and run.home == place:
            touch(run, time)
        elif until < run.built - AMBIENT_BEFORE_MS:
            continue
        elif place == AMBIENT or any(p == place for p, _, _ in core.spans_of(run)):
            touch(run, time)
    touch_relatives(core, (place,), time)


def touch_relatives(core: Core, places: Collection[str], time: int) -> None:
    """Note for the batches that took up material from some places that the record of these places changed.

    Args:
        core: The engine's ports.
        places: The places.
        time: Where the change begins, UTC ms.
    """
    if not any(logged.work.to or logged.work.what or logged.work.parts for logged in core.state.works):
        return
    for batch, run in core.state.runs.items():
        for other, until, came in relatives(core, batch):
            if time <= until and any(pile in places and start <= until for pile, start, _ in core.spans_of(other)):
                core.met_known.pop((other, until, run.rule_id), None)
                touch(run, came)


def touch_late(core: Core, probe: str, time: int) -> None:
    """Note a reading that came out of order, for the place where its probe is and the one where it was.

    Args:
        core: The engine's ports.
        probe: The probe.
        time: The reading's time, UTC ms.
    """
    for place in dict.fromkeys((core.place_of(probe), core.place_at(probe, time))):
        touch_place(core, place, time)


def advance_heaps(core: Core) -> None:
    """Examine the batches with new readings or work, each up to its frontier; work touched batches out again."""
    stepped, core.stepped = core.stepped, {}
    for batch, run in core.state.runs.items():
        if run.touched is not None:
            # While a deadline is served no history is at hand, so the batch waits for the next event.
            if core.history is None:
                continue
            told_to, begun = run.walk.now, run.walk.begun
            phase = run.walk.shown_phase if begun else None
            after_rework(core, run, rework(core, run), phase, told_to)
            follow_outings(core, core.pile_of(run))
        elif batch in stepped:
            tell_walk(core, run, core.walks[batch].advance())
        else:
            continue
        refresh_latent(core, run)
    if core.state.hands or core.state.chains:
        follow_chains(core)


def _late_for_outings(core: Places, time: int, ambient: str) -> tuple[str, ...]:
    """Return the piles where this ambient reading came too late for a probe out for a turning: that was judged without it."""
    places = []
    for probe, outing in core.state.outings.items():
        watch = core.state.watches.get(probe)
        if watch is None or watch.newest is None or (time, ambient) >= (watch.newest, probe):
            continue
        begun = outing.out if outing.out is not None else outing.returned
        until = FOREVER if outing.out is not None else outing.accepted_from or 0
        if begun is not None and begun <= time <= until:
            places.append(core.place_of(probe))
    return tuple(places)

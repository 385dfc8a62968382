"""What must hold of every script: advances and restarts show nowhere, instants rise, and nothing is ever raised."""

from itertools import pairwise
from random import Random

from engine_scripts import scripts
from engine_yard import DAY, HOUR, MIN, Drive
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from monitor.engine import Engine
from monitor.engine.batches.recompute import rework
from monitor.engine.context.agenda import Deadline, DueKind
from monitor.model.words import AlarmState
from monitor.recordings.effect_lines import effect_line

many = settings(max_examples=15, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)


def played(script, end=None, *, between=None):
    """Drive an engine through a script; `between(drive, next at, index)` is called before each event."""
    drive = Drive()
    for index, (at, kind, payload) in enumerate(script):
        if between is not None:
            between(drive, at, index)
        drive.feed(at, kind, payload)
    drive.advance(end if end is not None else script[-1][0] + 2 * DAY)
    return drive


def ordered(drive):
    ids = [(effect.at, effect.ordinal) for effect in drive.effects]
    assert all(a < b for a, b in pairwise(ids))


@many
@given(scripts(), st.lists(st.floats(0, 1), min_size=1, max_size=6))
def test_inserting_advances_changes_no_effect(script, shares):
    plain = played(script)

    def advances(drive, at, index):
        last = drive.engine.last
        if script[index][1] == "started":
            at = min(at, (script[index][2]["down_since"] or at) + 1)
        for share in shares:
            to = last + int((at - 1 - last) * share)
            if drive.engine.last <= to:
                drive.advance(to)

    with_advances = played(script, between=advances)
    assert with_advances.lines() == plain.lines()
    assert with_advances.engine.next_deadline() == plain.engine.next_deadline()


@many
@given(scripts(), st.sets(st.integers(0, 200), min_size=1, max_size=8))
def test_a_snapshot_goes_on_exactly(script, cuts):
    plain = played(script)

    def restored(drive, at, index):
        if index in cuts or index % 7 in cuts:
            due = drive.engine.next_deadline()
            data = drive.engine.snapshot()
            drive.engine = Engine.restore(data)
            assert drive.engine.next_deadline() == due
            assert drive.engine.snapshot() == data

    again = played(script, between=restored)
    assert again.lines() == plain.lines()
    assert again.verdicts == plain.verdicts
    assert again.engine.snapshot() == plain.engine.snapshot()


@many
@given(scripts())
def test_whatever_is_put_off_or_muted_for_a_while_has_an_end_set(script):
    drive = Drive()
    for at, kind, payload in script:
        drive.feed(at, kind, payload)
        state = drive.engine.state
        for key, record in state.alarms.items():
            due = state.agenda.get(Deadline(record.place, DueKind.ALARM, key))
            if record.state is AlarmState.SHELVED:
                assert due is not None
                assert at < due <= record.until, key
            if record.state is AlarmState.SUPPRESSED and not record.covered_by:
                assert due is not None
                assert at < due <= record.muted_until, key


@many
@given(scripts())
def test_two_engines_say_the_same_and_every_instant_is_in_order(script):
    one, other = Drive(), Drive()
    for at, kind, payload in script:
        before = one.engine.last
        effects = one.feed(at, kind, payload)
        assert all(before < e.at <= one.engine.last for e in effects)
        assert [effect_line(e) for e in other.feed(at, kind, payload)] == [effect_line(e) for e in effects]
        watched, core = set(one.engine.state.runs), one.engine.core
        assert set(core.walks) == watched >= set(core.heaps), "nothing is kept of a heap that is gone"
    end = one.engine.last + 9 * DAY
    while (due := one.engine.next_deadline()) is not None and due <= end:
        before = one.engine.last
        assert due > before or due == before
        assert all(e.at == due for e in one.advance(due))
    other.advance(due if due is not None and due <= end else end)
    one.advance(end), other.advance(end)
    assert one.lines() == other.lines()
    ordered(one)


def drive_place(engine, batch):
    return engine.state.batches.batches[batch].spans[-1].pile


def truth(engine):
    """What is true of each batch by its own time."""
    found = {}
    for batch, run in engine.state.runs.items():
        walk = run.walk
        found[f"{run.home} {drive_place(engine, batch)}"] = (
            walk.now, walk.phase, walk.held, dict(walk.alarms), walk.progress, walk.dwells, walk.turned_at, run.rule,
            {p: (line.serving, line.time, line.walk_level) for p, line in sorted(walk.lines.items())},
        )  # fmt: skip
    return found


@many
@given(scripts(restarts=False))
def test_working_a_batch_out_anew_changes_nothing(script):
    drive = played(script, end=script[-1][0])
    before = truth(drive.engine)
    core = drive.engine._core
    core.history = drive.history
    for run in list(drive.engine.state.runs.values()):
        if run.touched is None:
            core.marks.clear()
            rework(core, run)
    assert truth(drive.engine) == before


def orders(script, size=90, seed=0):
    """The truth after a script as it came, and after its readings came in another order and other commits."""
    first = [one for one in script if one[1] in ("started", "settings")][:2]
    work = [
        one for one in script if one[1] == "work" and one[2]["kind"] in ("turned", "added", "probe out", "probe in")
    ]
    work = [one for one in work if one[2]["place"] == "p1" and one[2].get("probe", "p1-a") in ("p1-a", "p1-b")]
    readings = [one for one in script if one[1] == "readings"]
    whole = played(sorted(first + work + readings, key=lambda one: one[0]), end=script[-1][0])
    rows = {}
    for one in readings:
        for row in sorted(one[2]["rows"]):
            rows.setdefault((row[0], row[1]), row)
    shuffled = list(rows.values())
    Random(seed).shuffle(shuffled)
    other = played(first + work, end=script[-1][0])
    for n, start in enumerate(range(0, len(shuffled), size)):
        other.feed(script[-1][0] + 1 + n * MIN, "readings", {"rows": shuffled[start : start + size], "ahead": []})
    for drive in (whole, other):
        # What waits for an answer is settled by its deadline; what that touches, by the next event.
        drive.advance(drive.engine.last + 3 * HOUR)
        drive.read(drive.engine.last + 1)
    return truth(whole.engine), truth(other.engine)


@many
@given(scripts(restarts=False, most=12), st.integers(20, 400), st.integers(0, 99))
def test_what_is_true_does_not_depend_on_the_order_of_arrival(script, size, seed):
    one, other = orders(script, size, seed)
    assert one == other

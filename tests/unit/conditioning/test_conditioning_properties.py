"""What must hold for any record: no exception, causality, order between probes, restart."""

from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.conditioning import Conditioner, ConditioningState, calibrate, condition
from monitor.model.flags import FlagReason
from monitor.model.readings import Reading
from monitor.model.settings import Calibration, Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.words import Role

START = 1_772_355_600_000
PROBES = {
    "a": Probe(place="p1", role=Role.CORE, address="a", resolution_micro=62_500),
    "b": Probe(
        place="p1", role=Role.CORE, address="b", calibrations=(Calibration(points=((0, 100),), start=START + 5),)
    ),
    "c": Probe(place="p1", role=Role.SURFACE, address="c"),
    "air": Probe(place="ambient", role=Role.AMBIENT, address="air"),
}
# short spans, so that flat lines and ambient-followers come up in small examples
QUICK = ProbeThresholds(flat_suspect_ms=3 * HOUR_MS, flat_fail_ms=6 * HOUR_MS, ambient_span_ms=4 * HOUR_MS)
SETTINGS = Settings(probes=PROBES, probe_thresholds=QUICK)
STATE = TypeAdapter(ConditioningState)
VALUES = st.sampled_from(
    [10_000_000, 10_062_500, 12_000_000, 25_000_000, 60_000_000, 85_000_000, -127_000_000, 150_000_000]
)
SPACING_MIN = st.sampled_from([5, 10, 10, 10, 20, 29, 30, 31, 60, 150])


@st.composite
def runs(draw):
    """Readings in order of (time, probe): each probe a walk with long still stretches and jumps."""
    rows = {}
    for name in [*PROBES, "hand:p1"]:
        time = START + draw(st.integers(0, 90)) * MINUTE_MS
        for _ in range(draw(st.integers(0, 4))):
            spacing, value, steps = draw(SPACING_MIN), draw(VALUES), draw(st.integers(0, 3))
            for i in range(draw(st.integers(1, 25))):
                rows[time, name] = Reading(time, name, value + i * steps * 500_000, "Cel")
                time += spacing * MINUTE_MS
    return [rows[key] for key in sorted(rows)]


def as_dict(verdicts):
    found = {}
    for verdict in verdicts:
        assert (verdict.time, verdict.probe) not in found, "a verdict is final: one each"
        found[verdict.time, verdict.probe] = verdict
    return found


@given(runs())
def test_every_reading_gets_exactly_one_verdict(rows):
    verdicts = as_dict(condition(rows, None, SETTINGS))
    assert set(verdicts) == {(r.time, r.probe) for r in rows}
    for reading in rows:
        probe = PROBES.get(reading.probe)
        milli = reading.micro // 1000 if probe is None else calibrate(reading.micro, "Cel", probe, reading.time)
        assert verdicts[reading.time, reading.probe].milli == milli


@given(runs(), st.data())
def test_causal_but_for_spike_and_power_up(rows, data):
    """A verdict given before a cut stays as it is, whatever follows; only what waited then is open."""
    cut = data.draw(st.integers(0, len(rows)))
    live = Conditioner(ConditioningState(), SETTINGS)
    early = as_dict(v for r in rows[:cut] for v in live.step(r))
    whole = as_dict(condition(rows, None, SETTINGS))
    assert all(whole[key] == verdict for key, verdict in early.items())
    open_then = [r for r in rows[:cut] if (r.time, r.probe) not in early]
    assert len(open_then) == sum(r.pending is not None for r in live.state.probes.values())


@given(runs(), st.data())
def test_a_restart_changes_nothing(rows, data):
    whole, parts = Conditioner(ConditioningState(), SETTINGS), Conditioner(ConditioningState(), SETTINGS)
    cuts = set(data.draw(st.lists(st.integers(0, len(rows)), max_size=4)))
    for i, reading in enumerate(rows):
        if i in cuts:
            parts = Conditioner(STATE.validate_json(STATE.dump_json(parts.state)), SETTINGS)
        assert parts.due() == whole.due()
        assert parts.late_for_others(reading.probe, reading.time) == whole.late_for_others(reading.probe, reading.time)
        assert parts.step(reading) == whole.step(reading)
        assert parts.still() == whole.still()
    assert STATE.dump_json(parts.state) == STATE.dump_json(whole.state)
    assert parts.expire(1 << 60) == whole.expire(1 << 60)


@given(runs(), st.data())
@settings(max_examples=80)
def test_arrivals_apart_change_nothing_or_are_told(rows, data):
    """Each reading arrives up to an hour after its time, in order for its probe; deadlines are served by arrival."""
    arrived, newest = [], {}
    for reading in rows:
        delay = data.draw(st.sampled_from([0, 0, 1, 7, 20, 59])) * MINUTE_MS
        at = max(reading.time + delay, newest.get(reading.probe, 0))
        newest[reading.probe] = at
        arrived.append((at, reading))
    arrived.sort()
    live, told = Conditioner(ConditioningState(), SETTINGS), {}
    heard = []
    for at, reading in arrived:
        told.update(((v.time, v.probe), v) for v in live.expire(at))
        heard.append(reading)
        if live.late_for_others(reading.probe, reading.time):
            # only a spike's answer that came after its deadline; never an hour looked at, with under an hour's jitter
            assert reading.time < live.state.probes[reading.probe].expired
            live = Conditioner(ConditioningState(), SETTINGS)
            told = {(v.time, v.probe): v for r in sorted(heard) for v in live.step(r)}
            told.update(((v.time, v.probe), v) for v in live.expire(at))
        else:
            told.update(((v.time, v.probe), v) for v in live.step(reading))
    told.update(((v.time, v.probe), v) for v in live.expire(1 << 60))
    assert told == as_dict(condition(rows, None, SETTINGS))


@given(
    st.lists(
        st.builds(
            Reading,
            st.integers(0, 10**14),
            st.sampled_from(["a", "b", "air", "hand:p1", "gone"]),
            st.integers(-(10**18), 10**18),
            st.sampled_from(["Cel", "[degF]", "K", "%", "V", "1", "?"]),
        ),
        unique_by=lambda r: (r.time, r.probe),
    )
)
def test_never_raises_on_any_ordered_record(rows):
    verdicts = condition(sorted(rows), None, SETTINGS)
    as_dict(verdicts)
    known = {"Cel", "[degF]", "K"}
    assert {(r.time, r.probe) for r in rows if r.unit in known} <= {(v.time, v.probe) for v in verdicts}


@given(runs())
def test_a_gap_or_a_day_without_change_is_needed_for_flat(rows):
    for verdict in condition(rows, None, SETTINGS):
        if verdict.reason is FlagReason.FLAT_LINE:
            same = [
                r
                for r in rows
                if r.probe == verdict.probe and r.time <= verdict.time and verdict.time - r.time <= 3 * HOUR_MS
            ]
            good = [r.micro for r in same if -40_000_000 <= r.micro <= 100_000_000]
            assert len(set(good)) == 1


def test_adopting_a_run_in_order_goes_on_from_there():
    rows = [
        Reading(START + i * 10 * MINUTE_MS, p, 20_000_000 + i * 62_500, "Cel")
        for i in range(50)
        for p in ("a", "air", "b")
    ]
    live, again = Conditioner(ConditioningState(), SETTINGS), Conditioner(ConditioningState(), SETTINGS)
    for reading in rows[:100]:
        again.step(reading)
    live.adopt(again, ["a", "b", "air"])
    assert [live.step(r) for r in rows[100:]] == [again.step(r) for r in rows[100:]]

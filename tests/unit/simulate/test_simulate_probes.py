"""A simulated probe: lag, noise, rounding and each of its faults."""

from random import Random

import pytest

from monitor.simulate.probe_errors import THERMOMETER, Fault, FaultKind, Make, Probe

STILL = Make(lag_s=300.0, noise=0.0)
MINUTE = 60_000


def _probe(*faults, make=STILL):
    return Probe("p", make, Random(4), faults)


def test_it_rounds_to_its_step():
    sample = _probe().sample(0, 20.03, 10.0)
    assert sample == (0, "p", "temperature", 20.0, "Cel")
    assert _probe().sample(0, 20.04, 10.0).value == 20.0625


def test_lag_is_exact_for_any_spacing():
    once, often = (
        _probe(make=Make(lag_s=300.0, noise=0.0, step=1e-4)),
        _probe(make=Make(lag_s=300.0, noise=0.0, step=1e-4)),
    )
    once.sample(0, 20.0, 0.0)
    often.sample(0, 20.0, 0.0)
    last = once.sample(600_000, 30.0, 0.0)
    for minute in range(1, 11):
        steps = often.sample(minute * MINUTE, 30.0, 0.0)
    assert last.value == pytest.approx(30.0 - 10.0 * 2.718281828**-2, abs=1e-3)
    assert steps.value == pytest.approx(last.value, abs=1e-3)


def test_noise_has_its_size_and_comes_from_the_seed():
    def run(seed):
        probe = Probe("p", Make(noise=0.5, step=0.001), Random(seed))
        return [probe.sample(minute * MINUTE, 20.0, 10.0).value for minute in range(2_000)]

    values = run(1)
    assert values == run(1) != run(2)
    assert (sum((value - 20.0) ** 2 for value in values) / 2_000) ** 0.5 == pytest.approx(0.5, rel=0.1)


def test_silence_gives_nothing_then_goes_on():
    probe = _probe(Fault(kind=FaultKind.SILENT, start=MINUTE, end=3 * MINUTE))
    got = [probe.sample(minute * MINUTE, 20.0, 10.0) for minute in range(5)]
    assert [sample is None for sample in got] == [False, True, True, False, False]


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        (FaultKind.SPIKE, [20.0, 32.0, 20.0, 20.0, 20.0]),
        (FaultKind.POWER_UP, [20.0, 85.0, 20.0, 20.0, 20.0]),
        (FaultKind.NO_ANSWER, [20.0, -127.0, -127.0, 20.0, 20.0]),
    ],
)
def test_errors_strike_when_they_should(kind, values):
    probe = _probe(Fault(kind=kind, start=MINUTE, end=3 * MINUTE, amount=12.0))
    assert [probe.sample(minute * MINUTE, 20.0, 10.0).value for minute in range(5)] == values


def test_out_of_the_pile_it_reads_the_air_after_its_lag():
    probe = _probe(Fault(kind=FaultKind.OUT, start=MINUTE, end=100 * MINUTE))
    values = [probe.sample(minute * MINUTE, 60.0, 15.0).value for minute in range(60)]
    assert values[0] == 60.0
    assert values[2] > 15.0
    assert values[-1] == pytest.approx(15.0, abs=0.07)


def test_one_probes_silence_leaves_anothers_noise_alone():
    def other(faults):
        rng = Random(9)
        probes = [Probe("a", THERMOMETER, Random(rng.getrandbits(64)), faults)]
        probes.append(Probe("b", THERMOMETER, Random(rng.getrandbits(64))))
        return [[probe.sample(minute * MINUTE, 20.0, 10.0) for probe in probes][1] for minute in range(50)]

    assert other(()) == other((Fault(kind=FaultKind.SILENT, start=0, end=20 * MINUTE),))

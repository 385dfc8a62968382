"""The demo's yard shows what the demo promises, whatever the seed, and the same for the same seed."""

import tomllib
from datetime import UTC, datetime, timedelta, timezone
from functools import cache

import pytest

from monitor.model.settings import Probe
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.units import Quantity, celsius_milli
from monitor.model.words import Role
from monitor.model.work import WorkKind
from monitor.simulate import script
from monitor.simulate.layout import SPOTS
from monitor.simulate.living_yard import Yard

HOLD = celsius_milli(131, "degF") / 1000
STRESS = celsius_milli(85, "degF") / 1000
DANGER = celsius_milli(90, "degF") / 1000
STEP_S = 600


def _weekend(seed):
    yard = Yard(seed)
    samples = list(yard.stream(script.WEEKEND_START, script.WEEKEND_END, STEP_S))
    return yard, samples


_cached = cache(_weekend)


@pytest.fixture(scope="module", params=[1, 7, 2026])
def weekend(request):
    return _cached(request.param)


@pytest.fixture(scope="module")
def first():
    return _cached(1)


def _series(samples, probe):
    return [(sample.time, sample.value) for sample in samples if sample.probe == probe]


def _local(time):
    return datetime.fromtimestamp(time / 1000, UTC).astimezone(timezone(timedelta(hours=-4)))


def _longest_above(series, limit):
    """Return the (start, end) of the longest stretch of samples at or above a limit."""
    best, start, last = (0, 0), None, 0
    for time, value in series:
        if value >= limit:
            start = time if start is None else start
            last = time
            if last - start > best[1] - best[0]:
                best = (start, last)
        else:
            start = None
    return best


def test_the_weekend_is_a_weekend():
    assert _local(script.WEEKEND_START).strftime("%A %H:%M") == "Friday 16:00"
    assert _local(script.WEEKEND_END).strftime("%A %H:%M") == "Monday 08:00"


def test_samples_come_in_order_from_every_probe(weekend):
    _, samples = weekend
    times = [sample.time for sample in samples]
    assert times == sorted(times)
    assert times[0] >= script.WEEKEND_START
    assert times[-1] < script.WEEKEND_END
    assert {sample.probe for sample in samples} == {spot.name for spot in SPOTS}
    assert len({(sample.time, sample.probe) for sample in samples}) == len(samples)


def test_bay_1_reaches_its_hold_on_the_weekend_and_keeps_it(weekend):
    _, samples = weekend
    starts = []
    for probe in ("p1-a", "p1-b", "p1-c"):
        start, end = _longest_above(_series(samples, probe), HOLD)
        assert end - start > 24 * HOUR_MS
        starts.append(start)
    assert _series(samples, "p1-c")[0][1] < HOLD - 10.0
    assert _local(max(starts)).strftime("%A") in {"Saturday", "Sunday"}
    assert max(starts) == starts[2]  # the shallowest is the coldest, and proves it
    assert max(value for _, value in _series(samples, "p1-a")) < 71.1  # no `hot` alarm steals the show


def test_bay_2_holds_all_weekend(weekend):
    _, samples = weekend
    for probe in ("p2-a", "p2-b"):
        assert min(value for _, value in _series(samples, probe)) > HOLD
    assert sum(value < HOLD for _, value in _series(samples, "p2-c")) == 1  # the one -127


def test_bay_3_has_cooled(weekend):
    _, samples = weekend
    assert max(value for _, value in _series(samples, "p3-a")) < 40.0


def test_the_sunny_bin_is_well_on_saturday(weekend):
    _, samples = weekend
    until = script.local("07-19 06:00")
    assert max(value for time, value in _series(samples, "b1-t") if time < until) < STRESS - 0.5


def test_the_sunny_bin_passes_both_limits_on_sunday_afternoon(weekend):
    _, samples = weekend
    start, end = _longest_above(_series(samples, "b1-t"), STRESS)
    assert end - start > 20 * MINUTE_MS
    assert script.local("07-19 10:00") < start < script.local("07-19 15:00")
    # Worms in danger: the coolest bedding probe, that is both of them.
    for probe in ("b1-t", "b1-u"):
        start, end = _longest_above(_series(samples, probe), DANGER)
        assert end - start > 60 * MINUTE_MS
        assert script.local("07-19 12:00") < start < script.local("07-19 18:30")


def test_it_comes_back_after_somebody_came(weekend):
    _, samples = weekend
    assert _series(samples, "b1-u")[-1][1] < DANGER - 0.5
    assert _series(samples, "b1-t")[-1][1] < DANGER


def test_the_other_bins_stay_out_of_the_thermal_alarms(weekend):
    _, samples = weekend
    assert max(value for _, value in _series(samples, "b2-t")) < STRESS
    b3 = [value for _, value in _series(samples, "b3-t")]
    assert b3.count(85.0) == 1
    assert max(value for value in b3 if value != 85.0) < STRESS


def test_the_shade_bin_is_a_little_too_wet_and_the_others_are_not(weekend):
    _, samples = weekend
    assert min(value for _, value in _series(samples, "b3-m")) > 85.0
    assert max(value for _, value in _series(samples, "b3-m")) < 89.0
    for probe in ("b1-m", "b2-m"):
        values = [value for _, value in _series(samples, probe)]
        assert 60.0 < sum(values) / len(values) < 85.0


def test_one_probe_falls_silent_on_saturday(weekend):
    _, samples = weekend
    times = [time for time, _ in _series(samples, script.SILENT_PROBE)]
    assert _local(script.SILENT_FROM).strftime("%A") == "Saturday"
    assert script.SILENT_FROM - STEP_S * 1_000 <= max(times) < script.SILENT_FROM


def test_same_seed_same_samples(first):
    assert first[1] == _weekend(1)[1]


def test_another_seed_another_yard(first):
    assert first[1] != _cached(7)[1]


def test_books_of_every_place_close_over_ten_weeks(first):
    yard, _ = first
    for place in (*yard.heaps.values(), *yard.beds.values()):
        moved = sum(abs(joules) for joules in place.books.heat.values())
        assert abs(place.heat_held() - place.books.heat_sum()) <= 1e-6 * moved
        assert abs(place.water_held() - place.books.water_sum()) <= 1e-6 * sum(map(abs, place.books.water.values()))
        assert abs(place.dry_held() - place.books.dry_sum()) <= 1e-6 * sum(map(abs, place.books.dry.values()))


def test_time_does_not_run_back(first):
    yard, _ = first
    with pytest.raises(ValueError, match="already lived"):
        yard.stream(script.WEEKEND_START, script.WEEKEND_END)
    with pytest.raises(ValueError, match="above 0"):
        Yard().stream(script.WEEKEND_START, script.WEEKEND_END, 0)


def test_a_turning_shows_in_the_history_and_probes_lie_out(first):
    yard = Yard(1)
    start = script.local("05-19 12:00")
    samples = list(yard.stream(start, start + DAY_MS, 600))
    core = _series(samples, "p3-a")
    turned = next(work for work in yard.work(start, start + DAY_MS) if work.kind is WorkKind.TURNED)
    before = [value for time, value in core if time < turned.time - 10 * MINUTE_MS][-1]
    out = min(value for time, value in core if turned.time <= time < turned.time + HOUR_MS)
    back = [value for time, value in core if time > turned.time + 3 * HOUR_MS]
    assert before > HOLD
    assert out < 30.0
    assert back[0] < before - 2.0
    assert max(back) > back[0] + 1.0
    assert not _series(samples, "p1-a")  # not built yet


def test_bay_3_has_met_its_rule_in_its_time():
    yard = Yard(1)
    start = script.local("05-12 00:00")
    samples = list(yard.stream(start, start + 28 * DAY_MS, 3_600))
    hours = sum(value >= HOLD for _, value in _series(samples, "p3-c"))
    assert hours > 18 * 24
    turnings = [work for work in yard.works if work.place == "p3" and work.kind is WorkKind.TURNED]
    assert len(turnings) >= 5


def test_work_is_in_order_and_within_the_asked_span():
    yard = Yard(1)
    times = [work.time for work in yard.works]
    assert times == sorted(times)
    work = yard.work(script.WEEKEND_START, script.WEEKEND_END)
    assert {(one.place, one.kind) for one in work} == {("b1", WorkKind.WATERED), ("b1", WorkKind.COVERED)}
    built = [one.place for one in yard.works if one.kind is WorkKind.BUILT]
    assert sorted(built) == ["p1", "p2", "p3"]


def test_settings_text_is_toml_with_known_words():
    tables = tomllib.loads(Yard.settings(url="/dev/pts/3", port=8460))
    assert tables["site"]["time_zone"] == "America/New_York"
    assert tables["piles"]["p1"]["name"] == "Bay 1"
    assert set(tables["bins"]) == {"b1", "b2", "b3"}
    assert 20 <= len(tables["probes"]) <= 30
    for part in tables["probes"].values():
        Probe(
            place=part["place"], role=Role(part["role"]), address="x", quantity=Quantity(part["quantity"])
        )  # fmt: skip
        assert part["place"] in {*tables["piles"], *tables["bins"], "ambient"}
    assert tables["serial"]["shed"] == {"url": "/dev/pts/3", "baud": 115200, "form": "lines"}
    assert "serial" not in tomllib.loads(Yard.settings())


def test_the_configuration_reader_takes_the_text():
    from monitor.configuration import load_text

    configuration = load_text(Yard.settings(url="/dev/pts/3", port=8460), None, {})
    assert set(configuration.settings.probes) == {spot.name for spot in SPOTS}

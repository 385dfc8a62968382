"""The labelled year: troubles happen, labels tell the truth, the seed decides."""

import pytest

from monitor.model.thresholds import BinThresholds
from monitor.model.times import DAY_MS, HOUR_MS
from tests.worlds.bin_year import YEAR_START, bin_year


@pytest.fixture(scope="module")
def year():
    return bin_year(3, step_s=1_800)


def test_every_kind_of_trouble_is_there_and_labelled(year):
    words = {word for _, _, word in year.causes}
    assert words == {"hot spell", "overfed", "forgotten", "flooded", "dead probe"}
    notes = " ".join(label.note for label in year.labels if label.kind == "trouble")
    for word in ("too hot", "too wet (flooded)", "too dry (forgotten)", "dead probe", "freezing", "overfed"):
        assert word in notes


def test_labels_are_ordered_and_fine_never_meets_trouble(year):
    starts = [label.start for label in year.labels]
    assert starts == sorted(starts)
    trouble = [label for label in year.labels if label.kind == "trouble"]
    fine = [label for label in year.labels if label.kind == "fine"]
    assert trouble
    assert fine
    for calm in fine:
        assert calm.end - calm.start >= DAY_MS
        assert all(label.end <= calm.start or label.start >= calm.end for label in trouble)


def test_the_probes_agree_with_the_labels(year):
    # In a `too hot` label a good probe reads hot; in `fine` none reads beyond the limits but by a fault.
    limit = BinThresholds().danger_all_milli_c / 1000
    hot = [label for label in year.labels if label.note.startswith("too hot")]
    readings = [(sample.time, sample.value) for sample in year.samples if sample.probe == "b1-t"]
    for label in hot:
        inside = [value for time, value in readings if label.start + HOUR_MS <= time < label.end - HOUR_MS]
        assert not inside or max(inside) > limit
    calm = [label for label in year.labels if label.kind == "fine"]
    wild = [
        value
        for time, value in readings
        if value > limit + 3.0 and any(label.start <= time < label.end for label in calm)
    ]
    assert len(wild) <= 8  # spikes


def test_a_dead_probe_says_nothing(year):
    for start, end, word in year.causes:
        if word == "dead probe":
            assert not [s for s in year.samples if s.probe == "b1-t" and start <= s.time < end]
            assert [s for s in year.samples if s.probe == "b1-m" and start <= s.time < end]


def test_samples_and_works_are_in_order(year):
    assert [s.time for s in year.samples] == sorted(s.time for s in year.samples)
    assert [w.time for w in year.works] == sorted(w.time for w in year.works)
    assert year.samples[0].time == YEAR_START


def test_the_seed_decides():
    one, two = bin_year(5, days=20, step_s=1_800), bin_year(5, days=20, step_s=1_800)
    assert (one.samples, one.works, one.labels) == (two.samples, two.works, two.labels)
    assert one.samples != bin_year(6, days=20, step_s=1_800).samples

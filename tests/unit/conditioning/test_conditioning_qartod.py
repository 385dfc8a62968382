"""Against QARTOD: the published vectors of the gross range test, and the reference package flag for flag.

Source: U.S. IOOS QARTOD manuals; vectors of the ioos_qc test-suite (Apache-2.0) as quoted in `standards.md` 8.10.
Where our rules differ from the reference on purpose, the last tests state the difference and show it.
"""

import math

import numpy as np
import pytest

from monitor.conditioning import condition
from monitor.model.readings import Reading
from monitor.model.settings import Probe, Settings
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS
from monitor.model.words import Role

START = 1_772_355_600_000


def settings_with(**limits):
    probes = {
        "a": Probe(place="p1", role=Role.CORE, address="a", resolution_micro=62_500),
        "air": Probe(place="ambient", role=Role.AMBIENT, address="air"),
    }
    return Settings(probes=probes, probe_thresholds=ProbeThresholds(**limits))


def ours(values, settings, step=HOUR_MS, with_air=False):
    rows = [Reading(START + i * step, "a", round(v * 10**6), "Cel") for i, v in enumerate(values)]
    if with_air:
        swing = [10 + 4 * math.sin(i * step / DAY_MS * 6) for i in range(len(values))]
        rows += [Reading(START + i * step, "air", round(v * 10**6), "Cel") for i, v in enumerate(swing)]
    return [int(v.flag) for v in condition(sorted(rows), {"a"}, settings)]


@pytest.mark.parametrize(
    ("fail_span", "values", "published"),
    [
        ((10, 50), [5, 10, 15, 20, 25, 30, 35, 40, 45, 51], [4, 3, 3, 1, 1, 1, 1, 1, 3, 4]),
        ((0, 5), [1, 2, 3, 4, 8], [1, 1, 1, 1, 4]),
    ],
)
def test_gross_range_vectors(fail_span, values, published):
    """We have the fail span only: what the vectors call suspect (the user span) passes."""
    limits = settings_with(gross_low_milli_c=fail_span[0] * 1000, gross_high_milli_c=fail_span[1] * 1000)
    assert ours(values, limits) == [4 if flag == 4 else 1 for flag in published]


@pytest.fixture(scope="module")
def qartod():
    return pytest.importorskip("ioos_qc.qartod", reason="the reference is installed on x86-64 only")


def test_gross_range_flag_for_flag(qartod):
    values = [round(-60 + i * 0.4375, 4) for i in range(500) if round(-60 + i * 0.4375, 4) not in (85.0,)]
    theirs = qartod.gross_range_test(np.array(values), fail_span=(-40, 100))
    assert ours(values, settings_with()) == [int(flag) for flag in theirs]


def test_flat_line_flag_for_flag_on_a_complete_regular_series(qartod):
    """Same definition there: unchanged for 24 h suspect, 48 h fail; all runs are whole multiples of the spacing."""
    step = 10 * MINUTE_MS
    values = [55 + i * 0.0625 for i in range(20)]
    for hours in (3, 23, 24, 25, 47, 48, 60):
        values += [values[-1] + 0.0625] * (hours * 6) + [50, 50.5, 51.0, 50.25]
    stamps = np.array([START + i * step for i in range(len(values))], dtype="datetime64[ms]")
    theirs = qartod.flat_line_test(
        np.array(values), stamps, suspect_threshold=24 * 3600, fail_threshold=48 * 3600, tolerance=0.0625
    )
    calm = settings_with(spike_step_milli_k=100_000)
    assert ours(values, calm, step=step, with_air=True) == [int(flag) for flag in theirs]
    assert {1, 3, 4} == {int(flag) for flag in theirs}


def test_difference_flat_line_counts_seconds_where_theirs_counts_samples(qartod):
    """At an irregular spacing theirs turns 24 h into so many samples of the median spacing; ours measures them."""
    minutes = [i * 10 for i in range(20)] + [200 + i * 60 for i in range(20)]  # median 10 or 60 min
    values = [55 + (i % 2) * 0.0625 for i in range(20)] + [57.0] * 20
    stamps = np.array([START + m * MINUTE_MS for m in minutes], dtype="datetime64[ms]")
    theirs = qartod.flat_line_test(np.array(values), stamps, 12 * 3600, 48 * 3600, tolerance=0.0625)
    limits = settings_with(spike_step_milli_k=100_000, flat_suspect_ms=12 * HOUR_MS)
    rows = [Reading(START + m * MINUTE_MS, "a", round(v * 10**6), "Cel") for m, v in zip(minutes, values, strict=True)]
    rows += [Reading(START + i * HOUR_MS, "air", 10_000_000 + (i % 5) * 1_000_000, "Cel") for i in range(24)]
    own = [int(v.flag) for v in condition(sorted(rows), {"a"}, limits)]
    flat_from = minutes[20]
    assert own == [3 if m - flat_from >= 12 * 60 else 1 for m in minutes]
    assert [int(flag) for flag in theirs] != own


def test_difference_spike_theirs_looks_both_ways_ours_asks_the_next_reading(qartod):
    """Theirs flags by the mean of both neighbours, so a true rise is flagged, too; ours lets the next one confirm."""
    step = 10 * MINUTE_MS
    for values, reference, own in [
        ([20, 20, 60, 20, 20], [2, 4, 4, 4, 2], [1, 1, 4, 1, 1]),  # theirs condemns the neighbours of a spike
        ([20, 20, 60, 60, 60], [2, 4, 4, 1, 2], [1, 1, 1, 1, 1]),  # a step that stays
    ]:
        theirs = qartod.spike_test(np.array(values, dtype=float), suspect_threshold=5, fail_threshold=10)
        assert [int(flag) for flag in theirs] == reference
        assert ours(values, settings_with(), step=step) == own


def test_difference_no_rate_test_of_our_own(qartod):
    """A rate of change per second has no counterpart: our step counts only up to 30 min and is then confirmed."""
    values = np.array([20.0, 30, 40, 50])
    stamps = np.array([START + i * 40 * MINUTE_MS for i in range(4)], dtype="datetime64[ms]")
    theirs = qartod.rate_of_change_test(values, stamps, threshold=5 / (30 * MINUTE_MS / SECOND_MS))
    assert [int(flag) for flag in theirs] == [1, 3, 3, 3]
    assert ours(list(values), settings_with(), step=40 * MINUTE_MS) == [1, 1, 1, 1]

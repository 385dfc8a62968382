"""Lethality: worked values of standards 8.1, fine sums, and what is never claimed.

Sources stand beside the checks; standards 8.1 has its formula from 15A NCAC 02T .1106 (seen second hand).
"""

import numpy as np
import pytest

from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.governing import LinePiece
from monitor.proof.report import lethality
from monitor.proof.report.lethal_points import LETHAL_POINTS
from monitor.proof.report.lethality import alternative_1
from monitor.proof.rules import Status
from monitor.proof.temperature import Series


def line(*readings):
    return [LinePiece(np.array([t for t, _ in readings]), np.array([v for _, v in readings]))]


def level(milli_c, lasted):
    return line((0, milli_c), (lasted, milli_c))


def series(*readings, probe="a"):
    times = np.array([t for t, _ in readings], dtype=np.int64)
    return Series(probe=probe, times=times, milli_c=np.array([v for _, v in readings], dtype=np.int64))


def figures(group, end):
    found = lethality(group, max_gap_ms=DAY_MS * 40, start=0, end=end)
    return {one.key: one for one in found}


@pytest.mark.parametrize(
    ("celsius", "days"),
    # standards 8.1, first equation
    [(50, 13.17), (55, 2.627760), (56, 1.903644), (60, 0.524307), (62, 0.275160), (65, 0.104613), (70, 0.020873)],
)
def test_the_time_asked_for_at_a_constant_temperature_is_a_fraction_of_one(celsius, days):
    assert alternative_1(level(celsius * 1000, round(days * DAY_MS))) == pytest.approx(1, rel=3e-5)


def test_worked_values_of_the_equation():
    # standards 8.1: 72 h at exactly 55 °C = 1.14166 D; 24 h at 55 °C + 6 h at 60 °C = 0.857372
    assert alternative_1(level(55_000, 72 * HOUR_MS)) == pytest.approx(1.14166, abs=5e-6)
    both = [*level(55_000, 24 * HOUR_MS), *level(60_000, 6 * HOUR_MS)]
    assert alternative_1(both) == pytest.approx(0.857372, abs=5e-7)
    assert figures([series((0, 55_000), (72 * HOUR_MS, 55_000))], 72 * HOUR_MS)["alternative-1"].value == 1142


def test_below_fifty_nothing_counts():
    # standards 1.2: "below 50 °C the equation gives no credit"
    assert alternative_1(level(49_999, 99 * DAY_MS)) == 0
    assert alternative_1(level(50_000, 13_170 * DAY_MS // 1000)) == pytest.approx(1)
    # Of a rise from 40 to 60 the second half counts alone.
    assert alternative_1(line((0, 40_000), (2 * HOUR_MS, 60_000))) == pytest.approx(
        alternative_1(line((0, 50_000), (HOUR_MS, 60_000)))
    )
    assert alternative_1(line((0, 60_000), (2 * HOUR_MS, 40_000))) == pytest.approx(
        alternative_1(line((0, 50_000), (HOUR_MS, 60_000)))
    )


def test_the_floor_of_twenty_minutes():
    # standards 1.2: D = 20 min at 71.264 °C, above it the floor binds (7 % solids or more)
    for milli_c in (71_265, 72_000, 90_000):
        assert alternative_1(level(milli_c, 20 * MINUTE_MS)) == pytest.approx(1)
    assert alternative_1(level(71_264, 20 * MINUTE_MS)) == pytest.approx(1, abs=2e-4)
    assert alternative_1(level(71_000, 20 * MINUTE_MS)) < 0.93


def numeric(piece, rate, steps=200_000):
    """The integral by the rule of the middle, in fine steps."""
    edges = np.linspace(piece.times[0], piece.times[-1], steps + 1)
    middle = (edges[1:] + edges[:-1]) / 2
    return float(np.sum(rate(np.interp(middle, piece.times, piece.milli_c)) * np.diff(edges)))


@pytest.mark.parametrize("seed", range(4))
def test_closed_forms_agree_with_fine_sums(seed):
    rng = np.random.default_rng(seed)
    times = np.cumsum(rng.integers(MINUTE_MS, 90 * MINUTE_MS, 30))
    values = rng.integers(42_000, 80_000, 30)
    values[5] = values[6]
    piece = LinePiece(times, values)

    def by_equation(milli_c):
        days = np.maximum(131_700_000 / 10 ** (0.14 * milli_c / 1000), 20 / 1440)
        return np.where(milli_c >= 50_000, 1 / days, 0) / DAY_MS

    assert alternative_1([piece]) == pytest.approx(numeric(piece, by_equation), rel=2e-5)


def test_a_line_that_hardly_rises_loses_no_digits():
    # The mean of exp over 0 to g is 1 + g / 2 + g² / 6 + g³ / 24 + ...
    growth = 0.14 * np.log(10) / 1000
    mean = 1 + growth / 2 + growth**2 / 6 + growth**3 / 24
    rising = alternative_1(line((0, 55_000), (10**9, 55_001)))
    assert rising == pytest.approx(alternative_1(level(55_000, 10**9)) * mean, rel=1e-12)


@pytest.mark.parametrize("point", LETHAL_POINTS, ids=lambda point: point.key)
def test_every_published_point_at_just_under_and_just_over(point):
    def reached(milli_c, lasted):
        return figures([series((0, milli_c), (lasted, milli_c))], lasted)[f"point:{point.key}"].reached

    at = point.milli_c + point.strict
    assert reached(at, point.duration_ms)
    assert not reached(at, point.duration_ms - 1)
    assert not reached(at - 1, 10 * point.duration_ms)
    assert point.status in {Status.SEEN, Status.SEEN_SECOND_HAND}
    assert point.source


MINUTES = 60_000
PUBLISHED = {
    # standards 2.1, row by row; of a range the longer time.
    "ascaris-50": ("Ascaris", 50, 60),
    "e-coli-55": ("Escherichia", 55, 60),
    "e-coli-60": ("Escherichia", 60, 20),
    "salmonella-55": ("Salmonella", 55, 60),
    "salmonella-60": ("Salmonella", 60, 20),
    "typhoid-55": ("typhosa", 55, 30),
    "typhoid-60": ("typhosa", 60, 20),
    "shigella-55": ("Shigella", 55, 60),
    "shigella-60": ("Shigella", 60, 20),
    "brucella-55": ("Brucella", 55, 60),
    "diphtheria-55": ("diphtheriae", 55, 45),
    "staphylococcus-60": ("aureus", 60, 30),
    "tuberculosis-66": ("tuberculosis", 66, 20),
    "hookworm-45": ("Necator", 45, 50),
    "streptococcus-54": ("pyogenes", 54, 10),
    "tapeworm-51": ("Taenia", 51, 60),
    "cholera-45": ("cholerae", 45, 60),
    "e-coli-straw-55": ("straw", 55, 120),
    "o157-60": ("abattoir", 60, 10),
    "o157-heaps-50": ("inside a heap", 50, 7 * 24 * 60),
    "bacteria-55": ("bacteria", 55, 3 * 24 * 60),
    "all-46": ("all organisms", 46, 7 * 24 * 60),
    "all-50": ("all organisms", 50, 24 * 60),
}


def test_the_points_are_those_of_the_tables():
    assert {point.key: (point.milli_c // 1000, point.duration_ms // MINUTES) for point in LETHAL_POINTS} == {
        key: (celsius, minutes) for key, (_, celsius, minutes) in PUBLISHED.items()
    }
    assert all(PUBLISHED[point.key][0] in point.organism for point in LETHAL_POINTS)
    # Said as "above" in the text: roundworm eggs, all organisms in a week, and the trial in straw.
    assert {point.key for point in LETHAL_POINTS if point.strict} == {"ascaris-50", "all-46", "e-coli-straw-55"}


def test_the_zone_of_safety():
    # standards 2.1: "50 °C for 24 h" and "> 46 °C for 1 week" [B10]; 62 °C 1 h and 43 °C 1 month are from memory: left out
    kept = {point.key: (point.milli_c, point.duration_ms) for point in LETHAL_POINTS}
    assert kept["all-50"] == (50_000, DAY_MS)
    assert kept["all-46"] == (46_000, 7 * DAY_MS)
    assert not [point for point in LETHAL_POINTS if point.milli_c in {62_000, 43_000}]


def test_points_want_one_unbroken_time_at_the_coldest_probe():
    hot = series((0, 56_000), (3 * HOUR_MS, 56_000), probe="hot")
    dips = series((0, 56_000), (HOUR_MS, 56_000), (HOUR_MS + 1, 54_000), (HOUR_MS + 2, 56_000), (3 * HOUR_MS, 56_000))
    found = figures([hot, dips], 3 * HOUR_MS)["point:e-coli-straw-55"]
    assert not found.reached
    assert found.span == (HOUR_MS + 2, 3 * HOUR_MS)
    assert found.value == 1999  # 2 h less 2 ms, rounded down
    assert figures([hot], 3 * HOUR_MS)["point:e-coli-straw-55"].reached
    # Only what lies within the period counts.
    inside = {one.key: one for one in lethality([hot], max_gap_ms=DAY_MS, start=HOUR_MS, end=3 * HOUR_MS - 1)}
    assert not inside["point:e-coli-straw-55"].reached
    assert inside["point:e-coli-55"].span == (HOUR_MS, 3 * HOUR_MS - 1)


def test_weed_seeds_are_advisory():
    found = figures([series((0, 55_000), (2 * DAY_MS, 55_000), (3 * DAY_MS, 59_999))], 3 * DAY_MS)
    assert (found["weed-seeds-55"].value, found["weed-seeds-55"].unit) == (3000, "d")
    assert (found["weed-seeds-60"].reached, found["weed-seeds-60"].value) == (False, 59_999)
    assert "advisory" in found["weed-seeds-55"].caution
    assert figures([series((0, 60_000))], 0)["weed-seeds-60"].reached


def test_every_figure_says_where_it_comes_from_and_with_what_caution():
    found = figures([series((0, 60_000), (HOUR_MS, 60_000))], HOUR_MS)
    assert all(one.source and one.status and one.caution for one in found.values())
    assert found["alternative-1"].status == "own estimate"
    assert "does not fulfil it" in found["alternative-1"].caution
    assert found["alternative-1"].reached is None


def test_nothing_known_is_nothing_claimed():
    found = figures([series()], DAY_MS)
    assert found["alternative-1"].value == 0
    assert not any(one.reached for one in found.values())
    assert found["weed-seeds-60"].value is None

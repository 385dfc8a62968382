"""Reasons of the evaluator as people read them on a certificate."""

from types import SimpleNamespace

import pytest

from monitor.certificate.pages.sheet_wording import days_below, rounds_named, sentence
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.piles import COLDEST, HOTTEST
from monitor.proof.counting import DayKind


def test_rounds_that_stopped_are_told_once_and_as_no_probes():
    gap = "stopped for 37 h 22 min"
    text = (
        f"ended when the readings of probe {COLDEST} {gap} and the readings of probe {HOTTEST} {gap}; needs 5 turnings"
    )
    assert rounds_named(text) == f"ended when the rounds by hand {gap}; needs 5 turnings"


def test_a_round_that_is_too_cold_is_no_probe_either():
    assert rounds_named(f"ended when probe {COLDEST} fell below 131 °F") == (
        "ended when the coldest of the rounds by hand fell below 131 °F"
    )
    assert (
        rounds_named(f"not within the limits at {HOTTEST}")
        == "not within the limits at the hottest of the rounds by hand"
    )


@pytest.mark.parametrize(
    ("reason", "said"),
    [("not met anew since", "Not met anew since."), ("Is it?", "Is it?"), ("x", "X."), ("Met.", "Met."), ("", ".")],
)
def test_a_reason_becomes_a_sentence(reason, said):
    assert sentence(reason) == said


@pytest.mark.parametrize(
    ("held_h", "said"),
    [
        ([24, 24, 24], ""),
        ([24, 24, 23], "Of the 3 days that count 71 h 00 min were at temperature; the rest was recovery"),
        ([23], "Of the 1 day that counts 23 h 00 min were at temperature; the rest was recovery"),
        ([], ""),
    ],
)
def test_days_that_were_not_all_at_temperature_say_how_much_was(held_h, said):
    days = [SimpleNamespace(kind=DayKind.COUNTED, hold_ms=hours * HOUR_MS) for hours in held_h]
    found = days_below(SimpleNamespace(days=[*days, SimpleNamespace(kind=DayKind.FAILED, hold_ms=DAY_MS)]))
    assert found.startswith(said)
    assert bool(found) is bool(said)

"""Reasons of the evaluator as people read them on a certificate."""

from monitor.certificate.pages.sheet_wording import rounds_named
from monitor.piles import COLDEST, HOTTEST


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

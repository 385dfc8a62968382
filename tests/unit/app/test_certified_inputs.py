"""A certificate's inputs are those of the graph of material when it is written; a risk found later stands on the next one."""

import pytest
from typed_command import ENTRIES, call, typed, yard_of

from monitor.app.commands import certify_command

YARD = ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", "")
yard = yard_of(YARD)


@pytest.fixture
def certified(yard, monkeypatch):
    """Return what went into a batch by the certificate that is written now."""
    cases = []
    judge = certify_command._judge

    def seen(case, *rest, **more):
        cases.append(case)
        return judge(case, *rest, **more)

    monkeypatch.setattr(certify_command, "_judge", seen)

    def inputs(*more):
        call(yard, "certify", "--batch", "p1", *more, code=1)
        return {one.id: one for one in cases[-1].inputs}

    return inputs


def test_a_risk_that_is_found_later_stands_on_a_certificate_written_after(yard, certified):
    for words in (
        ("delivery", "stable litter", "900 lb", "--from", "the stable", "--at", "9 days ago"),
        ("delivery", "straw", "90 lb", "--from", "the farm", "--at", "9 days ago"),
        ("delivery", "straw", "90 lb", "--from", "the farm", "--at", "8 days ago"),
        ("built", "p2", "40 lb of straw", "--at", "7 days ago"),
        ("built", "p1", "400 lb of stable litter and 4 lb of leaves", "--at", "6 days ago"),
        ("merged", "p2", "--to", "p1", "--at", "5 days ago"),
        ("reading", "p1", "140", "--at", "4 days ago"),
        ("reading", "p1", "141", "--at", "3 days ago"),
        ("added", "p1", "--what", "straw", "30 lb", "--at", "1 day ago"),
    ):
        call(yard, "log", *words, "--again")
    found = certified("--as-of", "2 days ago")
    litter = found["d1"]
    assert (litter.kind, litter.what, litter.supplier, litter.certain, litter.risks) == (
        "delivery", "stable litter", "the stable", True, ()
    )  # fmt: skip
    assert not found["d2"].certain
    assert not found["d3"].certain
    (heap,) = [one for one in found.values() if one.kind == "batch"]
    assert (heap.certain, heap.heat_status, heap.until < litter.until) == (True, "raw", False)
    assert found["leaves"].kind == "unrecorded"
    call(yard, "log", "correct", "1", "--risk", "herbicide")
    call(yard, "log", "correct", "2", "--risk", "none")
    later = certified("--as-of", "2 days ago")
    assert (later["d1"].risks, later["d2"].risks) == (("herbicide",), ())
    assert later.keys() == found.keys()


def test_the_command_says_a_risk_beside_its_verdict(yard):
    for words in (
        ("delivery", "stable litter", "900 lb", "--from", "the stable", "--risk", "wormer", "--at", "9 days ago"),
        ("built", "p1", "400 lb of stable litter", "--at", "6 days ago"),
        ("reading", "p1", "140", "--at", "4 days ago"),
        ("reading", "p1", "141", "--at", "3 days ago"),
    ):
        call(yard, "log", *words, "--again")
    assert "wormer by stable litter d1 (surely)" in call(yard, "certify", "--batch", "p1", code=1)


def test_a_certificate_with_inputs_and_parts_is_checked_and_found_unchanged(yard):
    pytest.importorskip("typst")
    for words in (
        ("delivery", "stable litter", "900 lb", "--from", "the stable", "--risk", "wormer", "--at", "9 days ago"),
        ("built", "p1", "400 lb of stable litter and 4 lb of leaves", "--at", "6 days ago"),
        ("sampled", "p1", "--moisture", "55", "--at", "5 days ago"),
        ("reading", "p1", "140", "--at", "4 days ago"),
        ("reading", "p1", "141", "--at", "3 days ago"),
    ):
        call(yard, "log", *words, "--again")
    paper = yard / "bay1.pdf"
    call(yard, "certify", "--batch", "p1", "--out", paper, code=1)
    assert "Every number in the record agrees." in typed("verify", paper)

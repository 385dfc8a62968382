"""The pictures of a certificate, as they are handed to the drawings."""

from dataclasses import replace

import certificate_scenes as scenes
import numpy as np
import pytest
from certificate_papers import flat, plain

from monitor.certificate.pages import figures
from monitor.drawing import LineKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.proof.holdset import HoldBasis

START = scenes.START


@pytest.fixture
def drawn(monkeypatch):
    """Return a function that returns the two pictures of a case as they are handed to the drawings: (course, heap)."""
    handed = []

    def draw(picture, ink):
        handed.append(picture)
        assert ink.value == "print"
        return "<svg/>"

    monkeypatch.setattr(figures, "over_time", draw)
    monkeypatch.setattr(figures, "pile_section", draw)

    def opened(case):
        handed.clear()
        scenes.pages_of(case)
        return handed

    return opened


def lines(course):
    return [(one.name, one.kind, one.times.size, one.max_gap_ms) for one in course.lines]


def test_the_course_shows_each_probe_and_in_bold_the_line_of_the_verdict(drawn):
    late = flat("p1-b", (98, 58.0), start=START + HOUR_MS)
    case = plain(
        flat("p1-a", (100, 60.0)), late, turnings=(START - 1, START, START + 99 * HOUR_MS, START + 99 * HOUR_MS + 1)
    )
    course, _ = drawn(case)
    gap = 2 * HOUR_MS
    assert lines(course) == [
        ("Probe A", LineKind.PROBE, 100, gap), ("Probe B", LineKind.PROBE, 98, gap), ("coldest", LineKind.GOVERNING, 98, gap),
    ]  # fmt: skip
    assert course.lines[2].milli.tolist() == [58_000] * 98
    assert (course.start, course.end, course.width, course.height) == (START, START + 99 * HOUR_MS, 720, 320)
    assert (course.unit, course.second_unit, course.zone.key) == ("degC", True, "UTC")
    assert [one.at for one in course.turnings] == [START, START + 99 * HOUR_MS]
    assert [(one.milli, one.label) for one in course.limits] == [(55_000, "55 °C (131 °F)")]
    ends = ((START, START + HOUR_MS), (START + 98 * HOUR_MS, START + 99 * HOUR_MS))
    assert course.unproven == ends, "there only one of the probes was heard"
    assert course.holds == ((ends[0][1], ends[1][0]),)


def test_a_single_probe_is_its_own_line_and_an_upper_limit_is_drawn(drawn):
    course, _ = drawn(plain(rule="us-205-203-windrow", method=None))
    assert [one.kind for one in course.lines] == [LineKind.PROBE]
    assert [one.milli for one in course.limits] == [55_000, 76_667]
    mean, _ = drawn(plain(flat("p1-a", (100, 60.0)), flat("p1-b", (100, 58.0)), basis=HoldBasis.MEAN))
    assert (mean.lines[-1].name, mean.lines[-1].milli.tolist()[0]) == ("mean", 59_000)


def test_rounds_by_hand_are_rings_and_an_instant_has_room(drawn):
    hand = flat("hand:p1", (4, 60.0), by_hand=True, name="")
    course, _ = drawn(plain(replace(hand, times=START + np.arange(4, dtype=np.int64) * DAY_MS)))
    assert [(one.name, one.kind) for one in course.lines] == [("hand:p1", LineKind.BY_HAND)]
    course, _ = drawn(plain(flat("p1-a", (1, 60.0))))
    assert (course.start, course.end) == (START, START + 1)


def test_the_heap_shows_each_probe_with_its_highest_reading_of_its_service(drawn):
    one = flat("p1-a", (10, 50.0), (10, 60.0), depth_milli_m=600)
    nothing = replace(flat("p1-b", (20, 70.0)), quality=np.full(20, 4, dtype=np.int8))
    _, heap = drawn(plain(one, nothing))
    assert [(each.name, each.milli_c, each.depth_milli_m, each.words) for each in heap.probes] == [
        ("Probe A", 60_000, 600, ""), ("Probe B", None, 450, "nothing that counts"),
    ]  # fmt: skip
    assert (heap.hold_milli_c, heap.unit, heap.width, heap.height) == (55_000, "degC", 380, 230)
    named = [replace(flat("p1-a", (80, 60.0)), name=name) for name in ("x" * 10, "x" * 11)]
    assert [each.name for each in drawn(plain(named[0]))[1].probes] == ["x" * 10]
    assert [each.name for each in drawn(plain(flat("p1-z", (80, 60.0)), named[1]))[1].probes] == ["no. 1", "no. 2"]
    assert [each.name for each in drawn(plain(flat("p1-a", (80, 60.0), name="")))[1].probes] == ["p1-a"]

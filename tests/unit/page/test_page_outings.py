"""When a probe lay outside, by the log and by what it read itself: from when, until when, and from when it counts again."""

import page_yard_for_tests
import pytest
from page_visitor import browser
from page_yard_for_tests import BUILT, NOW, TestYard, page_of

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.page.pictures.probe_outings import outings
from monitor.page.places.all_places import place_view

STEP = 10 * MINUTE_MS + 1_000
"""How far the clock goes with each reading."""
SETTLES = HOUR_MS


class Probes(TestYard):
    """The yard with a probe of moisture in the first heap as well."""

    def log(self, kind, *, place="p1", at=None, **more):
        """Write work down; return when it was done, ms from now."""
        at = self.clock if at is None else NOW + at
        self.put(EventKind.WORK, {"time": at, "place": place, "kind": kind, "by": "x", **more}, again=True)
        return at - NOW

    def feel(self, a, b, times=1, *, air=20.0):
        """Take in readings of both core probes, each 10 min and 1 s after the last."""
        for _ in range(times):
            self.read(("p1-a", a, "Cel"), ("p1-b", b, "Cel"), ("p1-m", 50.0, "%"), ("amb", air, "Cel"))
        return self

    def outside(self, place="p1", *, start=BUILT, end=None):
        """Return (begun, back, counts again, logged), ms from now, by probe."""
        with self.look() as look:
            view = place_view(look.engine, place, [], look.now)
            found = outings(look, view, start, look.now if end is None else end)
        return {
            probe: [
                tuple(None if at is None else at - NOW for at in (one.start, one.end, one.fit, one.logged))
                for one in some
            ]
            for probe, some in found.items()
        }


@pytest.fixture
def heap(tmp_path, monkeypatch):
    more = '[probes.p1-m]\nplace = "p1"\nrole = "core"\nquantity = "moisture"\n'
    monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML + more)
    made = Probes(tmp_path)
    yield made
    made.close()


def alike(*some):
    return {probe: list(some) for probe in ("p1-a", "p1-b", "p1-m")}


def test_nothing_lies_outside_by_itself(heap):
    assert heap.outside() == alike()
    assert heap.outside("p2") == {}


def test_a_turning_takes_every_probe_out_and_each_is_back_when_it_was_put_in(heap):
    heap.log("turned")
    assert heap.outside() == alike((0, None, None, 0))
    heap.feel(21.0, 20.5, 4)
    assert heap.outside() == alike((0, None, None, 0)), "what reads as the air lies in it"
    back = [heap.log("probe in", probe=probe) for probe in ("p1-a", "p1-b", "p1-m")]
    found = {probe: [(0, at, at + SETTLES, 0)] for probe, at in zip(("p1-a", "p1-b", "p1-m"), back, strict=True)}
    assert heap.outside() == found
    heap.feel(58.0, 57.0, 9)
    assert heap.outside() == found, "known by the log; what is read later changes nothing"


def test_only_what_touches_the_span_is_told(heap):
    heap.log("turned")
    heap.clock += HOUR_MS
    for probe in ("p1-a", "p1-b", "p1-m"):
        heap.log("probe in", probe=probe, at=HOUR_MS)
    heap.clock += DAY_MS
    found = alike((0, HOUR_MS, 2 * HOUR_MS, 0))
    assert heap.outside(start=NOW + HOUR_MS) == found
    assert heap.outside(start=NOW + HOUR_MS + 1) == alike()
    assert heap.outside(end=NOW - 1) == alike()
    assert heap.outside(end=NOW) == found, "the engine knows how it ended, also beyond the span"


def test_core_probes_are_back_when_they_read_the_heap_again_and_the_others_with_the_last_of_them(heap):
    heap.log("turned")
    heap.feel(21.0, 20.5, 4).feel(58.0, 21.0, 3)
    heap.feel(58.0, 57.0, 12)
    first, second = 5 * STEP - 1_000 - 1_000, 8 * STEP - 1_000 - 1_000
    a, b = heap.outside()["p1-a"][0], heap.outside()["p1-b"][0]
    assert (a[0], b[0]) == (0, 0)
    assert a[1] == pytest.approx(first, abs=3_000), "from its first warm reading on"
    assert b[1] == pytest.approx(second, abs=3_000)
    assert (a[2], b[2]) == (a[1] + SETTLES, b[1] + SETTLES)
    assert heap.outside()["p1-m"] == [b]


def test_while_one_core_probe_is_still_out_the_others_wait_for_it(heap):
    heap.log("turned")
    heap.feel(58.0, 21.0, 12)
    found = heap.outside()
    assert found["p1-a"][0][1] is not None
    assert found["p1-b"] == found["p1-m"] == [(0, None, None, 0)]


def test_a_turning_that_was_logged_at_its_end_begins_when_a_probe_felt_it(heap):
    heap.feel(60.0, 58.0, 2).feel(21.0, 58.0).feel(21.0, 21.0, 2)
    logged = heap.log("turned")
    found = heap.outside()
    assert found["p1-a"] == [(2 * STEP - 2_000 + 1, None, None, logged)], "the reading before the fall is the heap's"
    assert found["p1-b"] == [(3 * STEP - 2_000 + 1, None, None, logged)]
    assert found["p1-m"] == found["p1-a"], "it went out with the first"


def test_a_probe_that_was_out_when_the_heap_was_turned_lay_outside_once(heap):
    heap.log("probe out", probe="p1-a")
    heap.clock += HOUR_MS
    turned = heap.log("turned")
    heap.clock += HOUR_MS
    back = heap.log("probe in", probe="p1-a")
    found = heap.outside()
    assert found["p1-a"] == [(0, back, back + SETTLES, 0)]
    assert found["p1-b"] == found["p1-m"] == [(turned, None, None, turned)]


def test_probes_that_two_turnings_found_outside_come_back_once(heap):
    heap.log("turned")
    heap.feel(21.0, 21.0, 3)
    heap.log("turned")
    heap.feel(21.0, 21.0, 2).feel(58.0, 57.0, 14)
    found = heap.outside()
    ((begun, back, _, _),) = found["p1-a"]
    assert (begun, back) == (0, pytest.approx(6 * STEP, abs=4_000))
    near = browser(page_of(heap)[0])
    assert near.get("/place/p1?span=day").text.count('data-out="24 in"') == 3, "one bracket in each width"
    assert "<td>out</td>" not in near.get(f"/place/p1?from={heap.clock - HOUR_MS}&to={heap.clock}").text


def test_a_probe_is_taken_out_and_put_in_again_and_again(heap):
    one = heap.log("probe out", probe="p1-b")
    two = heap.log("probe in", probe="p1-b")
    heap.log("probe in", probe="p1-b")
    three = heap.log("probe out", probe="p1-b")
    heap.log("probe out", probe="p1-b")
    assert heap.outside()["p1-b"] == [(one, two, two + SETTLES, one), (three, None, None, three)]
    assert heap.outside()["p1-a"] == heap.outside()["p1-m"] == []


def test_a_probe_of_a_bin_counts_as_soon_as_it_is_back(heap):
    heap.log("probe out", place="b1", probe="b1-t")
    heap.clock += HOUR_MS
    assert heap.outside("b1") == {"b1-m": [], "b1-t": [(0, None, None, 0)]}
    back = heap.log("probe in", place="b1", probe="b1-t")
    heap.clock += HOUR_MS
    assert heap.outside("b1") == {"b1-m": [], "b1-t": [(0, back, back, 0)]}


def test_what_was_logged_before_the_heap_was_built_is_not_of_this_heap(heap):
    heap.log("probe out", probe="p1-a", at=BUILT - NOW - HOUR_MS)
    assert heap.outside(start=0)["p1-a"] == []
    heap.log("turned", at=BUILT - NOW)
    assert [one[0] for one in heap.outside(start=0)["p1-a"]] == [BUILT - NOW]

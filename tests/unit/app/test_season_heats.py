"""The courses of heaps are kept, worked out anew when something changes them, and left to a child where they take long."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typed_command import ENTRIES, call, yard_of

from monitor.app.seasons import Gathering, HeapHeats, HeatLook
from monitor.app.seasons.heap_heat import heat_course
from monitor.app.seasons.heat_lines import heat_from_line, line_of_heat
from monitor.app.stock import material_record
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import load
from monitor.material import HeatStatus
from monitor.model.times import HOUR_MS, MINUTE_MS, parse_time
from monitor.proof.rules import rule_ids
from monitor.reports import HeatCourse, Step

YARD = ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", "").replace(
    '[piles.p2]\nname = "Bay 2"\n', '[piles.p2]\nname = "Bay 2"\nrule = "us-112-54-turned"\nmethod = "turned"\n'
)
yard = yard_of(YARD.replace('[probes.p1-a]\nplace = "p1"\nrole = "core"\n', ""))
ALL_DAY = 1e9
"""More time than any test takes, s."""


@pytest.fixture
def lived(yard):
    """Heaps read by hand each day of October: one gone by November, one that is not hot, and one without a rule."""
    works = [
        "2026-10-01T12:00:00Z,p1,built", *(f"2026-10-{day:02}T16:00:00Z,p1,turned" for day in (4, 7, 10, 13, 16)),
        "2026-10-28T12:00:00Z,p1,emptied", "2026-10-02T12:00:00Z,p2,built", "2026-10-02T12:00:00Z,p3,built",
    ]  # fmt: skip
    rows = [
        f"2026-10-{day:02}T14:00:00Z,hand:{place},temperature,{value},F,,Ann"
        for day in range(2, 27)
        for place, value in (("p1", 145), ("p2", 100), ("p3", 140 if day < 12 else 110))
    ]
    (yard / "work.csv").write_text("\n".join(["time,place,kind", *works, ""]))
    (yard / "hand.csv").write_text("\n".join(["time,probe,quantity,value,unit,spot,by", *rows, ""]))
    call(yard, "import", yard / "work.csv", "--again")
    call(yard, "import", yard / "hand.csv", "--again")
    return yard


FIRST, SECOND, THIRD = "p1-2026-10-01", "p2-2026-10-02", "p3-2026-10-02"


class Asking:
    """Asks one keeper of courses about the yard as it stands, and counts how often one is worked out."""

    def __init__(self, yard, monkeypatch):
        self.configuration = load(yard / "heaptender.toml", {}, rules=rule_ids())
        self.done, self.worked_out = [], []
        self.heats = HeapHeats(lambda: self.done.append(True))

        def counted(view, configuration, batch, now):
            self.worked_out.append(batch)
            return heat_course(view, configuration, batch, now)

        monkeypatch.setattr("monitor.app.seasons.kept_heats.heat_course", counted)

    def heaps(self, *batches, budget_s=ALL_DAY, later_ms=0, child=False):
        self.worked_out.clear()
        with yard_view(self.configuration) as view:
            look = HeatLook(view.last + later_ms, budget_s)
            record = material_record(view, self.configuration)
            gathering = Gathering(view, self.configuration, record, look, (self.heats, None))
            found = [gathering.heap(one).heat for one in batches]
            if child:
                self.heats.work_out(self.configuration.source, look)
                self.heats.wait()
        return found


@pytest.fixture
def asking(lived, monkeypatch):
    return Asking(lived, monkeypatch)


def test_the_course_is_what_the_rule_makes_of_the_rounds(asking):
    first, second = asking.heaps(FIRST, SECOND)
    assert (first.heat, first.met_at is not None, first.progress) == (
        HeatStatus.MET,
        True,
        "15 of 15 days, 5 of 5 turnings",
    )
    assert (second.heat, second.holds, second.met_at) == (HeatStatus.RAW, [], None)
    assert [len(one.rounds) for one in (first, second)] == [25, 25]
    assert first.hottest[1] == pytest.approx(62_778, abs=1)


def test_a_heap_without_a_rule_holds_at_its_place_s_own_temperature_and_has_no_verdict(asking):
    (third,) = asking.heaps(THIRD)
    assert (third.heat, third.met_at, third.progress) == (None, None, "")
    ((start, end),) = third.holds
    assert (third.hold_milli_c, third.held_ms, third.longest_ms) == (55_000, end - start, end - start)
    # 140 °F on the 11th and 110 °F a day later: at 131 °F after 7.2 h of those 24.
    assert end - parse_time("2026-10-11T14:00:00Z") == pytest.approx(7.2 * HOUR_MS, abs=MINUTE_MS)
    assert start == parse_time("2026-10-02T14:00:00Z")


def test_a_heap_that_nobody_read_has_neither_line_nor_verdict(asking, lived):
    call(lived, "log", "emptied", "p3", "--at", "2026-10-28 10:00", "--again")
    call(lived, "log", "built", "p3", "--at", "2026-10-29 10:00", "--again")
    (found,) = asking.heaps("p3-2026-10-29")
    assert (found.steps, found.rounds, found.holds, found.hottest, found.heat) == ([], [], (), None, None)


def test_a_heap_that_another_came_into_is_worked_out_anew_by_any_entry(asking, lived):
    call(lived, "log", "added", "p2", "5 kg", "--what", FIRST, "--at", "2026-10-20 10:00", "--again")
    asking.heaps(SECOND)
    asking.heaps(SECOND)
    assert asking.worked_out == []
    call(lived, "log", "watered", "p3", "5 gal", "--at", "2026-10-21 10:00", "--again")
    asking.heaps(SECOND)
    assert asking.worked_out == [SECOND]


def test_a_heap_that_is_gone_is_worked_out_once(asking):
    before = asking.heaps(FIRST)
    assert asking.worked_out == [FIRST]
    assert asking.heaps(FIRST, later_ms=400 * 24 * HOUR_MS) == before
    assert asking.worked_out == []


def test_a_heap_that_lies_there_is_ten_minutes_old_at_most(asking):
    asking.heaps(SECOND)
    asking.heaps(SECOND, later_ms=9 * MINUTE_MS)
    assert asking.worked_out == []
    asking.heaps(SECOND, later_ms=10 * MINUTE_MS)
    assert asking.worked_out == [SECOND]


@pytest.mark.parametrize(
    ("entry", "anew"),
    [
        (("turned", "p1", "--at", "2026-10-20 10:00", "--again"), [FIRST]),
        (("watered", "p3", "5 gal", "--at", "2026-10-20 10:00", "--again"), []),
        (("reading", "p1", "150", "--at", "2026-10-20 11:00", "--again"), [FIRST]),
    ],
)
def test_what_changes_it_has_it_worked_out_anew(asking, lived, entry, anew):
    before = asking.heaps(FIRST)
    call(lived, "log", *entry)
    after = asking.heaps(FIRST)
    assert asking.worked_out == anew
    assert (before == after) == (not anew or entry[0] == "turned")


def test_where_time_is_short_the_first_is_worked_out_and_a_child_does_the_others(asking):
    first, second = asking.heaps(FIRST, SECOND, budget_s=0, child=True)
    assert (first.waits, second.waits, asking.worked_out) == (False, True, [FIRST])
    assert asking.done == [True]
    first, second = asking.heaps(FIRST, SECOND, budget_s=0)
    assert (second.waits, second.heat, len(second.rounds), asking.worked_out) == (False, HeatStatus.RAW, 25, [])
    alone = Asking.heaps(asking, SECOND, later_ms=10 * MINUTE_MS)
    assert alone == [second], "the child's course is the same"


def test_an_old_course_is_shown_until_the_child_is_through(asking):
    asking.heaps(SECOND)
    found = asking.heaps(FIRST, SECOND, budget_s=0, later_ms=11 * MINUTE_MS)
    assert [one.waits for one in found] == [False, False]
    assert asking.worked_out == [FIRST]


def test_without_a_configuration_file_the_next_look_goes_on(asking):
    asking.configuration = replace(asking.configuration, source=None)
    assert [one.waits for one in asking.heaps(FIRST, SECOND, budget_s=0, child=True)] == [False, True]
    assert asking.done == []
    assert [one.waits for one in asking.heaps(FIRST, SECOND, budget_s=0)] == [False, False]


def test_a_child_that_fails_is_told_to_the_log_and_nobody_else(asking, caplog):
    asking.configuration = replace(asking.configuration, source=asking.configuration.source.with_name("none.toml"))
    assert [one.waits for one in asking.heaps(FIRST, SECOND, budget_s=0, child=True)] == [False, True]
    assert "could not be worked out" in caplog.text


STEP = st.builds(Step, st.integers(0, 2**42), st.integers(-40_000, 99_000), st.integers(-40_000, 99_000))


@given(
    st.builds(
        HeatCourse,
        hold_milli_c=st.integers(0, 90_000),
        steps=st.lists(STEP, max_size=5),
        rounds=st.lists(STEP, max_size=5),
        holds=st.lists(st.tuples(st.integers(0, 2**42), st.integers(0, 2**42)), max_size=3),
        held_ms=st.integers(0, 2**40),
        longest_ms=st.integers(0, 2**40),
        counts_from=st.integers(0, 2**42),
        hottest=st.none() | st.tuples(st.integers(0, 2**42), st.integers(0, 99_000)),
        heat=st.none() | st.sampled_from(HeatStatus),
        met_at=st.none() | st.integers(0, 2**42),
        progress=st.text(max_size=20),
        waits=st.booleans(),
    ),
    st.text(min_size=1, max_size=20),
)
def test_a_course_comes_back_from_its_line_as_it_was(course, batch):
    line = line_of_heat(batch, course)
    assert "\n" not in line
    assert heat_from_line(line) == (batch, course)

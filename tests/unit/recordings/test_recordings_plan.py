"""Commits of a recording, and the record in memory."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from monitor.model.events import EventKind
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.times import parse_time
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import MemoryHistory, ReadingRow, SetAsides, columns_of
from monitor.recordings import memory as memory_module
from monitor.recordings import plan_commits as plan_columns

NINE = parse_time("2026-03-01T09:00:00Z")


def plan_commits(rows, works, aside=None):
    return plan_columns(columns_of(rows), works, aside)


def row(ms, probe="a", micro=1, received=None):
    return ReadingRow(
        NINE + ms, probe, Quantity.TEMPERATURE, micro, "Cel", None if received is None else NINE + received
    )


def work(ms, kind=WorkKind.TURNED, entered=None, **more):
    return Work(time=NINE + ms, place="p1", kind=kind, entered=None if entered is None else NINE + entered, **more)


def shown(events):
    """(ms after nine, kind, (ms, probe) of the rows or the work's kind)."""
    found = []
    for event in events:
        payload = event.payload
        what = [(r[0] - NINE, r[1]) for r in payload["rows"]] if "rows" in payload else payload["kind"]
        found.append((event.at - NINE, event.kind.value, what))
    return found


def test_without_received_each_instant_is_a_commit():
    events = plan_commits([row(1000, "b"), row(0, "b"), row(1000, "a"), row(0, "a")], [])
    assert shown(events) == [(0, "readings", [(0, "a"), (0, "b")]), (1000, "readings", [(1000, "a"), (1000, "b")])]


def test_equal_received_is_one_commit_in_order_of_time_and_probe():
    rows = [
        row(900, "a", received=1000),
        row(500, "b", received=1000),
        row(500, "a", received=1000),
        row(100, "a", received=50),
    ]
    assert shown(plan_commits(rows, [])) == [
        (50, "readings", [(100, "a")]),
        (1000, "readings", [(500, "a"), (500, "b"), (900, "a")]),
    ]


def test_work_goes_first_and_instants_shared_are_moved_on():
    works = [work(0), work(0, WorkKind.WATERED), work(5000, WorkKind.FED), work(0, WorkKind.COVERED, entered=1)]
    assert shown(plan_commits([row(0), row(1), row(10)], works)) == [
        (0, "work", "turned"),
        (1, "work", "watered"),
        (2, "readings", [(0, "a")]),
        (3, "work", "covered"),
        (4, "readings", [(1, "a")]),
        (10, "readings", [(10, "a")]),
        (5000, "work", "fed"),
    ]


def test_payloads_are_the_models():
    events = list(plan_commits([row(0, micro=-5)], [work(0, note="wet", entered=0)]))
    assert events[0].payload == {"time": NINE, "entered": NINE, "place": "p1", "kind": "turned", "note": "wet"}
    assert type(events[0].payload["kind"]) is str
    assert events[1].payload == {"rows": [[NINE, "a", -5, "Cel"]], "ahead": []}


def test_repeated_keys_are_set_aside_the_first_received_stays():
    aside = SetAsides()
    rows = [row(0, micro=2, received=9), row(0, micro=1, received=5), row(0, micro=1, received=7), row(0, "b")]
    events = list(plan_commits(rows, [], aside))
    assert shown(events) == [(0, "readings", [(0, "b")]), (5, "readings", [(0, "a")]), (9, "readings", [])]
    assert events[1].payload["rows"][0][2] == 1
    assert events[2].payload["further"] == [[NINE, "a", 2, "Cel"]]
    assert (aside.repeated, aside.counts, aside.conflicts) == (1, {SetAside.CONFLICT: 1}, [("a", NINE)])


def test_absurd_and_ahead():
    aside = SetAsides()
    early = ReadingRow(0, "a", Quantity.TEMPERATURE, 1, "Cel")
    rows = [early, row(300_000, received=0), row(300_001, "b", received=0)]
    (event,) = plan_commits(rows, [], aside)
    assert event.payload == {"rows": [[NINE + 300_000, "a", 1, "Cel"]], "ahead": [["b", NINE + 300_001]]}
    assert aside.counts == {SetAside.ABSURD_TIME: 1, SetAside.AHEAD: 1}


def test_nothing_gives_nothing():
    assert list(plan_commits([], [])) == []


rows_strategy = st.lists(
    st.builds(row, st.integers(0, 40), st.sampled_from("abc"), st.integers(0, 1), st.none() | st.integers(0, 40)),
    max_size=40,
)
works_strategy = st.lists(
    st.builds(work, st.integers(0, 40), st.sampled_from(WorkKind), st.none() | st.integers(0, 40)), max_size=6
)


@given(rows_strategy, works_strategy)
def test_plan_keeps_everything_once_and_rises(rows, works):
    aside = SetAsides()
    events = list(plan_commits(rows, works, aside))
    ats = [event.at for event in events]
    assert all(a < b for a, b in pairwise(ats))
    planned = [tuple(r) for e in events if e.kind is EventKind.READINGS for r in e.payload["rows"]]
    assert len(planned) == len({(r[0], r[1]) for r in planned}) == len({(r.time, r.probe) for r in rows})
    assert len(planned) + aside.repeated + aside.counts.get(SetAside.CONFLICT, 0) == len(rows)
    assert sum(e.kind is EventKind.WORK for e in events) == len(works)
    for event in events:
        if event.kind is EventKind.READINGS:
            assert event.payload["rows"] == sorted(event.payload["rows"])
    # the plan agrees with adding the rows one by one in order of arrival
    history = MemoryHistory()
    for r in sorted(rows, key=lambda r: (r.time if r.received is None else r.received, r.time, r.probe)):
        history.add(r.reading())
    assert sorted(planned) == [tuple(r) for r in history.readings("abc", 0, 1 << 60)]
    assert (history.repeated, len(history.conflicts)) == (aside.repeated, aside.counts.get(SetAside.CONFLICT, 0))


@given(
    st.lists(
        st.builds(Reading, st.integers(0, 60), st.sampled_from("abc"), st.integers(0, 2), st.sampled_from(["Cel", "K"]))
    ),
    st.lists(st.sampled_from("abcd"), max_size=5),
    st.integers(-5, 65),
    st.integers(-5, 65),
    st.sampled_from([1, 3, 8192]),
    st.sampled_from([0, 2, 32]),
)
def test_history_equals_a_plain_dict(readings, probes, start, end, chunk, few):
    kept, conflicts, repeated = {}, [], 0
    for reading in readings:
        old = kept.setdefault((reading.time, reading.probe), reading)
        if old is not reading:
            repeated += old == reading
            conflicts += [reading] if old != reading else []
    before = memory_module._CHUNK, memory_module._FEW
    memory_module._CHUNK, memory_module._FEW = chunk, few
    try:
        history = MemoryHistory(readings[: len(readings) // 2])
        list(history.readings("ab", 0, 60))  # what is asked for in between changes nothing
        history.extend(readings[len(readings) // 2 :])
        assert len(history) == len(kept)
        got = list(history.readings(probes, start, end))
    finally:
        memory_module._CHUNK, memory_module._FEW = before
    assert got == [kept[key] for key in sorted(kept) if start <= key[0] <= end and key[1] in probes]
    assert (len(history), history.conflicts, history.repeated) == (len(kept), conflicts, repeated)
    assert history.probes() == sorted({r.probe for r in readings})


def test_another_value_of_an_instant_stands_beside_the_first_once_however_often_it_comes():
    rows = [
        row(0, micro=1, received=0), row(0, micro=2, received=1), row(0, micro=2, received=5), row(0, micro=3, received=5),
        row(0, micro=1, received=6),
    ]  # fmt: skip
    aside = SetAsides()
    events = list(plan_commits(rows, [], aside))
    assert [(event.at - NINE, event.payload.get("further")) for event in events] == [
        (0, None),
        (1, [[NINE, "a", 2, "Cel"]]),
        (5, [[NINE, "a", 3, "Cel"]]),
    ]
    assert (aside.counts, aside.repeated) == ({SetAside.CONFLICT: 3}, 1)
    assert aside.conflicts == [("a", NINE)] * 3


def test_another_value_that_came_ahead_of_its_time_is_left_out():
    rows = [row(300_001, micro=1, received=1), row(300_001, micro=2, received=0), row(300_001, micro=3, received=2)]
    events = list(plan_commits(rows, []))
    assert [(event.at - NINE, event.payload.get("rows"), event.payload.get("further")) for event in events] == [
        (0, [], None),
        (1, [], [[NINE + 300_001, "a", 1, "Cel"]]),
        (2, [], [[NINE + 300_001, "a", 3, "Cel"]]),
    ]

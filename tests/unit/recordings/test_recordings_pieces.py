"""A recording planned as columns is the recording planned as events."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.stretch import Commits
from monitor.model.quarantine import SetAside
from monitor.model.times import YEAR_2000_MS
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import ReadingRow, SetAsides, columns_of, plan_commits, plan_pieces, work_payload

T0 = 1_793_577_600_000
instants = st.integers(0, 12).map(lambda n: T0 + n // 3) | st.integers(0, 10**6).map(lambda n: T0 + n)
rows = st.lists(
    st.builds(
        ReadingRow,
        instants | st.sampled_from([5, T0 + 10**7]),
        st.sampled_from(["a", "b", "c"]),
        st.just(Quantity.TEMPERATURE),
        st.integers(0, 3).map(lambda n: n * 1000),
        st.sampled_from(["Cel", "K"]),
        st.none() | instants,
    ),
    max_size=40,
)
work = st.lists(
    st.builds(
        Work, time=instants, place=st.just("p1"), kind=st.just(WorkKind.TURNED), entered=st.none() | instants,
    ),
    max_size=6,
)  # fmt: skip


AHEAD_MS = 300_000


def planned(rows, work):
    """What the rules say, one row at a time: (at, kind, payload) of each event, and what was set aside."""
    aside, seen, beside, commits = SetAsides(), {}, set(), {}
    for row in sorted(
        rows, key=lambda row: (row.received if row.received is not None else row.time, row.time, row.probe)
    ):
        received = row.time if row.received is None else row.received
        if row.time < YEAR_2000_MS:
            aside.count(SetAside.ABSURD_TIME, 1)
        elif (row.probe, row.time) in seen:
            if seen[row.probe, row.time] == (row.micro, row.unit):
                aside.repeated += 1
            else:
                aside.count(SetAside.CONFLICT, 1)
                aside.conflicts.append((row.probe, row.time))
                value = [row.time, row.probe, row.micro, row.unit]
                if row.time <= received + AHEAD_MS and tuple(value) not in beside:
                    beside.add(tuple(value))
                    commits.setdefault(received, {"rows": [], "ahead": []}).setdefault("further", []).append(value)
        else:
            seen[row.probe, row.time] = row.micro, row.unit
            payload = commits.setdefault(received, {"rows": [], "ahead": []})
            if row.time > received + AHEAD_MS:
                aside.count(SetAside.AHEAD, 1)
                payload["ahead"].append([row.probe, row.time])
            else:
                payload["rows"].append([row.time, row.probe, row.micro, row.unit])
    instants = [(entry.time if entry.entered is None else entry.entered, 0, entry) for entry in work]
    instants += [(received, 1, payload) for received, payload in commits.items()]
    events, last = [], -1
    for instant, reads, what in sorted(instants, key=lambda one: one[:2]):
        last = max(instant, last + 1)
        events.append((last, "readings" if reads else "work", what if reads else work_payload(what)))
    return events, aside


@given(rows, work)
def test_columns_are_the_events_of_the_rules(rows, work):
    aside = SetAsides()
    pieces = plan_pieces(columns_of(rows), work, aside)
    expanded = []
    for piece in pieces:
        expanded += [piece.event(n) for n in range(len(piece))] if isinstance(piece, Commits) else [piece]
    events, theirs = planned(rows, work)
    assert [(event.at, event.kind.value, event.payload) for event in expanded] == events
    assert (aside.counts, aside.repeated, sorted(aside.conflicts)) == (
        theirs.counts, theirs.repeated, sorted(theirs.conflicts),
    )  # fmt: skip
    assert list(plan_commits(columns_of(rows), work)) == expanded


@given(rows)
def test_a_part_of_columns_is_those_commits(rows):
    for piece in plan_pieces(columns_of(rows), []):
        if not isinstance(piece, Commits):
            continue
        whole = [piece.event(n) for n in range(len(piece))]
        half = len(piece) // 2
        parts = [piece.part(0, half), piece.part(half, len(piece))]
        assert [part.event(n) for part in parts for n in range(len(part))] == whole
        only = piece.only(["b"])
        kept = [
            {
                "rows": [row for row in event.payload["rows"] if row[1] == "b"],
                "ahead": [claim for claim in event.payload["ahead"] if claim[0] == "b"],
            }
            for event in whole
        ]
        assert [only.event(n).payload for n in range(len(only))] == [one for one in kept if one["rows"] or one["ahead"]]
        assert piece.until(piece.at[0]).event(0) == whole[0]

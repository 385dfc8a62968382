"""A recording planned as columns is the recording planned as events."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.engine.stretch import Commits
from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import SetAsides, plan_commits, plan_pieces
from monitor.recordings.readings import ReadingRow

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


@given(rows, work)
def test_columns_are_the_events(rows, work):
    first, second = SetAsides(), SetAsides()
    events = list(plan_commits(rows, work, first))
    pieces = plan_pieces(rows, work, second)
    expanded = []
    for piece in pieces:
        expanded += [piece.event(n) for n in range(len(piece))] if isinstance(piece, Commits) else [piece]
    assert [(e.at, e.kind) for e in expanded] == [(e.at, e.kind) for e in events]
    assert [e.payload for e in expanded] == [e.payload for e in events]
    assert first == second


@given(rows)
def test_a_part_of_columns_is_those_commits(rows):
    for piece in plan_pieces(rows, []):
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

"""The record as columns is the record event by event, wherever its rows lie."""

import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from journal_yard import DAY, HOUR, T0, writer_of

from monitor.engine.stretch import Commits, commits_from_events
from monitor.journal import open_reader
from monitor.journal.columns import read_pieces, record_columns
from monitor.model.events import FURTHER, Event, EventKind
from monitor.model.readings import Reading

ROWS = st.lists(
    st.builds(
        Reading,
        st.integers(0, 60).map(lambda step: T0 + step * HOUR // 3),
        st.sampled_from(["b", "a", "c"]),
        st.integers(1, 3),
        st.sampled_from(["K", "Cel", "Cel", "Cel"]),
    ),
    max_size=12,
)
STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("readings"), ROWS),
        st.tuples(st.just("readings"), ROWS),
        st.tuples(st.just("claims"), ROWS),
        st.tuples(st.just("imported"), ROWS),
        st.tuples(st.just("work"), st.none()),
        st.tuples(st.just("pack"), st.integers(0, 25)),
    ),
    max_size=14,
)


def take(writer, now, what, how):
    if what == "pack":
        writer.pack_closed_hours(T0 + how * HOUR)
        return
    with writer.turn(now) as turn:
        if what == "readings":
            turn.readings(how)
        elif what == "claims":
            turn.readings(how[2:], [(row.probe, row.time + DAY) for row in how[:2]])
        elif what == "imported":
            turn.event(EventKind.IMPORTED, {"rows": [list(row) for row in how]})
        else:
            turn.event(EventKind.WORK, {"kind": "turned", "place": "p1", "time": now})


def shown(found):
    """Pieces as values that can be compared: of columns, the names and each commit."""
    return [
        (piece.names, [piece.event(n) for n in range(len(piece))]) if isinstance(piece, Commits) else piece
        for piece in found
    ]


def only(found, probes):
    """What `Store.pieces` gives of some probes, by way of `Commits.only`."""
    kept = []
    for piece in found:
        if isinstance(piece, Commits):
            mine = piece.only(probes)
            kept += [mine.event(n) for n in range(len(mine))]
            continue
        payload = dict(piece.payload)
        if "rows" not in payload:
            kept.append(piece)
            continue
        rows = [row for row in payload.pop("rows") if row.probe in probes]
        further = [row for row in payload.pop(FURTHER, ()) if row[1] in probes]
        payload |= {FURTHER: further} if further else {}
        if "ahead" in payload:
            payload["ahead"] = [claim for claim in payload["ahead"] if claim[0] in probes]
        if rows or further or payload.get("ahead"):
            payload["rows"] = rows
        if payload.get("ahead") or payload.get("rows") or piece.kind is EventKind.IMPORTED or further:
            kept.append(Event(piece.at, piece.kind, payload))
    return kept


def plain(events):
    """Events whose rows are lists, whether columns or the table held them."""
    return [
        replace(one, payload={**one.payload, "rows": [list(row) for row in one.payload["rows"]]})
        if "rows" in one.payload
        else one
        for one in events
    ]


@given(STEPS, st.sampled_from([1, 5, 300_000]), st.integers(0, 15), st.integers(0, 15))
@settings(max_examples=60, deadline=None)
def test_pieces_are_the_events(steps, window, first, last):
    with tempfile.TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(record_columns, "WINDOW_ROWS", window)
        now = T0 + 5 * HOUR
        with writer_of(Path(folder)) as writer:
            for what, how in steps:
                now += HOUR // 2
                take(writer, now, what, how)
        with open_reader(Path(folder)) as store:
            theirs = commits_from_events(store.events())
            assert shown(read_pieces(store)) == shown(theirs)
            for probes in (["a"], ["c", "b"], ["nobody"]):
                found = read_pieces(store, probes=probes)
                expanded = [e for piece in found for e in (_expanded(piece) if isinstance(piece, Commits) else [piece])]
                assert plain(expanded) == plain(only(theirs, probes))
            span = T0 + 5 * HOUR + first * HOUR // 2, T0 + 5 * HOUR + last * HOUR // 2
            assert shown(read_pieces(store, *span)) == shown(commits_from_events(store.events(*span)))


def _expanded(commits):
    return [commits.event(n) for n in range(len(commits))]


def test_a_block_is_unpacked_once_though_windows_are_small(tmp_path, monkeypatch):
    monkeypatch.setattr(record_columns, "WINDOW_ROWS", 3_000)
    with writer_of(tmp_path) as writer:
        for step in range(120):
            at = T0 + step * HOUR
            with writer.turn(at + 59 * 60_000) as turn:
                turn.readings(
                    [
                        Reading(at + minute * 60_000, probe, (step * 7 + minute) * 1000, "Cel")
                        for minute in range(59)
                        for probe in "abc"
                    ]
                )
        writer.pack_closed_hours(T0 + 119 * HOUR)
    with open_reader(tmp_path) as store:
        asked = []
        columns = store.blocks.columns
        monkeypatch.setattr(store.blocks, "columns", lambda block: asked.append(block) or columns(block))
        found = read_pieces(store)
        monkeypatch.undo()
        assert len(asked) == len(set(asked)) > 3
        assert shown(found) == shown(commits_from_events(store.events()))

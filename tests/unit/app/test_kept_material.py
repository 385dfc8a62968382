"""What a command keeps of its reading of the log: gone on with, it is what reading the whole log would say."""

import json
import os
import tempfile
from concurrent.futures import ThreadPoolExecutor
from dataclasses import fields, replace
from functools import partial
from pathlib import Path
from unittest.mock import patch

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.app.entries.entry_log import entry_log
from monitor.app.entries.lots_changed import lots_changed
from monitor.app.material import kept_file, kept_material
from monitor.app.material.kept_file import KEPT_FILE
from monitor.app.material.yard_material import material_record
from monitor.app.stock import opened_material
from monitor.app.yard.sizes_of_yard import sizes_of
from monitor.configuration import canonical_settings, load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.material import Graph, Shelf, kept_reading
from monitor.material.log_reading import Left, LogReading
from monitor.material.open_together import OpenTogether
from monitor.material.shelf import OnShelf
from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS, parse_time
from monitor.proof.rules import rule_ids

START = parse_time("2026-03-01T08:00:00Z")
CONFIG = """
[site]
name = "Test"
[piles.p1]
built = 2026-02-20T09:00:00Z
[piles.p2]
built = 2026-02-20T09:00:00Z
[bins.b1]
begun = 2026-01-05
[bins.b2]
[probes.p1-a]
place = "p1"
role = "core"
[containers.bag]
volume = "100 L"
"""
UNBUILT = CONFIG.replace("built = 2026-02-20T09:00:00Z\n", "")
OTHER = CONFIG.replace('volume = "100 L"', 'volume = "60 L"')


class Yard:
    """A record that is written to, and read in both ways."""

    def __init__(self, folder, config=CONFIG):
        self.configuration = replace(load_text(config, None, {}, rules=rule_ids()), data=folder / "data")
        self.writer = open_writer(self.configuration.data, Engine, Engine.restore)
        self.now, self.entries = START, []
        with self.writer.turn(self.now) as turn:
            turn.event(EventKind.STARTED, {"down_since": None})
        self.settings()

    @property
    def file(self):
        return self.configuration.data / KEPT_FILE

    def event(self, kind, payload):
        self.now += HOUR_MS
        with self.writer.turn(self.now) as turn:
            turn.event(kind, payload)
        return self.now

    def settings(self):
        plain = json.loads(canonical_settings(self.configuration.settings))
        return self.event(EventKind.SETTINGS, {"settings": plain})

    def log(self, kind, place="yard", late_h=0, **fields):
        time = self.now + HOUR_MS - late_h * HOUR_MS
        payload = {"kind": kind, "place": place, "time": time, **fields}
        self.entries.append((self.event(EventKind.WORK, payload), payload))

    def read(self):
        """Return the material as a command reads it, and whether the whole log was read for it."""
        read = []
        with opened_material(self.configuration) as opened:
            real, kept_material.entry_log = kept_material.entry_log, lambda *all: read.append(1) or real(*all)
            try:
                record = opened.record
            finally:
                kept_material.entry_log = real
            assert plain(record) == plain(material_record(opened.view, self.configuration))
        return record, bool(read)

    def lots_changed(self, number, right):
        """Return the lots that change if an entry is another, after both ways to find them agreed."""
        with opened_material(self.configuration) as opened:
            places = [*self.configuration.settings.piles, *self.configuration.settings.bins]
            entries = entry_log(opened.store, places)
            found = entries[number % len(entries)]
            if found.work is None or found.undone:
                return []
            work = None if right is None else replace(found.work, **right)
            asked = opened.view.engine, entries, found, work, sizes_of(self.configuration)
            kept = lots_changed(*asked, opened.store, partial(kept_material.read_both, self.configuration))
            assert kept == lots_changed(*asked)
            return kept

    def whole(self):
        return self.read()[1]


def plain(record):
    """Return a record with the order of everything in it."""
    graph = record.graph
    return (
        [(node, list(some)) for node, some in graph.into.items()],
        [(node, list(some)) for node, some in graph.out_of.items()],
        sorted(graph.risks.items()),
        list(record.shelves.items()),
        list(record.entries.items()),
        {lot: list(some) for lot, some in record.tests.items()},
    )


@pytest.fixture
def yard(tmp_path):
    made = Yard(tmp_path)
    yield made
    made.writer.close()


def castings(yard):
    yard.log("delivery", what="leaves", amount="40", measure="kg", unit="kg", risk="plastic")
    yard.log("delivery", what="leaves", amount="30", measure="kg", unit="kg")
    yard.log("built", "p1", parts="leaves=20 kg")
    yard.log("split", "p1", to="b1", amount="10", measure="kg", unit="kg")
    yard.log("harvested", "b1", amount="5", measure="kg", unit="kg", moisture="70")
    yard.log("lot made", what="h5", lot="lot-1")
    yard.log("lot tested", lot="lot-1", test="bean test", result="passed")


MASS = st.integers(1, 60).map(lambda kg: {"amount": str(kg), "measure": "kg", "unit": "kg"})
PILES, BINS = st.sampled_from(["p1", "p2"]), st.sampled_from(["b1", "b2"])
STUFF = st.sampled_from(["leaves", "Leaves", "straw", "d1", "d2", "coffee grounds", "h3", "p1-2026-02-20"])
LATE = st.sampled_from([0, 0, 0, 0, 2, 400])
STEPS = st.one_of(
    st.tuples(st.just("delivery"), st.just("yard"), STUFF.map(lambda what: {"what": what, "risk": "meat"}), MASS, LATE),
    st.tuples(st.just("counted"), st.just("yard"), STUFF.map(lambda what: {"what": what}), MASS, LATE),
    st.tuples(st.sampled_from(["built", "added"]), PILES, STUFF.map(lambda what: {"what": what}), MASS, LATE),
    st.tuples(st.just("split"), PILES, st.one_of(PILES, BINS).map(lambda to: {"to": to}), MASS, LATE),
    st.tuples(st.just("moved"), PILES, st.one_of(PILES, BINS).map(lambda to: {"to": to}), st.just({}), LATE),
    st.tuples(st.just("emptied"), st.one_of(PILES, BINS), st.just({}), st.just({}), LATE),
    st.tuples(st.sampled_from(["fed", "bedded"]), BINS, STUFF.map(lambda what: {"what": what}), MASS, LATE),
    st.tuples(st.just("harvested"), BINS, st.just({"moisture": "70"}), MASS, LATE),
    st.tuples(st.just("screened"), BINS, st.just({"fines": "3 kg", "overs": "1 kg"}), st.just({}), LATE),
    st.tuples(st.just("lot made"), st.just("yard"), st.sampled_from([{"what": "h3", "lot": "l1"}, {"what": "h4", "lot": "L1"}]),
              st.just({}), LATE),
    st.tuples(st.just("given out"), st.just("yard"), st.just({"lot": "l1", "receiver": "a school"}), MASS, LATE),
    st.tuples(st.just("lot tested"), st.just("yard"), st.just({"lot": "l1", "test": "beans", "result": "failed"}),
              st.just({}), LATE),
    st.tuples(st.just("turned"), PILES, st.just({}), st.just({}), LATE),
    st.tuples(st.just("undo"), st.integers(0, 30)),
    st.tuples(st.just("correct"), st.integers(0, 30), MASS),
    st.tuples(st.just("import"), MASS),
    st.tuples(st.just("by hand")),
    st.tuples(st.just("probe"), st.sampled_from(["p1-a"])),
    st.tuples(st.just("settings")),
)  # fmt: skip


def do(yard, step):
    kind, *rest = step
    if kind in ("undo", "correct"):
        if yard.entries:
            at, payload = yard.entries[rest[0] % len(yard.entries)]
            right = None if kind == "undo" else {**payload, **rest[1]}
            yard.event(EventKind.CORRECTION, {"of": at, "work": right, "by": "Ann"})
    elif kind == "import":
        work = {"kind": "fed", "place": "b1", "time": yard.now, "what": "straw", **rest[0]}
        yard.event(EventKind.IMPORTED, {"work": [work, {**work, "place": "b2"}]})
    elif kind in ("by hand", "probe"):
        series = "hand:p2" if kind == "by hand" else "p1-a"
        yard.event(EventKind.READINGS, {"rows": [[yard.now, series, 21_000_000, "Cel"]], "ahead": []})
    elif kind == "settings":
        yard.settings()
    else:
        place, fields, mass, late = rest
        yard.log(kind, place, late, **fields, **mass)


@given(
    st.lists(STEPS, min_size=1, max_size=14),
    st.sets(st.integers(0, 13)),
    st.sampled_from([CONFIG, UNBUILT]),
    st.sampled_from([(200,), (2, 6), (1,), (4, 5)]),
)
@settings(max_examples=40, deadline=None)
def test_whatever_is_done_and_whenever_somebody_asks_it_is_what_the_whole_log_says(steps, asked, config, back):
    with tempfile.TemporaryDirectory() as folder, patch.object(kept_reading, "_BACK", back):
        yard = Yard(Path(folder), config)
        try:
            castings(yard)
            yard.read()
            for number, step in enumerate(steps):
                do(yard, step)
                if number in asked:
                    yard.read()
            yard.read()
        finally:
            yard.writer.close()


RIGHT = st.one_of(
    st.none(),
    MASS,
    STUFF.map(lambda what: {"what": what}),
    BINS.map(lambda place: {"place": place}),
    st.integers(-400, 4).map(lambda hours: {"time": START + hours * HOUR_MS}),
)


@given(
    st.lists(STEPS, max_size=8),
    st.sampled_from([(200,), (2, 6), (1,)]),
    st.booleans(),
    st.lists(st.tuples(st.integers(0, 14), RIGHT), min_size=1, max_size=3),
)
@settings(max_examples=25, deadline=None)
def test_the_lots_that_a_correction_changes_are_those_of_reading_the_log_with_it_and_without(steps, back, kept, asked):
    with tempfile.TemporaryDirectory() as folder, patch.object(kept_reading, "_BACK", back):
        yard = Yard(Path(folder))
        try:
            castings(yard)
            if kept:
                yard.read()
            for step in steps:
                do(yard, step)
            for number, right in asked:
                yard.lots_changed(number, right)
        finally:
            yard.writer.close()


def test_a_question_about_lots_goes_on_from_what_was_kept(yard, monkeypatch):
    castings(yard)
    told = ["lot-1 would no longer have d2 in it."]
    assert yard.lots_changed(1, {"what": "straw"}) == told, "nothing was kept yet"
    monkeypatch.setattr(kept_material, "entry_log", None)
    assert yard.lots_changed(1, {"what": "straw"}) == told
    yard.log("delivery", what="straw", amount="9", measure="kg", unit="kg")
    assert yard.lots_changed(1, None) == told
    assert yard.lots_changed(4, {"amount": "2"}) == ["lot-1 would weigh 2 kg instead of 5 kg."]


def test_entries_that_change_nothing_earlier_are_read_on(yard):
    castings(yard)
    assert yard.whole()
    assert not yard.whole(), "the record says nothing new"
    yard.event(EventKind.READINGS, {"rows": [[yard.now, "p1-a", 21_000_000, "Cel"]], "ahead": []})
    yard.event(EventKind.READINGS, {"rows": [[yard.now, "hand:b1", 21_000_000, "Cel"]], "ahead": []})
    yard.log("delivery", what="straw", amount="9", measure="kg", unit="kg")
    yard.log("fed", "b1", what="straw", amount="2", measure="kg", unit="kg")
    yard.log("given out", lot="lot-1", receiver="a school", amount="1", measure="kg", unit="kg")
    yard.log("lot tested", lot="lot-1", test="bean test", result="failed")
    record, whole = yard.read()
    assert not whole
    assert [work.receiver for work in record.entries.values() if work.receiver] == ["a school"]
    assert 9 in record.entries, "the reading by hand is entry 8"


@pytest.mark.parametrize(
    "change",
    [
        lambda yard: yard.log("fed", "b1", late_h=9, what="straw", amount="2", measure="kg", unit="kg"),
        lambda yard: yard.event(EventKind.CORRECTION, {"of": yard.entries[1][0], "work": None, "by": "Ann"}),
        lambda yard: yard.log("moved", "p1", to="p2"),
        lambda yard: yard.log("emptied", "b2"),
        lambda yard: yard.log("probe in", "p2", probe="p1-a"),
        lambda yard: yard.log("added", "p2", what="straw"),
        lambda yard: yard.event(EventKind.IMPORTED, {"work": [{"kind": "fed", "place": "b1", "time": yard.now}]}),
        lambda yard: yard.event(EventKind.IMPORTED, {"rows": [[yard.now, "hand:b1", 21_000_000, "Cel"]]}),
    ],
)
def test_what_changes_something_earlier_is_read_on_from_before_it(yard, change):
    castings(yard)
    yard.read()
    change(yard)
    assert not yard.whole()
    assert not yard.whole()


@pytest.mark.parametrize(
    "change",
    [
        lambda yard: yard.log("emptied", "b1"),  # of its bed the day is known
        lambda yard: yard.log("fed", "an old bin", what="straw", amount="2", measure="kg", unit="kg"),
        lambda yard: yard.settings(),
    ],
)
def test_after_anything_else_the_whole_log_is_read(yard, change):
    castings(yard)
    yard.read()
    change(yard)
    assert yard.whole()
    assert not yard.whole()


def test_what_changes_something_earlier_than_anybody_can_go_back_to_lets_the_whole_log_be_read(yard):
    with patch.object(kept_reading, "_BACK", (3,)):
        castings(yard)
        yard.read()
        yard.event(EventKind.CORRECTION, {"of": yard.entries[6][0], "work": None, "by": "Ann"})
        assert not yard.whole()
        yard.event(EventKind.CORRECTION, {"of": yard.entries[1][0], "work": None, "by": "Ann"})
        assert yard.whole()


@pytest.mark.parametrize("series", ["p1-a", "hand:p2"])
def test_a_heap_that_begins_by_a_reading_is_the_engines_to_tell(tmp_path, series):
    yard = Yard(tmp_path, UNBUILT)
    yard.log("delivery", what="straw", amount="9", measure="kg", unit="kg")
    yard.read()
    assert not yard.whole()
    for _ in range(5):
        yard.event(EventKind.READINGS, {"rows": [[yard.now, series, 31_000_000, "Cel"]], "ahead": []})
    assert not yard.whole(), "a heap lies there, which is read on from its beginning"
    yard.event(EventKind.READINGS, {"rows": [[yard.now - 24 * HOUR_MS, series, 31_000_000, "Cel"]], "ahead": []})
    yard.read()
    yard.writer.close()


@pytest.mark.parametrize(
    "harm",
    [
        lambda path: path.write_bytes(b""),
        lambda path: path.write_bytes(path.read_bytes()[:-9]),
        lambda path: path.write_bytes(path.read_bytes().replace(b"leaves", b"leaven")),
        lambda path: path.write_bytes(b"00000000\n"),
        lambda path: path.write_bytes(os.urandom(500)),
        lambda path: path.unlink(),
        lambda path: _kept_as(path, lambda kept: {**kept, "reading": {}}),
        lambda path: _kept_as(path, lambda kept: {**kept, "works": [[1], [2], [3], []]}),
        lambda path: _kept_as(path, lambda kept: {**kept, "count": "many", "for": None}),
        lambda path: _kept_as(path, lambda kept: [kept]),
        lambda path: _kept_as(path, lambda kept: {**kept, "state": {**kept["state"], "rest": "0"}}),
        lambda path: _kept_as(path, lambda kept: {**kept, "state": {**kept["state"], "until": 1 << 61}}),
    ],
)
def test_a_file_that_is_gone_or_harmed_is_never_believed(yard, harm):
    castings(yard)
    yard.read()
    harm(yard.file)
    assert yard.whole()
    assert not yard.whole(), "it was made anew"


def _kept_as(path, change):
    kept = change(kept_file.read_kept(path.parent))
    path.unlink()
    kept_file.write_kept(path.parent, kept)


def test_it_serves_no_other_configuration_code_or_record(yard, tmp_path, monkeypatch):
    castings(yard)
    yard.read()
    own, yard.configuration = yard.configuration, replace(load_text(OTHER, None, {}), data=yard.configuration.data)
    assert yard.whole()
    yard.configuration = own
    assert yard.whole()
    monkeypatch.setattr("monitor.__version__", "another")
    assert yard.whole()
    other = Yard(tmp_path / "other")
    other.log("note", note="It is another yard.")
    castings(other)
    other.log("given out", lot="lot-1", receiver="a school", amount="1", measure="kg", unit="kg")
    other.file.write_bytes(yard.file.read_bytes())
    assert other.whole(), "its past is another"
    other.writer.close()


def test_where_it_cannot_be_kept_the_answer_is_the_same(yard, monkeypatch):
    castings(yard)
    monkeypatch.setattr(kept_file.tempfile, "mkstemp", lambda **_: (_ for _ in ()).throw(OSError(28, "full")))
    assert yard.whole()
    assert yard.whole()
    monkeypatch.undo()
    monkeypatch.setattr(kept_file, "_FREE_BYTES", 1 << 62)
    assert yard.whole()
    assert not yard.file.exists(), "the space belongs to the journal"


def test_the_file_is_private_and_nothing_is_left_beside_it(yard):
    castings(yard)
    with ThreadPoolExecutor(4) as many:
        list(many.map(lambda _: yard_record(yard), range(12)))
    assert yard.file.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in yard.file.parent.glob("material*")] == [KEPT_FILE]
    assert not yard.whole()


def yard_record(yard):
    with opened_material(yard.configuration) as opened:
        return plain(opened.record)


def test_a_day_that_was_closed_is_known_by_its_head(yard):
    castings(yard)
    yard.now += 48 * HOUR_MS
    yard.log("delivery", what="straw", amount="9", measure="kg", unit="kg")
    yard.read()
    kept = kept_file.read_kept(yard.file.parent)
    assert kept["state"]["day"] is not None
    yard.now += 48 * HOUR_MS
    yard.log("delivery", what="straw", amount="8", measure="kg", unit="kg")
    assert not yard.whole()
    _kept_as(yard.file, lambda kept: {**kept, "state": {**kept["state"], "head": "00" * 32}})
    assert yard.whole()


def test_whatever_a_reading_remembers_is_kept():
    """A further field of `LogReading` has to go into `KeptReading.kept` and come back from it, or later entries are misread."""
    told_anew = {"yard", "whole"}
    kept = {"emptied", "graph", "moves", "shelves", "_beds", "_nodes", "_shelf_of", "_harvests", "_pools", "_left"}
    assert {one.name for one in fields(LogReading)} == told_anew | kept
    assert {one.name for one in fields(Left)} == {"wet_g", "dry_g", "unclear", "undried", "boundless"}
    assert {one.name for one in fields(OpenTogether)} == {"material", "_front", "_back", "_end", "_number"}
    assert {one.name for one in fields(Graph)} == {"into", "out_of", "risks"}
    assert len(fields(OnShelf)) == 5
    assert len(fields(Shelf)) == 5

"""A journal of many small blocks and spans: whatever is asked, of whatever range, is what a list of all rows would say."""

import random
from itertools import pairwise

import numpy as np
import pytest
from journal_yard import HOUR, T0, writer_of

from monitor.journal import arrival_index, audit, open_reader, packed, packing, reading_rows, verify_chain
from monitor.journal.blocks import Columns, pack, unpack
from monitor.model.events import EventKind
from monitor.model.readings import Reading

STEP = HOUR // 4
STEPS = 60
FULL, MOST = 4, 6


@pytest.fixture(autouse=True)
def small(monkeypatch):
    monkeypatch.setattr(packing, "BLOCK_ROWS", FULL)
    monkeypatch.setattr(packing, "_MOST_ROWS", MOST)
    monkeypatch.setattr(packing, "_CHUNK_ROWS", 7)
    monkeypatch.setattr(packing, "_SPARE_PAGES", 1)
    monkeypatch.setattr(packed, "_CACHED_ROWS", 9)
    monkeypatch.setattr(arrival_index, "SPAN_ROWS", 5)
    monkeypatch.setattr(reading_rows, "_WINDOW_MS", 2 * STEP)


class Yard:
    """Rows put in at random, in turns, with packing in between; and the list of them with the instant of each."""

    def __init__(self, folder, seed):
        self.chance, self.folder = random.Random(seed), folder
        self.rows, self.now = {}, T0
        with writer_of(folder) as writer:
            for _ in range(25):
                self.turn(writer)
                if self.chance.random() < 0.5:
                    writer.pack_closed_hours(T0 + self.chance.randrange(STEPS) * STEP, self.chance.choice([None, 3]))
                self.hold(writer)

    def turn(self, writer):
        self.now += self.chance.choice([1, 1_000, STEP, 3 * STEP])
        some = [self.one() for _ in range(self.chance.randrange(9))]
        with writer.turn(self.now) as turn:
            turn.readings(some)
        new = 0
        for row in sorted(some, key=lambda row: (row.time, row.probe)):
            if (row.probe, row.time) not in self.rows:
                self.rows[row.probe, row.time] = (row, self.now)
                new += 1
        assert turn.outcome.new_rows == new

    def one(self):
        unit = "K" if self.chance.random() < 0.1 else "Cel"
        return Reading(
            T0 + self.chance.randrange(STEPS) * STEP,
            self.chance.choice("abc"),
            self.chance.randrange(50) * 62_500,
            unit,
        )

    def hold(self, writer):
        """Assert what always holds of blocks."""
        blocks = writer.store.connection.execute("SELECT series, first, last, rows FROM block ORDER BY series, first")
        for one, following in pairwise(blocks.fetchall()):
            assert one[0] != following[0] or one[2] < following[1]
            assert one[3] <= MOST

    def range(self):
        first, last = (T0 + self.chance.randrange(-2, STEPS + 2) * STEP + self.chance.choice([-1, 0, 1]) for _ in "ab")
        return first, last

    def among(self, probes, first, last, known_at=1 << 60):
        rows = (row for row, at in self.rows.values() if row.probe in probes and at <= known_at)
        return sorted(row for row in rows if first <= row.time <= last)


@pytest.mark.parametrize("seed", range(4))
def test_readings_of_any_range_are_those_that_a_list_gives(tmp_path, seed):
    yard = Yard(tmp_path, seed)
    with open_reader(tmp_path) as store:
        for _ in range(60):
            first, last = yard.range()
            for probes in (["a"], ["c", "b", "c"], ["b", "nobody"]):
                assert list(store.readings(probes, first, last)) == yard.among(probes, first, last)
                known_at = T0 + yard.chance.randrange(STEPS) * STEP
                then = list(store.readings(probes, first, last, known_at))
                assert then == yard.among(probes, first, last, known_at)


@pytest.mark.parametrize("seed", range(4))
def test_columns_of_any_range_are_those_that_a_list_gives(tmp_path, seed):
    yard = Yard(tmp_path, seed)
    with open_reader(tmp_path) as store:
        assert store.columns("nobody") == []
        for _ in range(40):
            first, last = yard.range()
            for unit in ("Cel", "K"):
                found = [one for one in store.columns("a", first, last) if one.unit == unit]
                mine = [row for row in yard.among("a", first, last) if row.unit == unit]
                assert [row.time for row in mine] == [time for one in found for time in one.time.tolist()]
                assert [row.micro for row in mine] == [micro for one in found for micro in one.micro.tolist()]
                assert [yard.rows["a", row.time][1] for row in mine] == [at for one in found for at in one.at.tolist()]


@pytest.mark.parametrize("seed", range(4))
def test_events_of_any_range_bring_the_rows_that_came_with_them(tmp_path, seed):
    yard = Yard(tmp_path, seed)
    came = {}
    for row, at in yard.rows.values():
        came.setdefault(at, []).append(row)
    with open_reader(tmp_path) as store:
        for _ in range(40):
            first, last = yard.range()
            found = [(one.at, list(one.payload["rows"])) for one in store.events(first, last) if one.payload["rows"]]
            assert found == [(at, sorted(came[at])) for at in sorted(came) if first < at <= last]
            wanted, held = [], 0
            most = yard.chance.randrange(1, 30)
            for at in sorted(came):
                if at > first and held < most:
                    wanted.append(at)
                    held += len(came[at])
            assert [one.at for one in store.readings_after(first, most)] == wanted
        assert audit(store) == []
        assert verify_chain(store) == []


@pytest.mark.parametrize("seed", range(4))
def test_the_newest_reading_of_a_probe_is_the_newest_of_the_list(tmp_path, seed):
    yard = Yard(tmp_path, seed)
    with open_reader(tmp_path) as store:
        assert store.latest("nobody") is None
        for probe in "abc":
            assert store.latest(probe) == max(yard.among(probe, T0, yard.now + STEPS * STEP))


@pytest.mark.parametrize("seed", range(4))
def test_what_is_there_already_is_known_wherever_it_lies(tmp_path, seed):
    yard = Yard(tmp_path, seed)
    with writer_of(tmp_path) as writer:
        rows = [row for row, _ in yard.rows.values()]
        with writer.turn(yard.now + 1) as turn:
            turn.readings(rows)
        assert (turn.outcome.new_rows, turn.outcome.duplicates, turn.outcome.conflicts) == (0, len(rows), 0)
        with writer.turn(yard.now + 2) as turn:
            turn.readings([row._replace(micro=row.micro + 1) for row in rows])
        assert (turn.outcome.new_rows, turn.outcome.duplicates, turn.outcome.conflicts) == (0, 0, len(rows))


def test_blocks_that_are_read_again_and_again_are_unpacked_once_and_few_are_held(tmp_path, monkeypatch):
    with writer_of(tmp_path) as writer:
        with writer.turn(T0 + 50 * STEP) as turn:
            turn.readings([Reading(T0 + step * STEP, "a", step, "Cel") for step in range(4 * FULL)])
        assert writer.pack_closed_hours(T0 + 50 * STEP) == 4 * FULL
    asked = []
    monkeypatch.setattr(packed, "unpack", lambda data: asked.append(data) or unpack(data))
    with open_reader(tmp_path) as store:
        for step in (0, 1, FULL, FULL + 1, 2, 0):
            assert len(list(store.readings(["a"], T0 + step * STEP, T0 + step * STEP))) == 1
        assert len(asked) == 2
        # Two blocks of four rows are held, not three; the one that was not asked for longest goes.
        for step, unpacked in ((2 * FULL, 3), (0, 3), (FULL, 4), (0, 4)):
            list(store.readings(["a"], T0 + step * STEP, T0 + step * STEP))
            assert len(asked) == unpacked, step


def test_the_hour_that_is_still_open_is_not_packed(tmp_path):
    with writer_of(tmp_path) as writer:
        with writer.turn(T0 + 9 * STEP) as turn:
            turn.readings([Reading(T0 + step * STEP, "a", step, "Cel") for step in range(9)])
        assert writer.pack_closed_hours(T0 + 7 * STEP) == 4
        assert writer.store.connection.execute("SELECT min(time) FROM reading").fetchone() == (T0 + HOUR,)


def test_what_many_rows_left_behind_is_given_back_to_the_disk(tmp_path):
    with writer_of(tmp_path) as writer:
        with writer.turn(T0 + 90 * 24 * HOUR) as turn:
            turn.readings([Reading(T0 + minute * 60_000, "a", 5, "Cel") for minute in range(2_000)])
        writer.pack_closed_hours(T0 + 90 * 24 * HOUR)
        assert writer.store.connection.execute("PRAGMA freelist_count").fetchone()[0] <= 1


def test_of_a_file_and_of_work_the_events_come_between_the_readings_in_order(tmp_path):
    with writer_of(tmp_path) as writer:
        for minute in range(1_100):
            with writer.turn(T0 + 2 * minute) as turn:
                turn.event(EventKind.WORK, {"kind": "note"})
                if minute % 100 == 7:
                    turn.readings([Reading(T0 + minute, "a", 5, "Cel")])
        kinds = [(one.at - T0, str(one.kind)) for one in writer.store.events()]
        assert kinds == sorted(kinds)
        assert len(kinds) == 1_111
        assert len(writer.store.events_after(T0 + 999, 600)) == 600
        assert next(writer.store.events(T0 + 2 * 1_099 - 1)).at == T0 + 2 * 1_099


@pytest.mark.parametrize("order", [1, -1])
def test_a_block_holds_the_smallest_and_the_largest_whole_numbers(order):
    most = 2**63 - 1
    for values in ([most, -most - 1, 0, most, 5], [most - 9, most - 5, most - 1], [-most - 1], [2**62, 2**62 + 2]):
        column = np.array(values[::order], dtype=np.int64)
        columns = Columns(np.arange(len(column)), column, column[::-1].copy())
        assert [one.tolist() for one in unpack(pack(columns))] == [one.tolist() for one in columns]


@pytest.mark.parametrize(
    "column",
    [
        [1_000 * n for n in range(500)],
        [17] * 500,
        [n % 5 * 62_500 for n in range(500)],
        [7 * n * n for n in range(500)],
    ],
)
def test_a_column_that_goes_on_as_it_began_takes_next_to_nothing(column):
    # An even rise, one value again and again, few values in a coarse step, a bend: each by its own way.
    of = Columns(*(np.array(one, dtype=np.int64) for one in (range(500), column, [40] * 500)))
    assert len(pack(of)) < 150


def test_a_value_that_goes_a_step_up_or_down_or_stays_takes_less_than_three_bits():
    chance = random.Random(4)
    steps = [chance.choice((-1, 0, 1)) for _ in range(2_000)]
    of = Columns(np.arange(2_000), np.cumsum(steps) * 62_500, np.full(2_000, 40))
    assert len(pack(of)) * 8 < 2_000 * 3

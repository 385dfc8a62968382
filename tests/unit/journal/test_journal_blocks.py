"""Blocks are lossless, small, and readers see no difference."""

import random
import struct
import tracemalloc
import zlib
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from journal_yard import DAY, HOUR, MINUTE, T0, everything, feed, reading, writer_of

from monitor.journal import open_reader, verify_chain
from monitor.journal.blocks import BLOCK_ROWS, Columns, pack, unpack
from monitor.model.readings import Reading

WHOLE = st.integers(-(2**60), 2**60)
ROWS = st.lists(st.tuples(st.integers(0, 2**42), WHOLE, st.integers(-(2**43), 2**43)), min_size=1, max_size=60)


def columns_of(rows):
    return Columns(*(np.array(column, dtype=np.int64) for column in zip(*rows, strict=True)))


@given(ROWS)
@example([(0, 0, 0)])
@example([(5, -1, 3)] * 2)
@example([(T0 + i * MINUTE, i * 62_500, 40) for i in range(100)])
@example([(i, (-1) ** i * 2**60, 0) for i in range(9)])
def test_a_block_gives_back_what_was_put_in(rows):
    columns = columns_of(rows)
    for put, got in zip(columns, unpack(pack(columns)), strict=True):
        assert got.dtype == np.int64
        assert put.tolist() == got.tolist()


@given(ROWS, st.data())
@settings(max_examples=60)
def test_a_damaged_block_is_refused(rows, data):
    whole = pack(columns_of(rows))
    packed = bytearray(whole)
    place = data.draw(st.integers(0, len(packed) - 1))
    packed[place] ^= data.draw(st.integers(1, 255))
    with pytest.raises(ValueError, match="a block"):
        unpack(bytes(packed))
    for length in (0, 1, len(whole) // 2, len(whole) - 1):
        with pytest.raises(ValueError, match="damaged"):
            unpack(whole[:length])


@pytest.mark.parametrize("rows", [0, 1 << 17, 1 << 30, (1 << 32) - 1])
def test_a_block_that_claims_more_rows_than_any_has_takes_no_memory(rows):
    """Found by fuzzing: 150 bytes with a right checksum became a gigabyte, and a block without a row ended `check`."""
    column = struct.pack("<BBqqqI", 0, 0, 1, 0, 0, 8) + zlib.compress(b"")
    body = column * 3
    with pytest.raises(ValueError, match="claims"):
        unpack(struct.pack("<BII", 1, rows, zlib.crc32(body, rows)) + body)


def test_a_column_that_unpacks_to_more_than_its_rows_is_refused_before_it_is_unpacked():
    whole = pack(columns_of([(1, 2, 3)]))
    swollen = zlib.compress(bytes(200_000_000), 9)
    body = struct.pack("<BBqqqI", 0, 1, 1, 0, 0, len(swollen)) + swollen + whole[9:]
    tracemalloc.start()
    with pytest.raises(ValueError, match="unpacks to more"):
        unpack(struct.pack("<BII", 1, 1, zlib.crc32(body, 1)) + body)
    assert tracemalloc.get_traced_memory()[1] < 10_000_000
    tracemalloc.stop()


def yard_rows(probes, minutes, seed=1):
    """Readings as a yard makes them: own clocks with jitter, steps of 1/16 degree, a way of 20-300 ms to the store."""
    chance = random.Random(seed)
    heat = dict.fromkeys(probes, 400.0)
    for minute in range(minutes):
        for index, probe in enumerate(probes):
            heat[probe] += chance.choice((-1, 0, 0, 0, 1))
            time = T0 + minute * MINUTE + index * 2_500 + chance.randrange(-20, 20)
            yield Reading(time, probe, int(heat[probe]) * 62_500, "Cel"), time + chance.randrange(20, 300)


def size_of(store):
    store.connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
    names = ("reading", "span", "event", "block", "sqlite_autoindex_block_1")
    total = store.connection.execute(
        f"SELECT sum(pgsize) FROM dbstat WHERE name IN ({','.join('?' * len(names))})", names
    ).fetchone()[0]
    return int(total)


@pytest.fixture
def stocked(tmp_path):
    """A writer with 8 probes each minute for 8 days, 16 readings a turn, none packed."""
    rows = list(yard_rows([f"p{i}-core" for i in range(8)], 8 * 1440))
    with writer_of(tmp_path) as writer:
        # One transaction makes this quick; each group is an event of its own, stamped as it arrives.
        for start in range(0, len(rows), 4096):
            with writer.turn(rows[start][1]) as turn:
                for at in range(start, min(start + 4096, len(rows)), 16):
                    turn._now = max(arrived for _, arrived in rows[at : at + 16])
                    turn.readings([row for row, _ in rows[at : at + 16]])
        yield writer, [row for row, _ in rows]


def test_bytes_per_reading_fresh_and_in_blocks(stocked, capsys):
    writer, rows = stocked
    fresh = size_of(writer.store) / len(rows)
    writer.pack_closed_hours(T0 + 9 * DAY)
    packed = size_of(writer.store) / len(rows)
    with capsys.disabled():
        print(f"\nbytes per reading: {fresh:.1f} fresh, {packed:.2f} in blocks ({len(rows)} readings)")
    assert fresh <= 26
    assert packed <= 4


def test_readers_see_no_difference_after_packing(stocked):
    writer, rows = stocked
    expected = sorted(rows)
    window = [row for row in expected if T0 + DAY <= row.time <= T0 + DAY + 9 * HOUR and row.probe == "p3-core"]
    events = [(event.at, list(event.payload["rows"])) for event in writer.store.events(T0 + DAY, T0 + 2 * DAY)]
    for _ in range(2):
        assert everything(writer.store) == expected
        assert list(writer.store.readings(["p3-core"], T0 + DAY, T0 + DAY + 9 * HOUR)) == window
        (columns,) = writer.store.columns("p3-core", T0 + DAY, T0 + DAY + 9 * HOUR)
        assert columns.time.tolist() == [row.time for row in window]
        assert columns.micro.tolist() == [row.micro for row in window]
        again = [(event.at, list(event.payload["rows"])) for event in writer.store.events(T0 + DAY, T0 + 2 * DAY)]
        assert again == events
        assert verify_chain(writer.store) == []
        writer.pack_closed_hours(T0 + 5 * DAY + 90 * MINUTE)
    with open_reader(writer.store.folder) as store:
        assert everything(store) == expected
        boundary = T0 + 5 * DAY + HOUR
        fresh = store.connection.execute("SELECT min(time), count(*) FROM reading").fetchone()
        assert fresh == (min(row.time for row in rows if row.time >= boundary), sum(r.time >= boundary for r in rows))


def test_late_rows_go_into_the_block_of_their_time_without_overlap(tmp_path):
    with writer_of(tmp_path) as writer:
        kept = [reading(i * 2, micro=i) for i in range(3 * BLOCK_ROWS)]
        feed(writer, T0 + 30 * DAY, *kept)
        writer.pack_closed_hours(T0 + 30 * DAY)
        late = [reading(i * 2 + 1, micro=-i) for i in range(0, 3 * BLOCK_ROWS, 2)] + [reading(-500), reading(-400)]
        feed(writer, T0 + 30 * DAY + 5, *late)
        assert everything(writer.store) == sorted(kept + late)
        assert writer.pack_closed_hours(T0 + 30 * DAY) == len(late)
        assert everything(writer.store) == sorted(kept + late)
        blocks = writer.store.connection.execute("SELECT first, last, rows FROM block ORDER BY first").fetchall()
        assert all(before[1] < after[0] for before, after in pairwise(blocks))
        assert sum(block[2] for block in blocks) == len(kept) + len(late)
        assert max(block[2] for block in blocks) <= BLOCK_ROWS * 3 // 2
        assert verify_chain(writer.store) == []


def test_packing_hour_by_hour_fills_blocks(tmp_path):
    with writer_of(tmp_path) as writer:
        for hour in range(6):
            rows = [Reading(T0 + hour * HOUR + i * 2_000, "p1-a", i, "Cel") for i in range(1800)]
            feed(writer, T0 + (hour + 1) * HOUR, *rows)
            assert writer.pack_closed_hours(T0 + (hour + 1) * HOUR + 1) == 1800
        counts = writer.store.connection.execute("SELECT rows FROM block ORDER BY first").fetchall()
        assert counts == [(3600,), (3600,), (3600,)]
        assert writer.pack_closed_hours(T0 + DAY) == 0


def test_packing_may_stop_early_and_go_on(tmp_path):
    with writer_of(tmp_path) as writer:
        feed(writer, T0 + DAY, *(reading(i, probe) for i in range(30) for probe in ("a", "b", "c")))
        assert writer.pack_closed_hours(T0 + DAY, limit_rows=31) == 60
        assert writer.pack_closed_hours(T0 + DAY) == 30

"""Killed at any instant (SIGKILL), the journal holds all that was acknowledged, exactly once, and its chain verifies."""

import os
import random
import signal
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest

from monitor.journal import check_pages, open_reader, open_writer, verify_chain
from monitor.model.notice_rows import Delivery

HERE = Path(__file__).parent
FAKES = HERE.parent / "unit" / "journal"
KILLS = 12


def live_and_die(folder, seed, chance):
    """Run the victim, let it acknowledge a few turns, kill it at a random instant; return all that it said."""
    environment = {**os.environ, "PYTHONPATH": f"{FAKES}{os.pathsep}{HERE.parents[1]}"}
    victim = subprocess.Popen(
        [sys.executable, str(HERE / "journal_victim.py"), str(folder), str(seed)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment,
    )
    lines = []
    wanted = chance.randrange(1, 120)
    try:
        while len(lines) < wanted:
            line = victim.stdout.readline()
            if not line:
                break
            lines.append(line.decode())
        # Somewhere in the work that follows a line, not only right after one.
        signal.sigtimedwait([], chance.random() * 0.004)
    finally:
        victim.send_signal(signal.SIGKILL)
        # `communicate` would pass over what `readline` has read ahead, and begin in the middle of a line.
        rest, errors = victim.stdout.read(), victim.stderr.read()
        victim.wait()
        victim.stdout.close()
        victim.stderr.close()
    assert errors == b"", errors.decode()
    # What was said but not yet read was acknowledged too; a last line cut short was not said.
    lines += [line.decode() for line in rest.splitlines(keepends=True) if line.endswith(b"\n")]
    return [line.split() for line in lines if line.endswith("\n")]


@pytest.mark.io
def test_what_was_acknowledged_survives_kill_9(tmp_path, monkeypatch):
    monkeypatch.syspath_prepend(str(FAKES))
    from journal_fake_engine import FakeEngine

    chance = random.Random(20260301)
    events, keys, notices, delivered, handed = [], set(), [], set(), []
    for kill in range(KILLS):
        said = live_and_die(tmp_path, kill, chance)
        assert said[0][0] == "up"
        assert said[0][2] == "0", "fed again, the engine decided otherwise"
        for word, *rest in said[1:]:
            if word == "ack":
                first = rest.index("-")
                second = rest.index("-", first + 1)
                events += map(int, rest[:first])
                keys |= {tuple(key.split("@")) for key in rest[first + 1 : second]}
                notices += map(int, rest[second + 1 :])
            elif word == "done":
                delivered.add(int(rest[0]))
            else:
                handed.append(int(rest[0]))
        with open_reader(tmp_path) as store:
            stored = [event.at for event in store.events()]
            assert set(events) <= set(stored)
            assert stored == sorted(set(stored))
            found = Counter((row.probe, str(row.time)) for row in store.readings(store.probes(), 0, 1 << 60))
            assert max(found.values()) == 1
            assert keys <= found.keys()
            assert verify_chain(store) == []
    assert len(events) > KILLS
    with open_writer(tmp_path, FakeEngine, FakeEngine.restore) as writer:
        assert writer.resumed.differences == []
        rows = {row.id: row for row in writer.dispatch.rows(limit=100_000)}
        assert set(notices) <= rows.keys()
        assert len({(row.at, row.ordinal, row.contact, row.channel) for row in rows.values()}) == len(rows)
        assert {rows[number].state for number in delivered} <= {Delivery.DELIVERED}
        assert all(rows[n].state is Delivery.DELIVERED or rows[n].maybe_repeat for n in handed)
        assert check_pages(writer.store) == []

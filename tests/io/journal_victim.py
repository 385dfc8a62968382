"""Writes turns until it is killed; after each commit it says on its output what is acknowledged."""

import sys
from pathlib import Path

from journal_fake_engine import FakeEngine

from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.readings import Reading

T0 = 1_772_352_000_000


def main(folder: str, seed: int) -> None:
    """Write small and large turns, late rows, work, outbox steps and packing, for ever."""
    with open_writer(Path(folder), FakeEngine, FakeEngine.restore) as writer:
        number = 0
        newest = writer.store.latest("p0")
        base = T0 if newest is None else newest.time + 60_000
        now = max(writer.resumed.down_since or T0, T0) + 1
        print("up", writer.resumed.replayed, len(writer.resumed.differences), writer.repeats, flush=True)
        while True:
            number += 1
            now += 20_000
            wide = 40 if (number + seed) % 13 == 0 else 2
            times = [base + number * 60_000 + step * 500 for step in range(wide)]
            rows = [Reading(time, f"p{time % 3}", 20_000_000 + time % 7, "Cel") for time in times]
            rows += [Reading(base + number * 60_000, "p0", 70_000_000 if number % 5 == 0 else 1, "Cel")]
            if number % 9 == 0:
                rows.append(Reading(base - number * 60_000 + 7, "p1", seed, "Cel"))
            with writer.turn(now) as turn:
                turn.readings(rows)
                if number % 4 == 0:
                    turn.event(EventKind.WORK, {"kind": "note", "place": "p1", "time": now, "note": str(number)})
                turn.advance(now + 15_000)
            said = [*turn.outcome.events, "-", *(f"{row.probe}@{row.time}" for row in rows)]
            said += ["-", *(str(row.id) for row in turn.outcome.notices)]
            print("ack", *said, flush=True)
            for row in writer.dispatch.due(now)[:1]:
                writer.dispatch.begin(row.id)
                print("handed", row.id, flush=True)
                writer.dispatch.done(row.id)
                print("done", row.id, flush=True)
            if number % 17 == 0:
                writer.pack_closed_hours(base + number * 60_000)


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]))

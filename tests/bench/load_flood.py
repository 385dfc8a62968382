"""10,000 messages a second for a minute, with QoS 1 and with QoS 0."""

import os

from tests.bench.load_watch import loaded, outcome, report
from tests.bench.load_wire import sending

RATE = int(os.environ.get("BENCH_RATE", "10000"))
SECONDS = float(os.environ.get("BENCH_SECONDS", "60"))


def main() -> None:
    for qos in (1, 0):
        print(f"{RATE:,} messages a second of 988 known probes for {SECONDS:.0f} s, QoS {qos}:")
        flood("known", qos)


def flood(kind: str, qos: int, rate: int = RATE, seconds: float = SECONDS, values: int = 1) -> None:
    """Send messages of a kind, of so many values each, at the rate, and print what was seen meanwhile."""
    with loaded() as one:
        before = one.counted()
        with one.watched() as seen:
            said = outcome(sending(one.port, kind, rate, seconds, qos))
            drained = one.settled(int(said["sent"]) * values + sum(before))
        one.settled(int(said["sent"]) * values + one.spoken + sum(before), 20)
        pace = said["sent"] / said["seconds"]
        print(f"  sent at {pace:,.0f}/s; all had come {drained:.0f} s after the last")
        report(one, seen, int(said["sent"]), before)

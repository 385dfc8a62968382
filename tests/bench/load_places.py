"""1,000 probes in 100 places, as a yard has them: one reading a minute each, and every place with somebody who looks."""

import os
import time

from tests.bench.load_watch import loaded, outcome, report
from tests.bench.load_wire import sending
from tests.bench.process_figures import cpu_s

MINUTES = float(os.environ.get("BENCH_MINUTES", "3"))
PROBES = 988


def main() -> None:
    print(f"1,000 probes in 100 places, one reading a minute each, {MINUTES:g} min:")
    with loaded() as one:
        before = one.counted()
        used, begun = cpu_s(one.process.pid), time.monotonic()
        with one.watched() as seen:
            said = outcome(sending(one.port, "known", PROBES // 60, MINUTES * 60, 1))
        share = (cpu_s(one.process.pid) - used) / (time.monotonic() - begun)
        one.settled(int(said["sent"]) + one.spoken + sum(before), 20)
        print(f"  {share:.1%} of one core, the page asked twice a second")
        report(one, seen, int(said["sent"]), before)

"""A million names that no probe has, each once; and messages full of such names."""

import os

from tests.bench.load_flood import RATE, flood

NAMES = int(os.environ.get("BENCH_NAMES", "1000000"))


def main() -> None:
    print(f"{NAMES:,} messages of as many unknown probes, {RATE:,} a second, QoS 1:")
    flood("unknown", 1, RATE, NAMES / RATE)

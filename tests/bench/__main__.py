"""Prints the figures of docs/performance.md, each beside its floor: `python -m tests.bench [name ...]`.

Run it on a quiet machine. Nothing here asserts: a figure is to be read.
"""

import platform
import sys
from collections.abc import Callable

from tests.bench import (
    at_rest,
    card_writes,
    evaluator_rate,
    evening_worth,
    fleet_work,
    latency,
    load,
    material_trace,
    mix_rate,
    mqtt_rate,
    page_view,
    reading_rate,
    replay_rate,
    season_view,
    shared_servers,
    startup,
    store_size,
    tuning_worth,
)

BENCHES: dict[str, Callable[[], None]] = {
    "mqtt": mqtt_rate.main,
    "latency": latency.main,
    "store": store_size.main,
    "startup": startup.main,
    "reading": reading_rate.main,
    "replay": replay_rate.main,
    "evaluator": evaluator_rate.main,
    "tuning": tuning_worth.main,
    "rest": at_rest.main,
    "card": card_writes.main,
    "page": page_view.main,
    "season": season_view.main,
    "trace": material_trace.main,
    "mix": mix_rate.main,
    "evening": evening_worth.main,
    "fleet": fleet_work.main,
    "shared": shared_servers.main,
    "load": load.main,
}


def main() -> None:
    """Run the benchmarks that are named, else all."""
    unknown = [name for name in sys.argv[1:] if name not in BENCHES]
    if unknown:
        asks = unknown[0] in ("-h", "--help")
        print(__doc__ if asks else f'There is no benchmark "{unknown[0]}".', file=sys.stdout if asks else sys.stderr)
        print(f"Benchmarks: {', '.join(BENCHES)}.", file=sys.stdout if asks else sys.stderr)
        sys.exit(0 if asks else 2)
    print(f"{platform.machine()}, {platform.system()} {platform.release()}, Python {platform.python_version()}")
    for name in sys.argv[1:] or BENCHES:
        print(f"\n== {name}")
        BENCHES[name]()


if __name__ == "__main__":
    main()

"""The daemon under load: five questions, each against the real program and a real broker.

`BENCH_LOAD` names some of them (`flood unknown enormous places record`); without it all are asked.
"""

import os
from collections.abc import Callable

from tests.bench import load_enormous, load_flood, load_places, load_record, load_unknown

QUESTIONS: dict[str, Callable[[], None]] = {
    "flood": load_flood.main,
    "unknown": load_unknown.main,
    "enormous": load_enormous.main,
    "places": load_places.main,
    "record": load_record.main,
}


def main() -> None:
    for name in os.environ.get("BENCH_LOAD", "").split() or QUESTIONS:
        print(f"-- {name}", flush=True)
        QUESTIONS[name]()

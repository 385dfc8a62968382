"""Writes the recordings of `demo-data/`: short pieces of the made-up yard's life, each with the configuration it goes with.

    python -m tests.tools.demo_data demo-data/

Rules: 1. One life of the yard (seed 1) gives all of them. 2. A short recording's configuration names the probes that are in
it and no others, so that its replay shows what it is about and no silent strangers. 3. What the replays decide
(`*.effects.jsonl`) is written by `tests/unit/app/test_demo_data.py` with UPDATE_GOLDEN=1, not here: the recordings
stay when the engine changes.
"""

import csv
import gzip
import io
import sys
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from monitor.model.settings import AMBIENT
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.simulate import WEEKEND_END, WEEKEND_START, Sample, Yard
from monitor.simulate.layout import BINS, PILES, RULE, SITE_NAME, SPOTS, TIME_ZONE, settings_text
from monitor.simulate.script import BUILT, SILENT_FROM, built_times, local
from tests.worlds.bin_year import YEAR_START, bin_year, own_limits
from tests.worlds.recorded_rows import label_rows, reading_rows, work_rows

SEED = 1
STEP_S = 600
WHOLE_STEP_S = 1800
OPEN_SEED = 1
OPEN_DAYS = (0, 365)
"""First and last day of the year that the record of the open bin holds."""
AMBIENT_PROBE = "amb"
OPEN_YARD = f"""[site]
name = "{SITE_NAME}"
time_zone = "{TIME_ZONE}"
temperature_unit = "degF"

[bins.b1]                  # stands under an open roof
name = "Open bin"

[probes.b1-t]
place = "b1"

[probes.b1-u]
place = "b1"

[probes.b1-m]
place = "b1"
quantity = "moisture"
"""


WHOLE_END = local("06-12 00:00")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """One recording.

    Attributes:
        name: Start of its files' names.
        places: The places whose probes are in it, ambient apart, which always is.
        start, end: What it spans, UTC ms; the end is not included.
        every_ms: One reading of each probe in this time is kept.
    """

    name: str
    places: tuple[str, ...]
    start: int
    end: int
    every_ms: int = STEP_S * 1000

    def holds(self, sample: Sample) -> bool:
        """Tell whether a sample is in the recording."""
        place = _PLACE_OF[sample.probe]
        kept = sample.time % self.every_ms < STEP_S * 1000
        return self.start <= sample.time < self.end and kept and place in (*self.places, AMBIENT)


PIECES = (
    Piece(name="bay1-heats-up", places=("p1",), start=BUILT["p1"], end=local("07-20 00:00"), every_ms=30 * MINUTE_MS),
    Piece(name="silent-probe", places=("b2",), start=SILENT_FROM - 8 * HOUR_MS, end=SILENT_FROM + 16 * HOUR_MS),
    Piece(name="sunny-bin", places=("b1",), start=local("07-19 00:00"), end=local("07-20 06:00")),
)
"""The short ones; the whole weekend is written beside them."""

_PLACE_OF = {spot.name: spot.place for spot in SPOTS}


def write(folder: Path) -> list[Path]:
    """Write all recordings into a folder, and return the files."""
    yard = Yard(SEED)
    samples = list(yard.stream(BUILT["p1"], WEEKEND_END, STEP_S))
    weekend = [sample for sample in samples if sample.time >= WEEKEND_START]
    files = [
        _zipped(folder / "weekend.readings.csv.gz", reading_rows(weekend)),
        _table(folder / "weekend.work.csv", work_rows(yard.work(WEEKEND_START, WEEKEND_END))),
        _text(folder / "yard.toml", _remark("weekend") + weekend_yard()),
    ]
    files += write_whole(folder)
    files += write_open_bin(folder)
    for piece in PIECES:
        some = [sample for sample in samples if piece.holds(sample)]
        files.append(_table(folder / f"{piece.name}.readings.csv", reading_rows(some)))
        files.append(_text(folder / f"{piece.name}.toml", _remark(piece.name) + small_yard(piece.places)))
    return files


def write_whole(folder: Path) -> list[Path]:
    """Write the first weeks of Bay 3, turned as a rule wants it: readings of its core each hour, and its work log."""
    yard = Yard(SEED)
    cores = {
        spot.name
        for spot in SPOTS
        if spot.place == "p3" and spot.role == "core" and spot.make.quantity == "temperature"
    }
    life = yard.stream(BUILT["p3"], WHOLE_END, WHOLE_STEP_S)
    some = [sample for sample in life if sample.probe in cores and sample.time % HOUR_MS < WHOLE_STEP_S * 1000]
    works = [work for work in yard.work(BUILT["p3"], WHOLE_END) if work.place == "p3"]
    return [
        _zipped(folder / "bay3.readings.csv.gz", reading_rows(some)),
        _table(folder / "bay3.work.csv", work_rows(works)),
    ]


def write_open_bin(folder: Path) -> list[Path]:
    """Write a year of a bin under an open roof, its work log and its labels, for trying `tune`."""
    year = bin_year(OPEN_SEED, step_s=WHOLE_STEP_S, days=OPEN_DAYS[1], limits=own_limits(OPEN_SEED))
    begin, end = (YEAR_START + day * DAY_MS for day in OPEN_DAYS)
    some = [sample for sample in year.samples if sample.time >= begin and sample.probe != AMBIENT_PROBE]
    labels = [label for label in year.labels if begin <= label.start and label.end <= end]
    return [
        _zipped(folder / "open-bin.readings.csv.gz", reading_rows(some)),
        _table(folder / "open-bin.work.csv", work_rows(work for work in year.works if work.time >= begin)),
        _table(folder / "open-bin.labels.csv", label_rows(labels)),
        _text(folder / "open-bin.toml", _remark("open-bin").replace(".csv", ".csv.gz") + OPEN_YARD),
    ]


def weekend_yard() -> str:
    """Return the whole yard's configuration as TOML, without the serial link.

    Only Bay 1 says when it was built. The recording does not hold what the older heaps lived through, so their batches
    begin with it: with their true dates a heap that is long done would look like one that never got warm.
    """
    return settings_text({"p1": built_times()["p1"]})


def small_yard(places: Sequence[str]) -> str:
    """Return the configuration of a few of the yard's places and the probe in the air, as TOML."""
    lines = ["[site]", f'name = "{SITE_NAME}"', f'time_zone = "{TIME_ZONE}"', 'temperature_unit = "degF"', ""]
    for place in places:
        if place in PILES:
            lines += [f"[piles.{place}]", f'name = "{PILES[place]}"', f'rule = "{RULE}"', 'method = "turned"']
            lines += [f"built = {built_times()[place]}", ""]
        else:
            lines += [f"[bins.{place}]", f'name = "{BINS[place]}"', ""]
    for spot in SPOTS:
        if spot.place in (*places, AMBIENT):
            lines += [f"[probes.{spot.name}]", f'place = "{spot.place}"', f'role = "{spot.role}"']
            lines += [f'quantity = "{spot.make.quantity}"', ""]
    return "\n".join(lines)


def _remark(name: str) -> str:
    return f"# Made by `python -m tests.tools.demo_data`; goes with {name}.readings.csv.\n\n"


def _csv(rows: Iterable[Sequence[str]]) -> str:
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def _table(path: Path, rows: Iterable[Sequence[str]]) -> Path:
    return _text(path, _csv(rows))


def _text(path: Path, text: str) -> Path:
    path.write_text(text, encoding="utf-8", newline="\n")
    return path


def _zipped(path: Path, rows: Iterable[Sequence[str]]) -> Path:
    # Without a time or a name in it, the same rows are the same bytes.
    path.write_bytes(gzip.compress(_csv(rows).encode(), compresslevel=9, mtime=0))
    return path


def main(arguments: Sequence[str]) -> int:
    """Write the recordings into the folder that is named."""
    if len(arguments) != 1:
        sys.stderr.write("Usage: python -m tests.tools.demo_data FOLDER\n")
        return 2
    folder = Path(arguments[0])
    folder.mkdir(parents=True, exist_ok=True)
    for path in write(folder):
        sys.stdout.write(f"{path} {path.stat().st_size} bytes\n")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

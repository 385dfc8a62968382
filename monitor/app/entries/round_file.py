"""Reads a round's sheet from a spreadsheet's CSV, and makes the empty one: a line for each spot of each place."""

import csv
import hashlib
import io
import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from monitor.app.entries.naming import place_meant
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.hand_words import spot_meant
from monitor.model.round_sheet import SheetLine, Waiting
from monitor.model.settings import Settings
from monitor.model.work import WorkKind

COLUMNS = ("time", "place", "spot", "value", "squeeze", "smell", "by")
_LARGEST = 1 << 20
_MARKS = (";", "\t")


def empty_sheet(settings: Settings) -> str:
    """Return the sheet as CSV, to be filled in: each spot of each heap's place, then of each bin."""
    raw = io.StringIO()
    rows = csv.writer(raw, lineterminator="\n")
    rows.writerow(COLUMNS)
    for place in (*settings.piles, *settings.bins):
        rows.writerows(["", place, spot, "", "", "", ""] for spot in settings.spots_of(place) or ("",))
    return raw.getvalue()


def read_sheet(
    path: Path, settings: Settings, when: Callable[[str], int], usual: tuple[int | None, str], *, again: bool
) -> tuple[list[SheetLine], list[Waiting]]:
    """Return the lines of a sheet that were read, and those that cannot be understood.

    Args:
        path: The CSV file, its columns in any order.
        settings: The settings in force.
        when: Reads a typed time, UTC ms.
        usual: The time (UTC ms) and the reader of lines without; a time of None refuses such lines.
        again: Whether all of it was confirmed.

    Raises:
        MisuseError: The file is no sheet of a round.
        UnavailableError: The file cannot be read.
    """
    lines: list[SheetLine] = []
    waiting: list[Waiting] = []
    for number, row in _rows(path):
        line = SheetLine(
            number=number, place=row["place"], spot=row["spot"], value=row["value"], squeeze=row["squeeze"], smell=row["smell"],
            at=usual[0] or 0, by=row["by"] or usual[1], again=again,
        )  # fmt: skip
        if not line.read:
            continue
        try:
            lines.append(_placed(settings, line, row["time"], when, usual[0]))
        except MisuseError as fault:
            waiting.append(Waiting(line, ("value", "squeeze", "smell"), str(fault)))
    return lines, waiting


def _placed(settings: Settings, line: SheetLine, time: str, when: Callable[[str], int], usual: int | None) -> SheetLine:
    if not time and usual is None:
        raise MisuseError("Without a time: fill in the column `time`, or give one for all such lines with --at.")
    place = place_meant(settings, line.place)
    spot = line.spot
    if spot and (place in settings.piles or place in settings.bins):
        spot = spot_meant(settings, place, spot)
    return replace(line, place=place, spot=spot, at=when(time) if time else line.at)


def sheet_id(kind: WorkKind | EventKind, lines: Sequence[SheetLine]) -> str:
    """Return an id that the same lines of a file have each time, so that a file sent twice is once."""
    if kind is EventKind.READINGS:
        return ""  # readings are known by place, spot and time, and a corrected value is another
    said = [[one.place, one.spot, one.at, one.by, one.squeeze, one.smell] for one in lines]
    return hashlib.sha256(json.dumps([kind, said]).encode()).hexdigest()[:40]


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    """Return the rows as (line of the file, texts by column); a column that the file lacks is empty."""
    try:
        raw = path.read_bytes()
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be read ({fault.strerror}).") from fault
    if len(raw) > _LARGEST:
        raise MisuseError(f"{path} is larger than 1 MiB, and no sheet of a round.")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", "replace")
    first = text.partition("\n")[0]
    mark = next((one for one in _MARKS if one in first), ",")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    found: list[tuple[int, dict[str, str]]] = []
    try:
        head = [name.strip().casefold() for name in next(reader, [])]
        if "place" not in head or "value" not in head:
            wanted = ", ".join(COLUMNS)
            raise MisuseError(
                f"{path} is no sheet of a round: its first line names the columns {wanted}. `heaptender log rounds` prints an "
                "empty one."
            )
        for row in reader:
            told = dict(zip(head, (text.strip() for text in row), strict=False))
            found.append((reader.line_num, {name: told.get(name, "") for name in COLUMNS}))
    except csv.Error as fault:
        raise MisuseError(f"{path}, line {reader.line_num}: {fault}.") from fault
    return found

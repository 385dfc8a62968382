"""A file of forecasts, written by whatever fetches them: CSV or JSON, a day a row.

CSV has the header `day,high,low` and may have `unit` (`degF` or `degC`; else the site's). JSON is a list of objects
with the same names. A row that cannot be read is told with its place in the file and changes nothing; the others count.
"""

import csv
import io
import json
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from monitor.model.forecast_entry import day_of, degrees_understood, forecast_fault
from monitor.model.settings import YARD, Settings
from monitor.model.work import WorkKind

MOST_BYTES = 100_000
"""A longer file is no file of forecasts (ours)."""
_NAMES = ("day", "high", "low", "unit")


@dataclass(slots=True)
class ForecastFile:
    """The forecasts of a file, as entries for the log, and a sentence for each fault."""

    entries: list[dict[str, Any]] = field(default_factory=list)
    faults: list[str] = field(default_factory=list)


def read_forecast_file(path: Path, settings: Settings, today: date, now: int) -> ForecastFile:
    """Read a file of forecasts; days that are over are left out in silence.

    Args:
        path: The file.
        settings: The yard's, for its unit.
        today: The local date.
        now: Now, UTC ms.

    Returns:
        Entries for the log, and a sentence without its full stop for each fault.
    """
    found = ForecastFile()
    try:
        data = path.read_bytes()
        if len(data) > MOST_BYTES:
            found.faults.append(f"{path.name} has {len(data)} bytes; a file of forecasts has a row a day")
            return found
        rows = _rows(data.decode("utf-8-sig"))
    except (OSError, ValueError, RecursionError, csv.Error) as fault:
        why = (
            fault.strerror
            if isinstance(fault, OSError)
            else "it is neither CSV with the header day,high,low nor a JSON list"
        )
        found.faults.append(f"{path.name} cannot be read ({why})")
        return found
    for where, row in rows:
        entry, wrong = _entry(row, settings, today)
        if wrong:
            found.faults.append(f"{path.name}, {where}: {wrong}")
        elif entry is not None:
            kind = {"time": now, "place": YARD, "kind": WorkKind.WEATHER.value, "source": path.name[:80]}
            found.entries.append(kind | entry)
    return found


def _rows(text: str) -> list[tuple[str, dict[str, str]]]:
    """Return the rows, each with its place in the file.

    Raises:
        ValueError: It is no file of forecasts.
    """
    if text.lstrip().startswith("["):
        listed = json.loads(text)
        if not all(isinstance(one, dict) for one in listed):
            raise ValueError("a list of something else")
        plain = [{name: str(one[name]) for name in _NAMES if one.get(name) is not None} for one in listed]
        return [(f"item {number}", one) for number, one in enumerate(plain, 1)]
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True)
    names = [name.strip().lower() for name in reader.fieldnames or ()]
    if "day" not in names or not {"high", "low"} & set(names):
        raise ValueError("another header")
    reader.fieldnames = names
    return [(f"line {reader.line_num}", {name: (row.get(name) or "").strip() for name in _NAMES}) for row in reader]


def _entry(row: dict[str, str], settings: Settings, today: date) -> tuple[dict[str, str] | None, str]:
    """Return the fields of a row, or why there are none; (None, "") for a day that is over, and for an empty row."""
    if not any(row.values()):
        return None, ""
    unit, site = row.get("unit") or settings.site.temperature_unit, settings.site.temperature_unit
    if unit not in ("degF", "degC"):
        return None, f'"{unit[:20]}" is no unit; write degF or degC'
    day = day_of(row.get("day", ""))
    if day is not None and day < today:
        return None, ""
    try:
        figures = {name: degrees_understood(row[name], unit) for name in ("high", "low") if row.get(name)}
    except ValueError as fault:
        return None, str(fault)
    fields = {"day": row.get("day", ""), **figures}
    return fields, forecast_fault(fields, today, site)[1]

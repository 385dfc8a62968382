"""A heap's course as a line of JSON, between the child that works it out and the daemon."""

import json
from dataclasses import asdict
from typing import Any

from monitor.material import HeatStatus
from monitor.reports import HeatCourse, Step


def line_of_heat(batch: str, course: HeatCourse) -> str:
    """Return a heap's course as a line.

    Args:
        batch: The heap's id.
        course: Its course.
    """
    steps = {name: [(one.at, one.low, one.high) for one in getattr(course, name)] for name in ("steps", "rounds")}
    return json.dumps({"batch": batch, **asdict(course), **steps}, separators=(",", ":"))


def heat_from_line(line: str) -> tuple[str, HeatCourse]:
    """Return the heap's id and its course.

    Raises:
        ValueError: It is no such line (so do `KeyError` and `TypeError`).
    """
    found: dict[str, Any] = json.loads(line)
    batch = str(found.pop("batch"))
    for name in ("steps", "rounds"):
        found[name] = [Step(*one) for one in found[name]]
    found["holds"] = [(start, end) for start, end in found["holds"]]
    if found["hottest"] is not None:
        at, milli = found["hottest"]
        found["hottest"] = (at, milli)
    if found["heat"] is not None:
        found["heat"] = HeatStatus(found["heat"])
    return batch, HeatCourse(**found)

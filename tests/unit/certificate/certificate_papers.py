"""Small heaps whose figures can be worked out by heart, and the texts of their pages."""

import certificate_scenes as scenes
import numpy as np

from monitor.model.times import HOUR_MS
from monitor.model.words import Method


def flat(probe, *stretches, every_ms=HOUR_MS, **more):
    """Return a probe that read one temperature for so many hours, then the next."""
    steps = HOUR_MS // every_ms
    values = [round(celsius * 1_000) for hours, celsius in stretches for _ in range(hours * steps)]
    return scenes.probe(probe, np.array(values, dtype=np.int64), every_ms=every_ms, **more)


def plain(*probes, rule="us-503-pfrp-static", **more):
    """Return a heap of a static pile in °C and UTC, hot from its first reading on, without work or turnings."""
    known = {
        "probes": probes or (flat("p1-a", (100, 60.0)),), "turnings": (), "work": (), "restarts": (), "method": Method.STATIC,
        "temperature_unit": "degC", "time_zone": "UTC",
    }  # fmt: skip
    return scenes.ruled(rule, **{**known, **more})


def texts(value):
    """Return a value of the pages as it is read: without places to break, with plain spaces."""
    if isinstance(value, str):
        return value.replace("\u200b", "").replace("\xa0", " ")
    if isinstance(value, dict):
        return {key: texts(one) for key, one in value.items()}
    return [texts(one) for one in value] if isinstance(value, list) else value


def sheet(case):
    """Return the texts of a case's pages."""
    return texts(scenes.pages_of(case)[0])


def section(case, title):
    found = [one for one in [*sheet(case)["sections"], sheet(case)["conditions"]] if one["title"] == title]
    assert len(found) <= 1
    return found[0] if found else None


def rows(case, title):
    table = section(case, title)["table"]
    return table["rows"] if table else []


def facts(case, side="facts-right"):
    return dict(sheet(case)[side])

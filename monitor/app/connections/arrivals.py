"""Shows arrivals to a person who sets up a node: raw, and as readings or with the reason why they would be set aside."""

from typing import Any

from monitor.codec import Admission, Refused
from monitor.conditioning import calibrate
from monitor.configuration import Configuration
from monitor.intake import Arrival
from monitor.model.readings import Heard, Reading
from monitor.model.times import show_time
from monitor.model.units import show_milli

RAW_SHOWN = 300
"""The most characters of a message that are shown."""


def arrival_values(arrival: Arrival, admission: Admission, configuration: Configuration) -> dict[str, Any]:
    """Return an arrival as JSON values: the raw message, and each value as a reading or with the reason to set it aside.

    Args:
        arrival: The message with its decoded values.
        admission: Finds the probe of each value.
        configuration: Names the places and the units to show.
    """
    understood = [_understood(heard, arrival, admission, configuration) for heard in arrival.heard]
    refused = [{"set_aside": one.reason.value, "detail": one.detail} for one in arrival.rejects]
    return {
        "source": arrival.source,
        "origin": arrival.origin,
        "received": show_time(arrival.received),
        "raw": arrival.raw.decode("utf-8", "backslashreplace"),
        "values": [*understood, *refused],
    }


def arrival_lines(values: dict[str, Any]) -> list[str]:
    """Return the values of an arrival as lines that cannot command a terminal."""
    raw = values["raw"][:RAW_SHOWN].encode("unicode_escape").decode()
    lines = [f"[{values['source']}] {values['origin'].encode('unicode_escape').decode()} {raw}"]
    for one in values["values"]:
        if "set_aside" in one:
            address = f"{one['address'].encode('unicode_escape').decode()}: " if "address" in one else ""
            lines.append(f"    {address}would be set aside, {one['set_aside']}: {one['detail']}")
        else:
            when = "" if one["own_time"] else " (no time of its own: arrival counts)"
            lines.append(f"    {one['probe']} in {one['place']}: {one['quantity']} {one['shown']}{when}")
    if not values["values"]:
        lines.append("    nothing in it")
    return lines


def _understood(
    heard: Heard, arrival: Arrival, admission: Admission, configuration: Configuration
) -> dict[str, Any]:  # fmt: skip
    found = admission.admit(heard, arrival.received)
    if isinstance(found, Refused):
        return {"address": heard.address, "set_aside": found.reason.value, "detail": found.detail}
    settings = configuration.settings
    probe = settings.probes[found.probe]
    return {
        "probe": found.probe,
        "place": settings.place_name(probe.place),
        "quantity": probe.quantity.value,
        "shown": _shown(found, configuration),
        "time": show_time(found.time),
        "own_time": heard.time is not None,
    }


def _shown(reading: Reading, configuration: Configuration) -> str:
    settings = configuration.settings
    probe = settings.probes[reading.probe]
    milli = calibrate(reading.micro, reading.unit, probe, reading.time)
    if milli is None:
        return f"{reading.micro / 1e6:g} {reading.unit}"
    return show_milli(milli, probe.quantity, settings.site.temperature_unit)

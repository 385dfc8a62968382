"""Names probes as people tell them apart at a place: by depth where that is known and no other probe shares it."""

from collections import Counter
from collections.abc import Sequence

from monitor.page.places.probe_view import ProbeView


def by_depth(probes: Sequence[ProbeView]) -> list[ProbeView]:
    """Return probes with the deepest first, those without a depth last."""
    return sorted(probes, key=lambda probe: (-(probe.configured.depth_milli_m or 0), probe.probe))


def names_by_depth(probes: Sequence[ProbeView], unit: str) -> dict[str, str]:
    """Return a name for each probe of one quantity, by its id: `24 in`, or `p2-a, 24 in` where two sit equally deep.

    Args:
        probes: Probes of one place and quantity.
        unit: The site's unit of temperature, `degF` or `degC`, which decides between inches and centimetres.
    """
    said = {
        probe.probe: "" if probe.configured.depth_milli_m is None else depth_words(probe.configured.depth_milli_m, unit)
        for probe in probes
    }
    shared = Counter(said.values())
    return {
        probe.probe: said[probe.probe]
        if said[probe.probe] and shared[said[probe.probe]] == 1
        else ", ".join(part for part in (probe.name, said[probe.probe]) if part)
        for probe in probes
    }


def depth_words(milli_m: int, unit: str) -> str:
    """Return a depth for people: `24 in` beside °F, else `60 cm`."""
    return f"{round(milli_m / 25.4)} in" if unit == "degF" else f"{round(milli_m / 10)} cm"

"""Counts readings that are impossible or too hot for a heap, and asks about them if the unit may be wrong."""

from collections.abc import Iterable, Iterator

import numpy as np

from monitor.certificate import CaseProbe
from monitor.model.flags import Flag

_BOILING = 100_000_000
"""100 °C in millionths: hotter than any heap, and an ordinary number in °F."""
_BURNING = 82_200_000
"""180 °F in millionths of °C: a heap that stays hotter burns, and in °F such numbers belong to a cool heap."""


def thrown_away(probes: Iterable[CaseProbe]) -> int:
    """Return how many readings were flagged bad."""
    return sum(int(np.count_nonzero(one.quality == int(Flag.FAIL))) for one in probes)


def asked_about(probes: Iterable[CaseProbe]) -> Iterator[str]:
    """Yield a question about readings in °C that are above 100 °C: they may be in °F."""
    hot = total = 0
    for one in probes:
        for place, unit in enumerate(one.unit_names):
            mine = one.units == place
            total += int(np.count_nonzero(mine))
            if unit == "Cel":
                hot += int(np.count_nonzero(mine & (one.quality == int(Flag.FAIL)) & (one.micro > _BOILING)))
    if hot:
        verb = "is" if hot == 1 else "are"
        yield (
            f"{hot:,} of {total:,} readings {verb} above 100 °C and {'was' if hot == 1 else 'were'} thrown away as "
            "impossible: is the unit °F? ([degF] in the column unit)"
        )


def too_hot_to_be_so(probes: Iterable[CaseProbe]) -> str:
    """Return the first remark if more than half of the counting readings are hotter than heaps get, else ""."""
    hot = total = 0
    for one in probes:
        counts = (one.quality <= int(Flag.NOT_EVALUATED)) & np.isin(one.units, _named(one, "Cel"))
        total += int(np.count_nonzero(counts))
        hot += int(np.count_nonzero(counts & (one.micro > _BURNING)))
    if 2 * hot <= total:
        return ""
    return (
        f"{hot:,} of {total:,} readings are above 82 °C (180 °F), where a heap burns; in °F they would be those of a heap "
        "below 38 °C: is the unit °F?"
    )


def _named(probe: CaseProbe, unit: str) -> list[int]:
    return [place for place, name in enumerate(probe.unit_names) if name == unit]

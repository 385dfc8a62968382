"""Readings that were thrown away as impossible: counted, and asked about where the unit may be the wrong one."""

from collections.abc import Iterable, Iterator

import numpy as np

from monitor.certificate.case import CaseProbe
from monitor.model.flags import Flag

_BOILING = 100_000_000
"""100 °C in millionths: hotter than any heap, and an ordinary number in °F."""


def thrown_away(probes: Iterable[CaseProbe]) -> int:
    """Return how many readings were flagged bad."""
    return sum(int(np.count_nonzero(one.quality == int(Flag.FAIL))) for one in probes)


def asked_about(probes: Iterable[CaseProbe]) -> Iterator[str]:
    """Yield what is to be said of readings in °C that are above 100 °C: they may be in °F."""
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

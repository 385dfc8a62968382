"""SenML unit symbols in the unit codes used here.

Only units of quantities that probes measure are converted; any other symbol is passed on as it is, for admission to refuse
with the probe's name. In SenML `%` and `/` are both the ratio 1: half is 0.5.

Source: RFC 8428 section 12.1 (units registry); RFC 8798 section 3 for the secondary units mV, dBm, /100, /1000 and ppm
(from memory). The Celsius offset is 273.15 K (RFC 8428 section 12.1 item 5 misprints it).
"""

from typing import NamedTuple

from monitor.model.units import Quantity


class SenmlUnit(NamedTuple):
    """The conversion of a SenML unit.

    Attributes:
        code: Unit code as in `model.units`.
        micro: Size of one, in millionths of `code`.
        offset: Added after that, millionths of `code`.
        quantity: The only quantity it can belong to, or None if there are several.
    """

    code: str
    micro: int | float
    offset: int
    quantity: str | None


SENML_UNITS: dict[str, SenmlUnit] = {
    "Cel": SenmlUnit("Cel", 1_000_000, 0, Quantity.TEMPERATURE.value),
    "K": SenmlUnit("K", 1_000_000, 0, Quantity.TEMPERATURE.value),
    "%": SenmlUnit("%", 100_000_000, 0, None),
    "/": SenmlUnit("%", 100_000_000, 0, None),
    "/100": SenmlUnit("%", 1_000_000, 0, None),
    "/1000": SenmlUnit("%", 100_000, 0, None),
    "ppm": SenmlUnit("%", 100, 0, None),
    "count": SenmlUnit("1", 1_000_000, 0, None),
    "V": SenmlUnit("V", 1_000_000, 0, Quantity.BATTERY.value),
    "mV": SenmlUnit("mV", 1_000_000, 0, Quantity.BATTERY.value),
    "dBm": SenmlUnit("dBm", 1_000_000, 0, Quantity.SIGNAL.value),
    "dBW": SenmlUnit("dBm", 1_000_000, 30_000_000, Quantity.SIGNAL.value),
}

NOT_SENML = frozenset({"[degF]", "1", "degF", "degC", "C", "F"})
"""Symbols that look like a unit of ours but are not SenML's symbol for it (C is coulomb, F farad)."""

"""A probe between the world and the wire: it lags, it is noisy, it rounds, and now and then it fails.

Rules:
 1. The lag is first order and exact for any spacing; the first sample starts at the true value.
 2. The noise comes from the probe's own generator, so one probe's faults never change another's noise.
 3. A fault holds for `start` <= time < `end`. A silent probe gives nothing, and draws no noise.
"""

from dataclasses import dataclass
from enum import StrEnum
from math import exp
from random import Random
from typing import NamedTuple


class Sample(NamedTuple):
    """One value sent by one probe.

    Attributes:
        time: As stamped by the probe's clock, UTC ms.
        probe, quantity: The probe and its quantity.
        value, unit: As sent.
    """

    time: int
    probe: str
    quantity: str
    value: float
    unit: str


class FaultKind(StrEnum):
    """Kinds of probe faults."""

    SILENT = "silent"
    SPIKE = "spike"
    NO_ANSWER = "no answer"
    POWER_UP = "power-up"
    OUT = "out"


@dataclass(frozen=True, slots=True, kw_only=True)
class Fault:
    """One fault of one probe over a span.

    `amount`: K (or %) of a spike; unused otherwise. `no answer` sends -127
    (the library's value for a probe that does not answer), `power-up` sends 85.0 (a DS18B20's register before its first
    conversion), `out` reads the air. A spike and a power-up strike the first sample of their span alone.
    """

    kind: FaultKind
    start: int
    end: int
    amount: float = 0.0

    def holds(self, time: int) -> bool:
        """Return whether the fault is in force."""
        return self.start <= time < self.end


@dataclass(frozen=True, slots=True, kw_only=True)
class Make:
    """The quality of a probe (defaults: a DS18B20 in a steel tube; its step is the data sheet's, the rest our choice)."""

    quantity: str = "temperature"
    unit: str = "Cel"
    lag_s: float = 240.0
    noise: float = 0.04
    step: float = 0.0625
    offset: float = 0.0


THERMOMETER = Make()
AIR_THERMOMETER = Make(lag_s=120.0, noise=0.08)
MOISTURE = Make(quantity="moisture", unit="%", lag_s=900.0, noise=0.25, step=0.1)
OXYGEN = Make(quantity="oxygen", unit="%", lag_s=600.0, noise=0.15, step=0.1)


class Probe:
    """One probe; call `sample` in the order of time."""

    def __init__(self, name: str, make: Make, rng: Random, faults: tuple[Fault, ...] = ()) -> None:
        """Give the probe its name, make, own generator and faults."""
        self.name = name
        self.make = make
        self._faults = faults
        self._rng = rng
        self._shown: float | None = None
        self._last = 0
        self._struck: set[Fault] = set()

    def sample(self, time: int, true: float, air: float) -> Sample | None:
        """Take a sample.

        Args:
            time: True time, UTC ms.
            true: True value at the probe's spot, in its unit.
            air: True value of the open air, for a probe that lies outside.

        Returns:
            The sample as sent; None while the probe is silent.
        """
        now = [fault for fault in self._faults if fault.holds(time)]
        kinds = {fault.kind for fault in now}
        self._follow(time, air if FaultKind.OUT in kinds else true)
        if FaultKind.SILENT in kinds:
            return None
        value = self._value(now)
        return Sample(time, self.name, self.make.quantity, value, self.make.unit)

    def _follow(self, time: int, true: float) -> None:
        if self._shown is None:
            self._shown = true
        else:
            self._shown += (true - self._shown) * (1.0 - exp(-(time - self._last) / 1_000.0 / self.make.lag_s))
        self._last = time

    def _value(self, now: list[Fault]) -> float:
        assert self._shown is not None
        shown = self._shown + self.make.offset + self._rng.gauss(0.0, self.make.noise)
        for fault in now:
            if fault.kind is FaultKind.NO_ANSWER:
                return -127.0
            if fault.kind in {FaultKind.SPIKE, FaultKind.POWER_UP} and fault not in self._struck:
                self._struck.add(fault)
                if fault.kind is FaultKind.POWER_UP:
                    return 85.0
                shown += fault.amount
        return round(round(shown / self.make.step) * self.make.step, 4)

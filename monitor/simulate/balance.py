"""The books of a simulated place: every joule and every kilogram of water, by the path it took.

Rules: an entry is positive when it comes in and negative when it goes out; an entry is never changed. The present content
of a place less its first content must be the sum of the entries; a test checks that it is.
"""

from dataclasses import dataclass, field
from math import fsum


@dataclass(slots=True)
class Ledger:
    """Heat (J, against dry matter and liquid water at 0 °C), water (kg) and dry matter (kg) by path."""

    heat: dict[str, float] = field(default_factory=dict)
    water: dict[str, float] = field(default_factory=dict)
    dry: dict[str, float] = field(default_factory=dict)

    def book(self, path: str, joules: float, water_kg: float = 0.0, dry_kg: float = 0.0) -> None:
        """Enter an amount that came in (positive) or went out (negative).

        Args:
            path: Name of the path, such as `fed` or `lid`.
            joules: Heat, J, against dry matter and liquid water at 0 °C.
            water_kg: Water, kg.
            dry_kg: Dry matter, kg.
        """
        self.heat[path] = self.heat.get(path, 0.0) + joules
        if water_kg:
            self.water[path] = self.water.get(path, 0.0) + water_kg
        if dry_kg:
            self.dry[path] = self.dry.get(path, 0.0) + dry_kg

    def heat_sum(self) -> float:
        """Return the net heat booked, J."""
        return fsum(self.heat.values())

    def water_sum(self) -> float:
        """Return the net water booked, kg."""
        return fsum(self.water.values())

    def dry_sum(self) -> float:
        """Return the net dry matter booked, kg."""
        return fsum(self.dry.values())

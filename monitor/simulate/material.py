"""The mix of a pile, its rates of life, and the contents of one of its shells."""

from dataclasses import dataclass

from monitor.simulate.laws import C_DRY, C_WATER


@dataclass(frozen=True, slots=True, kw_only=True)
class Mix:
    """The material of a new pile (defaults: stable litter, leaves and coffee grounds, about 28:1; our choice).

    Attributes:
        wet_kg, moisture: Mass as built, and the water's share of it.
        ash, fast, slow: Shares of the dry matter that are mineral, quickly and slowly degraded; the rest only rots in
            years.
        dry_density: kg of dry matter per m³ as built.
        celsius: Temperature as built.
        activity: Share of the full microbial population at building.
    """

    wet_kg: float = 2_400.0
    moisture: float = 0.60
    ash: float = 0.18
    fast: float = 0.24
    slow: float = 0.26
    dry_density: float = 220.0
    celsius: float = 20.0
    activity: float = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """Rates and constants of a pile; each with its source in `docs/simulator.md`.

    Attributes:
        fast_per_day, slow_per_day: First-order rates at the best temperature, wet, with air.
        lowest_c, best_c, highest_c: Cardinal temperatures of the microbes.
        growth_per_day: Growth of the microbial population at the best temperature.
        heat_j_kg, oxygen_kg_kg, water_kg_kg: Made and used per kg degraded.
        char_per_s: Chemical oxidation at 80 °C, 1/s.
        permeability_m2: To rising air at a free air space of one half.
        film_w_m2k: Outer heat transfer to the air.
        bare: Share of the surface from which water evaporates freely.
        sun_taken: Share of the sun on the top that is absorbed.
        holds: kg of water that a kg of dry matter holds before it drips.
    """

    fast_per_day: float = 0.18
    slow_per_day: float = 0.006
    lowest_c: float = 3.0
    best_c: float = 56.0
    highest_c: float = 80.0
    growth_per_day: float = 3.5
    heat_j_kg: float = 17.5e6
    oxygen_kg_kg: float = 1.28
    water_kg_kg: float = 0.55
    char_per_s: float = 4.0e-8
    permeability_m2: float = 1.5e-8
    film_w_m2k: float = 12.0
    bare: float = 0.03
    sun_taken: float = 0.25
    holds: float = 3.3


@dataclass(slots=True)
class Shell:
    """Contents of one shell: masses in kg, heat in J."""

    ash: float
    inert: float
    fast: float
    slow: float
    water: float
    heat: float
    activity: float

    def dry(self) -> float:
        """Return the dry matter, kg."""
        return self.ash + self.inert + self.fast + self.slow

    def capacity(self) -> float:
        """Return the heat capacity, J/K."""
        return self.dry() * C_DRY + self.water * C_WATER

    def celsius(self) -> float:
        """Return the temperature, °C."""
        return self.heat / self.capacity()

    def moisture(self) -> float:
        """Return the water's share of wet mass."""
        return self.water / (self.water + self.dry())

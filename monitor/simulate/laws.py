"""The laws of nature that piles, bins and weather share, as plain functions of plain numbers.

Units here are SI with °C for temperatures: J, kg, W, Pa, m, s. `docs/simulator.md` gives every law's source under the same
name, and says which figures are only from memory. Nothing here keeps state.
"""

from math import exp

C_DRY = 1_300.0
"""Specific heat of dry organic matter, J/(kg·K); from memory (1.2 to 1.5 in composting texts)."""
C_WATER = 4_186.0
"""Specific heat of liquid water, J/(kg·K); textbook."""
C_AIR = 1_006.0
"""Specific heat of dry air at constant pressure, J/(kg·K); textbook."""
C_VAPOUR = 1_860.0
"""Specific heat of water vapour, J/(kg·K); textbook."""
LATENT_0 = 2.501e6
"""Latent heat of evaporation at 0 °C, J/kg; textbook."""
FUSION = 3.34e5
"""Heat of fusion of ice, J/kg; textbook. Ice is given water's specific heat (ours: an error of some per cent)."""
PRESSURE = 101_325.0
"""Standard atmosphere, Pa."""
AIR_DENSITY = 1.2
"""Of air at about 20 °C, kg/m³; textbook."""
AMBIENT_O2 = 20.9
TAP_C = 14.0
"""The water that people bring; our choice."""
"""Oxygen in air, % by volume."""


def vapour_pressure(celsius: float) -> float:
    """Return the saturation vapour pressure over water, Pa (Magnus, WMO-No. 8 coefficients)."""
    return 611.2 * exp(17.62 * celsius / (243.12 + celsius))


def humidity_ratio(vapour_pa: float) -> float:
    """Return kg of vapour per kg of dry air; the pressure is cut at 0.9 atm so that steam stays finite (ours)."""
    held = min(vapour_pa, 0.9 * PRESSURE)
    return 0.622 * held / (PRESSURE - held)


def vapour_enthalpy(celsius: float) -> float:
    """Return the enthalpy of water vapour against liquid water at 0 °C, J/kg."""
    return LATENT_0 + C_VAPOUR * celsius


def air_enthalpy(celsius: float, ratio: float) -> float:
    """Return the enthalpy of moist air, J per kg of its dry air, against dry air and liquid water at 0 °C."""
    return C_AIR * celsius + ratio * vapour_enthalpy(celsius)


def cardinal(celsius: float, lowest: float, best: float, highest: float) -> float:
    """Apply the cardinal temperature model with inflection (Rosso et al. 1993).

    Valid if `best` lies above the middle of the other two.

    Args:
        celsius: Temperature of the material, °C.
        lowest: Below it nothing grows, °C.
        best: Growth is full there, °C.
        highest: Above it nothing grows, °C.

    Returns:
        Share of full growth, 0 to 1.
    """
    if not lowest < celsius < highest:
        return 0.0
    above = celsius - lowest
    width = best - lowest
    divisor = width * (width * (celsius - best) - (best - highest) * (best + lowest - 2.0 * celsius))
    return (celsius - highest) * above * above / divisor


def moisture_factor(moisture: float) -> float:
    """Return Haug's correction for dryness (from memory); `moisture` is the water's share of wet mass."""
    return 1.0 / (1.0 + exp(-17.684 * moisture + 7.0622))


def air_space_factor(air_space: float) -> float:
    """Return Haug's correction for lack of free air space (from memory); `air_space` is its share of volume."""
    return 1.0 / (1.0 + exp(-23.675 * air_space + 3.4945))


def free_air_space(dry_density: float, water_per_dry: float, volatile_share: float) -> float:
    """Return the share of volume that is air: 1 less the volumes of water, organic matter and ash.

    Args:
        dry_density: kg of dry matter in a m³ of the heap.
        water_per_dry: kg of water per kg of dry matter.
        volatile_share: Share of the dry matter that is organic.

    Returns:
        Share of volume, not below 0.

    Source: standards page 4.1 (particle densities 1600 and 2500 kg/m³, from memory).
    """
    solids = volatile_share / 1_600.0 + (1.0 - volatile_share) / 2_500.0
    return max(0.0, 1.0 - dry_density * (water_per_dry / 1_000.0 + solids))


def oxygen_balance(demand_full: float, supply: float, inlet_pct: float = AMBIENT_O2, half_pct: float = 2.0) -> float:
    """Solve for the oxygen at which supply meets a Monod demand (steady state, exact).

    `supply · (inlet - x) = demand_full · x / (half + x)` solved for x.

    Args:
        demand_full: Demand with plenty of oxygen, kg of oxygen per second.
        supply: Supply, kg of oxygen per second and % of difference.
        inlet_pct: Oxygen of the air that comes in, % by volume.
        half_pct: Oxygen at which demand is halved, % by volume.

    Returns:
        Oxygen in the pores, % by volume; 0 without supply.

    Source: Haug's O2/(O2 + 2) (from memory); the balance is ours.
    """
    if supply <= 0.0:
        return 0.0
    middle = half_pct - inlet_pct + demand_full / supply
    root: float = (middle * middle + 4.0 * half_pct * inlet_pct) ** 0.5
    # The stable form of the quadratic's positive root avoids a small difference of large numbers.
    return 2.0 * half_pct * inlet_pct / (middle + root) if middle > 0.0 else 0.5 * (root - middle)


def conductivity(moisture: float) -> float:
    """Return the heat conductivity of a heap, W/(m·K), rising with moisture (our choice, from 0.1 dry to 0.5 soaked)."""
    return 0.10 + 0.45 * moisture


def water_activity(water_per_dry: float) -> float:
    """Return the share of the saturation pressure that the material's water shows: 1 wet, falling near dryness (our choice)."""
    return 1.0 - exp(-water_per_dry / 0.15)


def arrhenius(celsius: float, rate_at_80: float, energy: float = 110_000.0) -> float:
    """Return the rate of chemical (not living) oxidation: slow below 60 °C, doubling each 6 K or so (our choice).

    Args:
        celsius: Temperature of the material, °C.
        rate_at_80: Rate at 80 °C, 1/s.
        energy: Activation energy, J/mol.

    Returns:
        Share oxidised per second, 1/s.
    """
    return rate_at_80 * exp(energy / 8.314 * (1.0 / 353.15 - 1.0 / (celsius + 273.15)))

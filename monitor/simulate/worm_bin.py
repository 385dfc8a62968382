"""A worm bin as two halves, one towards the sunny side: bedding, food, water, heat.

Rules: heat and water move by booked amounts only, as in `hot_pile`; a half's temperature is its heat over its heat
capacity. No randomness here. Equations and sources: `docs/simulator.md`.
"""

from dataclasses import dataclass
from math import ceil

from monitor.model.work import WorkKind
from monitor.simulate.balance import Ledger
from monitor.simulate.laws import (
    C_DRY,
    C_WATER,
    FUSION,
    cardinal,
    conductivity,
    moisture_factor,
    vapour_enthalpy,
    vapour_pressure,
    water_activity,
)
from monitor.simulate.weather import Air

_DAY_S = 86_400.0
_LONGEST_STEP_S = 900.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """A bin's box and its position (all our choice; a lidded wooden box of 20 mm boards).

    Attributes:
        length_m, width_m, depth_m: Inside; the length lies along the sunny side.
        facing_deg: Direction of the sunny side, clockwise from north.
        sunlit: Share of the sun that reaches the box (0 in a shed).
        sun_taken: Share of it that boards and lid absorb.
        side_w_m2k, lid_w_m2k, floor_w_m2k: Heat transfer from bedding to the air.
        film_w_m2k: Outer film alone, for the sol-air temperature.
        damping: Share of the day's swing kept out by a building around it.
        vent_m_s: Vapour transfer under the lid.
        holds: kg of water per kg of dry matter above which it drips.
        drain_h: Time constant of dripping; large when the tap is clogged.
    """

    length_m: float = 1.0
    width_m: float = 0.55
    depth_m: float = 0.30
    facing_deg: float = 180.0
    sunlit: float = 1.0
    sun_taken: float = 0.6
    side_w_m2k: float = 2.6
    lid_w_m2k: float = 2.0
    floor_w_m2k: float = 1.2
    film_w_m2k: float = 14.0
    damping: float = 0.0
    vent_m_s: float = 4.0e-4
    holds: float = 5.2
    drain_h: float = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Bedding:
    """The first contents of the box, and the rates at which they are eaten (our choice).

    Attributes:
        wet_kg, moisture, celsius: As bedded.
        rots: Share of the dry bedding that rots, at `rot_per_day`.
        food_per_day: First-order rate of fresh food at its best temperature.
        heat_j_kg, water_kg_kg: Made per kg of dry matter degraded.
    """

    wet_kg: float = 95.0
    moisture: float = 0.76
    celsius: float = 18.0
    rots: float = 0.5
    rot_per_day: float = 0.0025
    food_per_day: float = 0.45
    lowest_c: float = 0.0
    best_c: float = 36.0
    highest_c: float = 52.0
    heat_j_kg: float = 16.0e6
    water_kg_kg: float = 0.55


@dataclass(slots=True)
class Half:
    """Contents of one half: kg of lasting dry matter, rotting bedding, food and water; J of heat."""

    lasting: float
    rotting: float
    food: float
    water: float
    heat: float

    def dry(self) -> float:
        """Return the dry matter, kg."""
        return self.lasting + self.rotting + self.food

    def capacity(self) -> float:
        """Return the heat capacity, J/K."""
        return self.dry() * C_DRY + self.water * C_WATER

    def celsius(self) -> float:
        """Return the temperature, °C; it stays at 0 while the water freezes or thaws."""
        if self.heat >= 0.0:
            return self.heat / self.capacity()
        return min(0.0, (self.heat + FUSION * self.water) / self.capacity())

    def ice(self) -> float:
        """Return the ice, kg."""
        return min(self.water, max(0.0, -self.heat / FUSION))

    def liquid(self) -> float:
        """Return the water that can flow, kg: ice neither drips nor seeps."""
        return max(0.0, self.water - self.ice())

    def moisture(self) -> float:
        """Return the water's share of wet mass."""
        return self.water / (self.water + self.dry())


class Bed:
    """One worm bin. `step` lets time pass; people `feed`, `water`, `bed_down` and `cover` it."""

    def __init__(self, box: Box, bedding: Bedding) -> None:
        """Fill the box with two equal halves of bedding."""
        self.box = box
        self.nature = bedding
        self.books = Ledger()
        self.drain_h = box.drain_h
        self.sunlit = box.sunlit
        self.vent_m_s = box.vent_m_s
        self.air_c: float | None = None
        dry = bedding.wet_kg * (1.0 - bedding.moisture)
        self.halves = [
            Half(
                lasting=0.5 * dry * (1.0 - bedding.rots),
                rotting=0.5 * dry * bedding.rots,
                food=0.0,
                water=0.5 * bedding.wet_kg * bedding.moisture,
                heat=0.0,
            )
            for _ in range(2)
        ]
        for half in self.halves:
            half.heat = half.capacity() * bedding.celsius
            self.books.book(WorkKind.BEDDED, half.heat, half.water, half.dry())

    def at(self, share: float) -> float:
        """Return the temperature, °C, `share` of the way from the sunny side (0) to the far side (1)."""
        near, far = (half.celsius() for half in self.halves)
        # The halves' middles lie at a quarter and three quarters of the way.
        return near + (far - near) * min(1.0, max(0.0, (share - 0.25) / 0.5))

    def moisture_at(self, share: float) -> float:
        """Return the moisture, share of wet mass, between the two sides as in `at`."""
        near, far = (half.moisture() for half in self.halves)
        return near + (far - near) * min(1.0, max(0.0, (share - 0.25) / 0.5))

    def heat_held(self) -> float:
        """Return heat capacity times temperature less the ice's heat of fusion, J."""
        return sum(half.capacity() * half.celsius() - FUSION * half.ice() for half in self.halves)

    def water_held(self) -> float:
        """Return the water, kg."""
        return sum(half.water for half in self.halves)

    def dry_held(self) -> float:
        """Return the dry matter, kg."""
        return sum(half.dry() for half in self.halves)

    def feed(self, wet_kg: float, celsius: float, moisture: float = 0.82, near: float = 0.5) -> None:
        """Add food.

        Args:
            wet_kg: Mass as fed, kg.
            celsius: Its temperature, °C.
            moisture: Water's share of the mass.
            near: Share that goes to the sunny half.
        """
        for half, share in zip(self.halves, (near, 1.0 - near), strict=True):
            dry, water = wet_kg * share * (1.0 - moisture), wet_kg * share * moisture
            joules = (dry * C_DRY + water * C_WATER) * celsius
            half.food += dry
            half.water += water
            half.heat += joules
            self.books.book(WorkKind.FED, joules, water, dry)

    def bed_down(self, wet_kg: float, celsius: float, moisture: float = 0.15) -> None:
        """Add bedding.

        Args:
            wet_kg: Mass as added, kg; half of it goes into each half.
            celsius: Its temperature, °C.
            moisture: Water's share of the mass; dry by default, as shredded card and leaves are.
        """
        for half in self.halves:
            dry, water = 0.5 * wet_kg * (1.0 - moisture), 0.5 * wet_kg * moisture
            joules = (dry * C_DRY + water * C_WATER) * celsius
            half.lasting += dry * (1.0 - self.nature.rots)
            half.rotting += dry * self.nature.rots
            half.water += water
            half.heat += joules
            self.books.book(WorkKind.BEDDED, joules, water, dry)

    def water(self, litres: float, celsius: float) -> None:
        """Water both halves alike."""
        for half in self.halves:
            half.water += 0.5 * litres
            half.heat += 0.5 * litres * C_WATER * celsius
        self.books.book("watering", litres * C_WATER * celsius, litres)

    def cover(self, left: float, airier: float = 1.0) -> None:
        """Cover the box.

        `left` is the share of the former sun that still reaches it, `airier` a factor on the vapour that gets out.
        """
        self.sunlit *= left
        self.vent_m_s *= airier

    def step(self, seconds: float, air: Air) -> None:
        """Let `seconds` pass under constant weather."""
        count = max(1, ceil(seconds / _LONGEST_STEP_S))
        span = seconds / count
        for _ in range(count):
            self._around(span, air)
            self._rot(span)
            self._link(span)
            self._shell(span, air)
            self._dry(span, air)
            self._drip(span)

    def _around(self, span: float, air: Air) -> None:
        """Follow the air around the box: the open air, or a building's, which lags it by half a day (our choice)."""
        if self.air_c is None or self.box.damping == 0.0:
            self.air_c = air.celsius
        slow = self.air_c + (air.celsius - self.air_c) * min(1.0, span / (0.5 * _DAY_S))
        self.air_c = slow if self.box.damping else air.celsius

    def _outdoors(self, air: Air) -> float:
        lagged = self.air_c if self.air_c is not None else air.celsius
        return air.celsius + (lagged - air.celsius) * self.box.damping

    def _rot(self, span: float) -> None:
        nature = self.nature
        total = 0.0
        for half in self.halves:
            share = cardinal(half.celsius(), nature.lowest_c, nature.best_c, nature.highest_c)
            pace = share * moisture_factor(half.moisture()) * span / _DAY_S
            food = min(half.food, half.food * nature.food_per_day * pace)
            rotten = min(half.rotting, half.rotting * nature.rot_per_day * pace)
            half.food -= food
            half.rotting -= rotten
            eaten = food + rotten
            half.water += nature.water_kg_kg * eaten
            half.heat += nature.heat_j_kg * eaten
            total += eaten
        self.books.book("microbes", nature.heat_j_kg * total, nature.water_kg_kg * total, -total)

    def _link(self, span: float) -> None:
        """Heat by conduction and water by seeping (two days) between the halves."""
        near, far = self.halves
        box = self.box
        wet = 0.5 * (near.moisture() + far.moisture())
        link = conductivity(wet) * box.length_m * box.depth_m / (0.5 * box.width_m)
        warmth = near.celsius()
        joules = link * (warmth - far.celsius()) * span
        level = near.water - far.water * near.dry() / far.dry()
        moved = 0.5 * level * min(1.0, span / (2.0 * _DAY_S))
        moved = min(moved, near.liquid()) if moved > 0.0 else max(moved, -far.liquid())
        joules += moved * C_WATER * (warmth if moved > 0.0 else far.celsius())
        near.heat -= joules
        far.heat += joules
        near.water -= moved
        far.water += moved

    def _shell(self, span: float, air: Air) -> None:
        """Losses through sides, lid and floor; the sun by the sol-air temperature on the sunny side and the lid."""
        box = self.box
        outdoors = self._outdoors(air)
        lit = self.sunlit * box.sun_taken / box.film_w_m2k
        on_side, on_lid = lit * air.wall(box.facing_deg), lit * air.level()
        end = box.width_m * box.depth_m  # each half loses heat through half of either end
        side = box.length_m * box.depth_m
        lid = 0.5 * box.length_m * box.width_m
        loss = box.side_w_m2k * (end + side) + (box.lid_w_m2k + box.floor_w_m2k) * lid
        lost_all = sun_all = 0.0
        for half, gain in zip(self.halves, (on_side, 0.0), strict=True):
            lost = loss * (half.celsius() - outdoors) * span
            sun = (box.side_w_m2k * side * gain + box.lid_w_m2k * lid * on_lid) * span
            half.heat += sun - lost
            lost_all += lost
            sun_all += sun
        self.books.book("walls", -lost_all)
        self.books.book("sun", sun_all)

    def _dry(self, span: float, air: Air) -> None:
        """Water evaporates from the bedding's top under the lid."""
        area = 0.5 * self.box.length_m * self.box.width_m
        gone_all = joules_all = 0.0
        for half in self.halves:
            warm = half.celsius()
            pull = vapour_pressure(warm) * water_activity(half.water / half.dry()) - air.vapour_pa
            gone = max(0.0, self.vent_m_s * area * pull / (461.5 * (warm + 273.15)) * span)
            gone = min(gone, 0.3 * half.water)
            joules = gone * vapour_enthalpy(warm)
            half.water -= gone
            half.heat -= joules
            gone_all += gone
            joules_all += joules
        self.books.book("evaporation", -joules_all, -gone_all)

    def _drip(self, span: float) -> None:
        for half in self.halves:
            excess = half.water - self.box.holds * half.dry()
            if excess > 0.0:
                gone = min(half.liquid(), excess * min(1.0, span / (self.drain_h * 3_600.0)))
                joules = gone * C_WATER * half.celsius()
                half.water -= gone
                half.heat -= joules
                self.books.book("dripping", -joules, -gone)

"""A hot-compost pile as three nested shells: degradable matter, water, heat, and the air that rises through them.

Rules:
 1. Each shell holds masses (kg) and heat (J, against dry matter and liquid water at 0 °C); its temperature is heat
    over heat capacity, never a state of its own. So every amount that moves between shells or leaves is booked once, exactly.
 2. Explicit Euler with sub-steps short against the fastest shell's own time; no shell can lose more than it holds.
 3. The equations, their sources and their limits stand in `docs/simulator.md`. No randomness here.
"""

from itertools import pairwise
from math import ceil, exp

from monitor.model.work import WorkKind
from monitor.simulate.balance import Ledger
from monitor.simulate.laws import (
    AIR_DENSITY,
    AMBIENT_O2,
    C_AIR,
    C_WATER,
    air_enthalpy,
    air_space_factor,
    arrhenius,
    cardinal,
    conductivity,
    free_air_space,
    humidity_ratio,
    moisture_factor,
    oxygen_balance,
    vapour_enthalpy,
    vapour_pressure,
    water_activity,
)
from monitor.simulate.material import Mix, Nature, Shell
from monitor.simulate.weather import Air

_DAY_S = 86_400.0
_SHARES = (0.125, 0.375, 0.5)  # of the volume: core, middle, outside
_EDGES: tuple[float, float, float] = (0.5, 0.5 ** (1 / 3), 1.0)  # linear scale of each shell's outer edge
_MIDDLES: tuple[float, float, float] = (
    0.0625 ** (1 / 3),
    0.3125 ** (1 / 3),
    0.75 ** (1 / 3),
)  # scale that halves each shell's volume
# The rising air goes in through the outside, up through the core, and out through the top of the outside.
_PATH = ((2, 0.9), (1, 0.95), (0, 1.0), (2, 0.35))
_LONGEST_STEP_S = 600.0


class Heap:
    """One batch on its spot. `step` lets time pass; people `turn` and `water` it."""

    def __init__(self, mix: Mix, length_m: float, width_m: float, nature: Nature | None = None) -> None:
        """Heap the mix onto a footprint of `length_m` by `width_m`; its height follows from its volume."""
        self.nature = nature or Nature()
        self.length_m = length_m
        self.width_m = width_m
        self.books = Ledger()
        self.looseness = 1.0
        self.airflow_kg_s = 0.0
        self.oxygen_pct = [AMBIENT_O2] * 3
        dry = mix.wet_kg * (1.0 - mix.moisture)
        self._dry_at_first = dry
        self._density_at_first = mix.dry_density
        rest = 1.0 - mix.ash - mix.fast - mix.slow
        self.shells = [
            Shell(
                ash=share * dry * mix.ash,
                inert=share * dry * rest,
                fast=share * dry * mix.fast,
                slow=share * dry * mix.slow,
                water=share * mix.wet_kg * mix.moisture,
                heat=0.0,
                activity=mix.activity,
            )
            for share in _SHARES
        ]
        for shell in self.shells:
            shell.heat = shell.capacity() * mix.celsius
            self.books.book(WorkKind.BUILT, shell.heat, shell.water, shell.dry())
        self._longest_s = _LONGEST_STEP_S
        self._unchecked_s = 3_600.0
        self._size()

    # Readings for probes.

    def core_c(self) -> float:
        """Return the core's temperature, °C."""
        return self.shells[0].celsius()

    def at_depth(self, depth_m: float, air: Air) -> float:
        """Return the temperature at a depth below the surface, °C (straight lines between the shells' middles)."""
        return self._between(depth_m, [shell.celsius() for shell in self.shells], self._surface(air))

    def moisture_at(self, depth_m: float) -> float:
        """Return the moisture at a depth, share of wet mass."""
        values = [shell.moisture() for shell in self.shells]
        return self._between(depth_m, values, values[2])

    def oxygen_at(self, depth_m: float) -> float:
        """Return the oxygen in the pores at a depth, % by volume."""
        return self._between(depth_m, self.oxygen_pct, AMBIENT_O2)

    def heat_held(self) -> float:
        """Return heat capacity times temperature over all shells, J."""
        return sum(shell.capacity() * shell.celsius() for shell in self.shells)

    def water_held(self) -> float:
        """Return the water, kg."""
        return sum(shell.water for shell in self.shells)

    def dry_held(self) -> float:
        """Return the dry matter, kg."""
        return sum(shell.dry() for shell in self.shells)

    # Acts of people.

    def turn(self, air: Air, thorough: float = 0.85) -> None:
        """Turn the pile: mix the shells (`thorough` of each goes into the common heap) and steam in the open air."""
        volume = self.volume_m3
        for shell, share in zip(self.shells, _SHARES, strict=True):
            # Each part of the heap meets about ten times its volume of air (our choice), and warms and wets it half way.
            air_kg = 10.0 * AIR_DENSITY * volume * share
            _, _, sensible, latent, taken = self._meet(shell, air_kg, air.celsius, humidity_ratio(air.vapour_pa), 0.5)
            self.books.book("turning", -sensible - latent, -taken)
        for name in ("ash", "inert", "fast", "slow", "water", "heat", "activity"):
            total = sum(getattr(shell, name) for shell in self.shells)
            for shell, share in zip(self.shells, _SHARES, strict=True):
                mean = total / 3.0 if name == "activity" else total * share
                setattr(shell, name, getattr(shell, name) * (1.0 - thorough) + mean * thorough)
        self.looseness = 1.0
        self._unchecked_s = 3_600.0
        self._size()

    def water(self, litres: float, celsius: float) -> None:
        """Pour water on top: half stays in the outside, the rest runs into middle and core."""
        for shell, share in zip(self.shells, (0.2, 0.3, 0.5), strict=True):
            shell.water += litres * share
            shell.heat += litres * share * C_WATER * celsius
        self.books.book("watering", litres * C_WATER * celsius, litres)

    # Passing of time.

    def step(self, seconds: float, air: Air) -> None:
        """Let `seconds` pass under constant weather."""
        self._unchecked_s += seconds
        if self._unchecked_s >= 3_600.0:  # size, air space and a shell's own time change over hours; 0.3 is margin
            self._size()
            self._longest_s = min(_LONGEST_STEP_S, self._safe_step(air))
            self._unchecked_s = 0.0
        count = max(1, ceil(seconds / self._longest_s))
        span = seconds / count
        for _ in range(count):
            self._live(span)
            self._conduct(span, air)
            self._breathe(span, air)
            self._drip(span)
        self.looseness *= exp(-seconds / (4.0 * _DAY_S))

    def _size(self) -> None:
        dry = self.dry_held()
        # A rotting heap settles: its dry density rises by nine tenths of the share of dry matter that is gone (our choice).
        self.dry_density = self._density_at_first * (1.0 + 0.9 * (1.0 - dry / self._dry_at_first))
        self.volume_m3 = dry / self.dry_density
        self._base = self.length_m * self.width_m
        self.height_m = self.volume_m3 / self._base
        self._open = self._base + 2.0 * (self.length_m + self.width_m) * self.height_m
        self._reach = 3.0 * self.volume_m3 / (self._open + self._base)
        organic = 1.0 - sum(shell.ash for shell in self.shells) / dry
        self._space = [
            free_air_space(self.dry_density, shell.water / shell.dry(), organic) * (0.9 + 0.1 * self.looseness)
            for shell in self.shells
        ]

    def _between(self, depth_m: float, values: list[float], outermost: float) -> float:
        points = [(0.0, outermost)]
        points += [(self._reach * (1.0 - _MIDDLES[i]), values[i]) for i in (2, 1, 0)]
        for (low, first), (high, second) in pairwise(points):
            if depth_m <= high:
                return first + (second - first) * (depth_m - low) / (high - low)
        return values[0]

    def _skin(self) -> float:
        """Return the conductance from the outside's middle to the open air, W/(m²·K)."""
        path = self._reach * (1.0 - _MIDDLES[2])
        return 1.0 / (1.0 / self.nature.film_w_m2k + path / conductivity(self.shells[2].moisture()))

    def _surface(self, air: Air) -> float:
        share = self._skin() / self.nature.film_w_m2k
        return air.celsius + (self.shells[2].celsius() - air.celsius) * share

    def _safe_step(self, air: Air) -> float:
        """Return a step that is short against every shell's own time, s."""
        fastest = 1e-9
        stream = max(self.airflow_kg_s, self._draught(air))
        for shell, edge in zip(self.shells, _EDGES, strict=True):
            warm = min(95.0, shell.celsius())
            slope = (
                air_enthalpy(warm + 1.0, humidity_ratio(vapour_pressure(warm + 1.0)))
                - air_enthalpy(warm, humidity_ratio(vapour_pressure(warm)))
            ) * stream
            links = 3.0 * conductivity(shell.moisture()) * self._open * edge * edge / (0.2 * self._reach)
            fastest = max(fastest, (slope + links) / shell.capacity())
        return 0.3 / fastest

    def _draught(self, air: Air) -> float:
        """Return the air that rises through the pile, kg/s (Darcy's law driven by buoyancy)."""
        mean_c = sum(share * shell.celsius() for share, shell in zip(_SHARES, self.shells, strict=True))
        lift = max(0.02, (mean_c - air.celsius) / (mean_c + 273.15))  # a breath of wind keeps a cold pile aired
        space = min(self._space)
        carman = 2.0 * space * space * space / ((1.0 - space) * (1.0 - space))  # Kozeny-Carman, 1 at one half
        openness = carman * (0.6 + 0.8 * self.looseness)
        speed = self.nature.permeability_m2 * openness / 1.8e-5 * AIR_DENSITY * 9.81 * lift
        return speed * AIR_DENSITY * self._base

    def _live(self, span: float) -> None:
        """Let microbes degrade matter: heat, metabolic water, oxygen; and chemical oxidation in very hot shells."""
        nature = self.nature
        inlet = AMBIENT_O2
        total = 0.0
        for index in (2, 1, 0):  # in the order in which the air comes by
            shell = self.shells[index]
            warm = shell.celsius()
            share = cardinal(warm, nature.lowest_c, nature.best_c, nature.highest_c)
            wet = moisture_factor(shell.moisture())
            pace = share * wet * air_space_factor(self._space[index]) * shell.activity / _DAY_S
            fast = nature.fast_per_day * pace * shell.fast
            slow = nature.slow_per_day * pace * shell.slow
            char = arrhenius(warm, nature.char_per_s)
            burnt_fast, burnt_slow = char * shell.fast, char * shell.slow
            full = (fast + slow + burnt_fast + burnt_slow) * nature.oxygen_kg_kg
            stream = self.airflow_kg_s * 0.232 / AMBIENT_O2
            way = self._reach * (1.0 - _MIDDLES[index])
            seep = 2.0e-5 * self._space[index] ** (4 / 3) * self._open * _EDGES[index] ** 2 / way * 1.33 / 100.0
            mixed = (stream * inlet + seep * AMBIENT_O2) / (stream + seep) if stream + seep > 0.0 else 0.0
            inlet = oxygen_balance(full, stream + seep, mixed)
            self.oxygen_pct[index] = inlet
            aired = inlet / (2.0 + inlet)
            eaten_fast = min(shell.fast, (fast + burnt_fast) * aired * span)
            eaten_slow = min(shell.slow, (slow + burnt_slow) * aired * span)
            eaten = eaten_fast + eaten_slow
            shell.fast -= eaten_fast
            shell.slow -= eaten_slow
            shell.water += nature.water_kg_kg * eaten
            shell.heat += nature.heat_j_kg * eaten
            total += eaten
            growth = nature.growth_per_day * share * wet * aired / _DAY_S
            # Above 62 °C the population dies back (our choice); some of it always survives as spores.
            death = 0.03 * max(0.0, warm - 62.0) / 3_600.0
            grown = shell.activity * (1.0 + span * (growth * (1.0 - shell.activity) - death))
            shell.activity = min(1.0, max(0.02, grown))
        self.books.book("microbes", nature.heat_j_kg * total, nature.water_kg_kg * total, -total)

    def _conduct(self, span: float, air: Air) -> None:
        """Heat flows between neighbours, to the open air (with the sun on the top) and into the ground."""
        warm = [shell.celsius() for shell in self.shells]
        around = self._open + self._base
        for inner in (0, 1):
            wet = 0.5 * (self.shells[inner].moisture() + self.shells[inner + 1].moisture())
            way = self._reach * (_MIDDLES[inner + 1] - _MIDDLES[inner])
            link = conductivity(wet) * around * _EDGES[inner] ** 2 / way
            joules = link * (warm[inner] - warm[inner + 1]) * span
            self.shells[inner].heat -= joules
            self.shells[inner + 1].heat += joules
        skin = self._skin()
        outside = self.shells[2]
        lost = skin * self._open * (warm[2] - air.celsius) * span
        sun = skin * self._base * self.nature.sun_taken * air.level() / self.nature.film_w_m2k * span
        soil = self._base * (warm[2] - air.ground_c) * span / (0.3 + self._reach * (1.0 - _MIDDLES[2]) / 0.3)
        outside.heat += sun - lost - soil
        self.books.book("surface", -lost)
        self.books.book("sun", sun)
        self.books.book("ground", -soil)

    def _meet(
        self, shell: Shell, air_kg: float, in_c: float, ratio: float, reached: float
    ) -> tuple[float, float, float, float, float]:
        """Let air come `reached` of the way to a shell's temperature and vapour.

        Returns:
            The air's new temperature and humidity ratio, and what it took: sensible and latent heat (J), water (kg).
        """
        warm = shell.celsius()
        ready = humidity_ratio(vapour_pressure(warm) * water_activity(shell.water / shell.dry()))
        taken = min(air_kg * reached * (ready - ratio), 0.3 * shell.water)
        out_c = in_c + reached * (warm - in_c)
        out_ratio = ratio + taken / air_kg
        sensible = air_kg * C_AIR * (out_c - in_c)
        latent = air_kg * (air_enthalpy(out_c, out_ratio) - air_enthalpy(in_c, ratio)) - sensible
        shell.water -= taken
        shell.heat -= sensible + latent
        return out_c, out_ratio, sensible, latent, taken

    def _breathe(self, span: float, air: Air) -> None:
        """Warm, moist air rises through the shells; the outside also dries from its bare surface."""
        self.airflow_kg_s = self._draught(air)
        parcel = self.airflow_kg_s * span
        if parcel > 0.0:
            celsius, ratio = air.celsius, humidity_ratio(air.vapour_pa)
            warmed = wetted = water = 0.0
            for index, reached in _PATH:
                shell = self.shells[index]
                celsius, ratio, sensible, latent, taken = self._meet(shell, parcel, celsius, ratio, reached)
                warmed += sensible
                wetted += latent
                water += taken
            self.books.book("rising air", -warmed)
            self.books.book("evaporation", -wetted, -water)
        # Lewis: the film that passes heat passes vapour, h/(ρ·c) in m/s; 461.5 J/(kg·K) is vapour's gas constant.
        outside = self.shells[2]
        surface = self._surface(air)
        pull = vapour_pressure(surface) * water_activity(outside.water / outside.dry()) - air.vapour_pa
        film = self.nature.film_w_m2k / (AIR_DENSITY * C_AIR) * self.nature.bare * self._open
        dried = min(0.3 * outside.water, max(0.0, film * pull / (461.5 * (surface + 273.15)) * span))
        outside.water -= dried
        outside.heat -= dried * vapour_enthalpy(surface)
        self.books.book("evaporation", -dried * vapour_enthalpy(surface), -dried)

    def _drip(self, span: float) -> None:
        """Water beyond what the material holds runs off within hours."""
        for shell in self.shells:
            excess = shell.water - self.nature.holds * shell.dry()
            if excess > 0.0:
                gone = excess * min(1.0, span / 21_600.0)
                joules = gone * C_WATER * shell.celsius()
                shell.water -= gone
                shell.heat -= joules
                self.books.book("dripping", -joules, -gone)

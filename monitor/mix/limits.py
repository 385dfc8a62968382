"""The limits that a mix is worked out for.

Preferred and reasonable bands of C/N and moisture, and the greatest density: `docs/sources.md` S12 and S57; free air: S58. The
aim of 30 is ours. A limit is *hard* where a person named it, or where beyond it a heap hardly heats.
"""

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Band:
    """A stretch between two values, both within it."""

    low: float
    high: float

    def __post_init__(self) -> None:
        """Refuse a band that ends before it begins.

        Raises:
            ValueError: It ends before it begins.
        """
        if self.low > self.high:
            raise ValueError(f"{self.low:g} is more than {self.high:g}; write the lower end first")

    def nearest(self, value: float) -> float:
        """Return the value of the band that lies nearest."""
        return min(max(value, self.low), self.high)


ORGANIC = Band(25, 40)
"""C/N by the US organic rule, 7 CFR 205.203(c)(2): `docs/sources.md` S2."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixLimits:
    """The limits of a mix.

    Attributes:
        moisture: Within which it must lie, % of wet mass.
        moisture_aim: Within which it should lie.
        cn: Within which carbon to nitrogen must lie, by mass.
        cn_aim: Within which it should lie.
        cn_goal: The best of it.
        density_most: The greatest settled density, kg/m³.
        density_is_hard: Whether that must hold rather than should.
        free_air_least: The least free air it should have, % of volume.
    """

    moisture: Band = field(default=Band(40, 65))
    moisture_aim: Band = field(default=Band(50, 60))
    cn: Band = field(default=Band(20, 40))
    cn_aim: Band = field(default=Band(25, 35))
    cn_goal: float = 30
    density_most: float = 600
    density_is_hard: bool = False
    free_air_least: float = 35

    @classmethod
    def asked(
        cls,
        moisture: Band | None = None,
        cn: Band | None = None,
        density_most: float | None = None,
        *,
        organic: bool = False,
    ) -> "MixLimits":
        """Return the limits with what a person asked for, which is then hard.

        Args:
            moisture: The band of moisture, % of wet mass.
            cn: The band of carbon to nitrogen.
            density_most: The greatest settled density, kg/m³.
            organic: Whether the US organic rule is to be kept too: C/N 25 to 40.

        Returns:
            The limits.

        Raises:
            ValueError: The organic rule and `cn` contradict each other.
        """
        usual = cls()
        band = cn or usual.cn
        if organic:
            if band.high < ORGANIC.low or band.low > ORGANIC.high:
                raise ValueError(f"the organic rule asks for C/N {ORGANIC.low:g} to {ORGANIC.high:g}")
            band = Band(max(band.low, ORGANIC.low), min(band.high, ORGANIC.high))
        return cls(
            moisture=moisture or usual.moisture,
            moisture_aim=moisture or usual.moisture_aim,
            cn=band,
            cn_aim=band if cn else usual.cn_aim,
            cn_goal=band.nearest(usual.cn_goal),
            density_most=usual.density_most if density_most is None else density_most,
            density_is_hard=density_most is not None,
            free_air_least=usual.free_air_least,
        )

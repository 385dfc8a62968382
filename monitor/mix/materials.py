"""Feedstocks by their figures: water, carbon, nitrogen, density and ash, each with the range in which it usually lies."""

from dataclasses import dataclass

EVERYTHING = 100.0
WET_MOISTURE, WET_CN = 50.0, 40.0
"""A feedstock at least this wet (%) with a C/N of at most this rots while it waits. Ours."""


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that varies: its usual value, and the lowest and highest to be expected."""

    low: float
    typical: float
    high: float

    @classmethod
    def known(cls, typical: float, low: float | None = None, high: float | None = None) -> "Figure":
        """Return a figure.

        Args:
            typical: Its usual value.
            low: The lowest to be expected; None: the usual one.
            high: The highest to be expected; None: the usual one.

        Returns:
            The figure.
        """
        return cls(typical if low is None else low, typical, typical if high is None else high)


@dataclass(frozen=True, slots=True, kw_only=True)
class Feedstock:
    """A kind of material that goes into a mix.

    Attributes:
        name: As people call it.
        moisture: Water, % of wet mass; below 100.
        nitrogen: % of dry matter; 0 where it has none.
        cn: Carbon to nitrogen by mass; None where nitrogen is 0, or where `carbon` was stated instead.
        carbon: % of dry matter; None where `cn` says it.
        density: Loose, kg/m³; None if nobody knows.
        ash: % of dry matter; None if nobody knows.
        woody: Whether it is wood in pieces over 25 mm (1 in), which gives structure and hardly any carbon while a heap is hot.
        source: Where the figures are from.
    """

    name: str
    moisture: Figure
    nitrogen: Figure
    cn: Figure | None = None
    carbon: Figure | None = None
    density: Figure | None = None
    ash: Figure | None = None
    woody: bool = False
    source: str = ""

    def __post_init__(self) -> None:
        """Refuse figures that cannot be.

        Raises:
            ValueError: A figure is out of its bounds, its ends are in the wrong order, or the carbon is not stated once.
        """
        bounds = {
            "moisture": (self.moisture, 0.0, EVERYTHING),
            "nitrogen": (self.nitrogen, 0.0, EVERYTHING),
            "carbon": (self.carbon, 0.0, EVERYTHING),
            "cn": (self.cn, 0.0, 10_000.0),
            "density": (self.density, 15.0, 1_600.0),
            "ash": (self.ash, 0.0, EVERYTHING),
        }
        for what, (figure, least, most) in bounds.items():
            if figure is None:
                continue
            if not least <= figure.low <= figure.typical <= figure.high <= most:
                raise ValueError(f"{self.name}: {what} must rise from low to high, within {least:g} and {most:g}")
        if self.moisture.high >= EVERYTHING:
            raise ValueError(f"{self.name}: moisture must stay below 100 %, or there is no material")
        if (self.cn is None) == (self.carbon is None):
            raise ValueError(f"{self.name}: state its C/N or its carbon, one of the two")
        if self.cn is not None and not self.nitrogen.low:
            raise ValueError(f"{self.name}: without nitrogen there is no C/N; state its carbon instead")

    @property
    def dry_share(self) -> float:
        """Dry matter as a share of wet mass."""
        return 1 - self.moisture.typical / EVERYTHING

    @property
    def nitrogen_share(self) -> float:
        """Nitrogen as a share of wet mass."""
        return self.dry_share * self.nitrogen.typical / EVERYTHING

    @property
    def carbon_share(self) -> float:
        """Carbon as a share of wet mass; where C/N is stated, it decides."""
        if self.cn is not None:
            return self.nitrogen_share * self.cn.typical
        assert self.carbon is not None
        return self.dry_share * self.carbon.typical / EVERYTHING

    @property
    def own_cn(self) -> float | None:
        """Carbon to nitrogen by mass; None without nitrogen."""
        return self.carbon_share / self.nitrogen_share if self.nitrogen_share else None

    @property
    def spoils(self) -> bool:
        """Whether it rots while it waits."""
        own = self.own_cn
        return self.moisture.typical >= WET_MOISTURE and own is not None and own <= WET_CN

"""The content of a section: probes and their states, as plain values that the caller puts together."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.drawing.plot import Limit
from monitor.drawing.scales import Unit
from monitor.model.units import Quantity
from monitor.model.words import Method


class ProbeState(StrEnum):
    """The state of a probe; only the value of a live one tells anything about the heat around it."""

    LIVE = "live"
    SILENT = "silent"
    OUT = "out"
    BROKEN = "broken"


class PileShape(StrEnum):
    """The outline in which a pile is drawn."""

    MOUND = "mound"
    WINDROW = "windrow"
    STATIC = "static"
    VESSEL = "vessel"

    @staticmethod
    def of(method: Method | None) -> "PileShape":
        """Return the shape for a method; a mound if no method is stated."""
        if method is None:
            return PileShape.MOUND
        return {
            Method.PASSIVE: PileShape.MOUND,
            Method.TURNED: PileShape.WINDROW,
            Method.STATIC: PileShape.STATIC,
            Method.VESSEL: PileShape.VESSEL,
        }[method]


@dataclass(frozen=True, slots=True, kw_only=True)
class PileProbe:
    """A probe in a pile.

    Attributes:
        name: The name that people use; "" if its depth alone names it.
        milli_c: Its newest value, thousandths of °C, or None.
        depth_milli_m: Depth below the surface, millimetres, or None if not stated.
        state: Live, silent, out or broken.
        words: Words for a probe that is not live, such as `silent 3 h`; "" uses its state.
    """

    name: str
    milli_c: int | None
    depth_milli_m: int | None = None
    state: ProbeState = ProbeState.LIVE
    words: str = ""

    @property
    def live(self) -> bool:
        """Whether its value counts."""
        return self.state is ProbeState.LIVE and self.milli_c is not None

    @property
    def trouble(self) -> str:
        """The words for a probe that is not live; "" for a live one."""
        if self.live:
            return ""
        return self.words or ("no value yet" if self.state is ProbeState.LIVE else self.state.value)


@dataclass(frozen=True, slots=True, kw_only=True)
class PileSection:
    """A pile cut through.

    Attributes:
        shape: Outline, by its method.
        probes: Its probes.
        unit: `degF` or `degC`; depths are inches beside °F and centimetres beside °C.
        air_milli_c: The air, thousandths of °C, or None.
        phase: Its phase in words, or "".
        hold_milli_c: Temperature whose depth is drawn as a contour, thousandths of °C; None: none.
        size: Its size in words, or "".
        height_milli_m: Its height, millimetres, the scale for depths; None takes what the probes need.
        width_milli_m: Its width, millimetres, or None; appears in words only.
        title: Title of the picture; "" makes one.
        words: Description; "" makes one.
        width: Size across, units.
        height: Size down, units.
        empty: Whether no heap is known to lie there; then none is drawn.
    """

    shape: PileShape
    probes: tuple[PileProbe, ...]
    unit: Unit
    air_milli_c: int | None = None
    phase: str = ""
    hold_milli_c: int | None = None
    size: str = ""
    height_milli_m: int | None = None
    title: str = ""
    words: str = ""
    width: int = 360
    height: int = 220
    empty: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BinProbe:
    """A probe in a bin: temperature (thousandths of °C) or moisture (thousandths of a percent)."""

    name: str
    quantity: Quantity
    milli: int | None
    state: ProbeState = ProbeState.LIVE
    words: str = ""

    @property
    def live(self) -> bool:
        """Whether its value counts."""
        return self.state is ProbeState.LIVE and self.milli is not None


@dataclass(frozen=True, slots=True, kw_only=True)
class BinSection:
    """A bin cut through, between a ruler of temperature and one of moisture.

    Attributes:
        unit: `degF` or `degC`.
        condition: Its condition in words, such as `comfort, too wet`.
        probes: Its probes.
        heat_comfort: Comfort by temperature, thousandths of °C.
        damp_comfort: Comfort by moisture, thousandths of a percent.
        heat_limits: Limits to name on the ruler of temperature.
        damp_limits: Limits to name on the ruler of moisture.
        air_milli_c: The air, thousandths of °C, or None.
        fed: Time of the last feeding in words, or "".
        fed_ms: Age of the last feeding, or None if none is known.
        title: Title of the picture; "" makes one.
        words: Description; "" makes one.
        width: Size across, units.
        height: Size down, units.
    """

    unit: Unit
    probes: tuple[BinProbe, ...]
    condition: str = ""
    heat_comfort: tuple[int, int] = (15_556, 26_667)
    damp_comfort: tuple[int, int] = (60_000, 85_000)
    heat_limits: tuple[Limit, ...] = ()
    damp_limits: tuple[Limit, ...] = ()
    air_milli_c: int | None = None
    fed: str = ""
    fed_ms: int | None = None
    title: str = ""
    words: str = ""
    width: int = 360
    height: int = 220

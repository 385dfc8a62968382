"""The limits that a mix reaches or breaks."""

from collections.abc import Iterator
from dataclasses import dataclass

from monitor.mix.blend import BlendFigures
from monitor.mix.limits import Band, MixLimits
from monitor.mix.materials import EVERYTHING

_AT_END = 0.02
"""How near its end a figure binds: percent of moisture and free air, a share of C/N and density."""


@dataclass(frozen=True, slots=True)
class Bound:
    """A limit that the mix reaches: `what` (a limit, or the name of a material that is used up), and its value.

    `broken` says that the mix lies beyond it.
    """

    what: str
    side: str
    value: float
    broken: bool = False


def bounds_of(figures: BlendFigures, limits: MixLimits) -> Iterator[Bound]:
    """Yield the limits that the figures of a mix reach or break."""
    yield from _of_band("moisture", figures.moisture.typical, (limits.moisture, limits.moisture_aim), _AT_END)
    yield from air_bounds(figures, limits)
    if figures.cn is None:
        yield Bound("C/N", "most", limits.cn.high, broken=True)
    else:
        yield from _of_band("C/N", figures.cn.typical, (limits.cn, limits.cn_aim), _AT_END)


def air_bounds(figures: BlendFigures, limits: MixLimits) -> Iterator[Bound]:
    """Yield the limits of density and free air that a mix reaches or breaks; none where its density is unknown."""
    if figures.density is None or figures.free_air is None:
        return
    most = limits.density_most
    near = most * _AT_END / EVERYTHING
    if figures.density.typical >= most - near:
        yield Bound("density", "most", most, limits.density_is_hard and figures.density.typical > most + near)
    if figures.free_air.typical <= limits.free_air_least + _AT_END:
        yield Bound("free air", "least", limits.free_air_least)


def _of_band(what: str, value: float, bands: tuple[Band, Band], near: float) -> Iterator[Bound]:
    must, should = bands
    for side, beyond, end, wish in (
        ("most", value - must.high, must.high, should.high),
        ("least", must.low - value, must.low, should.low),
    ):
        if beyond > near:
            yield Bound(what, side, end, broken=True)
        elif beyond >= -near:
            yield Bound(what, side, end)
        elif abs(value - wish) <= near:
            yield Bound(what, side, wish)

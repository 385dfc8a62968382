"""A mix as a picture: where it lies between too wet, too dry, too rich and too woody."""

from collections.abc import Iterable

from monitor.drawing import Ink, MixMaterial, MixPicture, Spread, Stretch, mix_picture
from monitor.mix import Band, Feedstock, Figure, Recipe


def draw_mix(recipe: Recipe, offered: Iterable[Feedstock], width: int = 400, ink: Ink = Ink.PRINT) -> str:
    """Return the picture of a mix as SVG text.

    Args:
        recipe: The mix.
        offered: The materials that were offered; those of which nothing went in are drawn as left out.
        width: Size across, units.
        ink: Whether it is drawn for the page or for paper.
    """
    figures, limits = recipe.figures, recipe.limits
    taken = [part.material for part in recipe.parts]
    left_out = [one for one in offered if all(one.name != other.name for other in taken)]
    return mix_picture(
        MixPicture(
            moisture=_spread(figures.moisture),
            cn=None if figures.cn is None else _spread(figures.cn),
            moisture_best=_stretch(limits.moisture_aim, limits.moisture),
            cn_best=_stretch(limits.cn_aim, limits.cn),
            moisture_must=_stretch(limits.moisture, limits.moisture),
            cn_must=_stretch(limits.cn, limits.cn),
            materials=(*_materials(taken, taken=True), *_materials(left_out, taken=False)),
            width=width,
        ),
        ink,
    )


def _materials(some: Iterable[Feedstock], *, taken: bool) -> Iterable[MixMaterial]:
    for one in some:
        yield MixMaterial(name=one.name, moisture=one.moisture.typical, cn=one.own_cn, taken=taken)


def _spread(figure: Figure) -> Spread:
    return Spread(figure.low, figure.typical, figure.high)


def _stretch(band: Band, within: Band) -> Stretch:
    """Return a band as far as it lies within another."""
    return Stretch(within.nearest(band.low), within.nearest(band.high))

"""A mix in words: what goes in, its figures with their ranges, the layers, the size of the heap, and what limits it."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from monitor.app.console.measures import Measures
from monitor.app.mixing.answered_mix import MixAnswer
from monitor.mix import (
    HIGH_MM,
    LEAST_IN_FROST_ML,
    LEAST_ML,
    Bound,
    Feedstock,
    Figure,
    HeapSize,
    Part,
    Recipe,
    layers_of,
)

_CAUTION = (
    "The figures are averages: weigh a bucket, squeeze a handful, and have what is always the same analyzed once. "
    "Dung and litter are raw: gloves, washed hands, nothing raw onto what is finished; damp down what is dusty. "
    "Hay, straw and manure can carry weed killer that outlasts the heap."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class MixWords:
    """A mix in words.

    Attributes:
        verdict: Whether it fits, and what would mend it.
        parts: What goes in, with the water.
        figures: Its figures, the size of its heap, and what limits it.
        layers: How it is built, from the bottom up.
        caution: What to mind.
    """

    verdict: tuple[str, ...]
    parts: tuple[str, ...]
    figures: tuple[str, ...]
    layers: tuple[str, ...]
    caution: str


def mix_words(answer: MixAnswer, measures: Measures, *, frost: bool = False) -> MixWords:
    """Return a mix in words.

    Args:
        answer: The mix and its heap.
        measures: The yard's measures.
        frost: Whether the heap is built in frost.
    """
    recipe = answer.recipe
    limits = list(dict.fromkeys(_bound(one, measures) for one in recipe.bounds if not one.broken))
    figures = [*_figures(answer, measures), *_size(answer.size, measures, frost=frost)]
    figures += [f"What limits it: {', '.join(limits)}."] if limits else []
    return MixWords(
        verdict=tuple(_verdict(answer, measures)),
        parts=tuple(_parts(recipe, measures)),
        figures=tuple(figures),
        layers=tuple(_layers(recipe, measures)),
        caution=_CAUTION,
    )


def mix_lines(answer: MixAnswer, measures: Measures, *, frost: bool = False) -> Iterator[str]:
    """Yield the lines that answer `recipe`.

    Args:
        answer: The mix and its heap.
        measures: The yard's measures.
        frost: Whether the heap is built in frost.
    """
    words = mix_words(answer, measures, frost=frost)
    yield from (*words.verdict, "", *(f"  {part}" for part in words.parts), "", *words.figures, "")
    yield "From the bottom up:"
    yield from (f"  {number}. {layer}" for number, layer in enumerate(words.layers, 1))
    yield from ("", words.caution)


def _parts(recipe: Recipe, measures: Measures) -> Iterator[str]:
    for part in recipe.parts:
        loose = f", {measures.volume(part.volume_ml)} loose" if part.volume_ml is not None else ""
        carried = f", {many}" if (many := measures.carried(part)) else ""
        yield f"{part.material.name}: {measures.mass(part.mass_g)}{loose}{carried}"
    if recipe.water_g:
        yield f"water: {measures.water(recipe.water_g)}"


def _layers(recipe: Recipe, measures: Measures) -> Iterator[str]:
    for layer in layers_of(recipe.parts, recipe.water_g):
        wet = f", and {measures.water(layer.water_g)} of water over it" if layer.water_g else ""
        yield f"{' with '.join(_lay(part, measures) for part in layer.parts)}{wet}"


def feedstock_lines(known: Iterable[Feedstock], measures: Measures) -> Iterator[str]:
    """Yield a line for each feedstock that is known, with its figures and their source.

    Args:
        known: The feedstocks.
        measures: The yard's measures.
    """
    for one in known:
        ratio = one.own_cn
        cn = _range(one.cn) if one.cn is not None else "none" if ratio is None else f"{ratio:.0f}"
        heavy = f", {measures.density(one.density.typical)} loose" if one.density is not None else ""
        wood = ", coarse wood" if one.woody else ""
        yield f"{one.name}: moisture {_range(one.moisture)} %, nitrogen {_range(one.nitrogen)} %, C/N {cn}{heavy}{wood}"
        if one.source:
            yield f"    {one.source}"


def _verdict(answer: MixAnswer, measures: Measures) -> Iterator[str]:
    recipe = answer.recipe
    if recipe.fits:
        worse = [*_short_of(recipe, measures)]
        yield f"This mix will do, though not well: {'; '.join(worse)}." if worse else "This mix fits."
        return
    broken = [one for one in recipe.bounds if one.broken]
    yield f"No mix of these fits: {', '.join(_broken(one, recipe, measures) for one in broken)}. This is the nearest."
    mending = recipe.mending
    if mending is None and [one.what for one in broken] == ["density"]:
        yield "Loosen it with something coarse."
    elif mending is None:
        yield "No single material would mend it; take less of what goes in whole."
    else:
        more = "more " if any(part.material is mending.material for part in recipe.parts) else ""
        yield f"It would fit with {measures.mass(mending.more_g)} {more}of {mending.material.name}."


def _short_of(recipe: Recipe, measures: Measures) -> Iterator[str]:
    """Yield in which of the limits that should hold a mix falls short."""
    figures, limits = recipe.figures, recipe.limits
    near = 0.05
    for what, figure, aim, unit in (
        ("moisture", figures.moisture, limits.moisture_aim, " %"),
        ("C/N", figures.cn, limits.cn_aim, ""),
    ):
        if figure is not None and not aim.low - near <= figure.typical <= aim.high + near:
            end = aim.nearest(figure.typical)
            yield f"{what} {_beside(figure.typical, end)}{unit}, where {aim.low:g} to {aim.high:g}{unit} is better"
    if figures.density is not None and figures.density.typical > limits.density_most + near:
        yield f"heavy, {measures.density(figures.density.typical)}; loosen it with something coarse"
    if figures.free_air is not None and figures.free_air.typical < limits.free_air_least - near:
        yield f"little air, {figures.free_air.typical:.0f} %; loosen it with something coarse"
    if figures.cn_without_wood is not None and figures.cn_without_wood < limits.cn.low:
        yield f"C/N {figures.cn_without_wood:.0f} without the coarse wood, so expect ammonia"


def _broken(bound: Bound, recipe: Recipe, measures: Measures) -> str:
    figures, most = recipe.figures, bound.side == "most"
    if bound.what == "moisture":
        word = "too wet even so" if most else "too dry"
        return f"{word}, {_beside(figures.moisture.typical, bound.value)} % (at {bound.side} {bound.value:g} %)"
    if bound.what == "density" and figures.density is None:
        return f"too heavy, as far as its densities are known (at most {measures.density(bound.value)})"
    if bound.what == "density" and figures.density is not None:
        return f"too heavy, {measures.density(figures.density.typical)} (at most {measures.density(bound.value)})"
    if figures.cn is None:
        return "nothing in it holds nitrogen"
    word = "too much carbon" if most else "too much nitrogen"
    return f"{word}, C/N {_beside(figures.cn.typical, bound.value)} (at {bound.side} {bound.value:g})"


def _beside(value: float, end: float) -> str:
    """Return a value so that it can be told from the end of a band that it passes."""
    whole = f"{value:.0f}"
    return whole if whole != f"{end:g}" else f"{value:.1f}"


def _bound(bound: Bound, measures: Measures) -> str:
    if bound.what == "density":
        return f"density {measures.density(bound.value)}"
    if bound.what in ("moisture", "free air"):
        return f"{bound.what} {bound.value:g} %"
    if bound.what == "C/N":
        return f"C/N {bound.value:g}"
    return f"all there is of {bound.what} ({measures.mass(bound.value * 1000)})"


def _figures(answer: MixAnswer, measures: Measures) -> Iterator[str]:
    figures = answer.recipe.figures
    yield f"In all: {measures.mass(figures.mass_g)} with {_range(figures.moisture)} % moisture"
    if figures.cn is None:
        yield "C/N: undefined, as nothing in it holds nitrogen; such a heap does not heat"
    else:
        bare = figures.cn_without_wood
        wood = f"; {bare:.0f} without the coarse wood, whose carbon hardly counts while it is hot" if bare else ""
        yield f"C/N: {_range(figures.cn)}{wood}"
    yield _density(answer, measures)


def _density(answer: MixAnswer, measures: Measures) -> str:
    figures = answer.recipe.figures
    if figures.density is None or figures.free_air is None:
        return "Density and free air: unknown, as the density of a material is"
    low, typical, high = (measures.density(end) for end in _ends(figures.density))
    air = f"free air {_range(figures.free_air)} %"
    if answer.bucket is None:
        return f"Density: {typical} settled ({low} to {high}), {air}"
    if answer.bucket.water_ml is None:
        return f"Density: {typical} by the bucket, {air} worked out from it"
    return f"Density: {typical} and {air}, both by the bucket"


def _size(size: HeapSize | None, measures: Measures, *, frost: bool) -> Iterator[str]:
    if size is None:
        return
    least = measures.volume(LEAST_IN_FROST_ML if frost else LEAST_ML)
    high = f", {measures.height(size.height_mm)} high in that bay" if size.height_mm is not None else ""
    enough = "big enough to heat" if size.big_enough else f"too small to stay hot: {least} is the least"
    if size.big_enough and size.too_flat:
        enough = f"too flat to stay hot: heap it up to {measures.height(914)} or more"
    yield f"Heap: {measures.volume(size.volume_ml)} settled{high}; {enough}{' in frost' if frost else ''}"
    if size.may_burn:
        never = "DO NOT BUILD IT SO HIGH" if size.too_high else "Fire"
        read = "" if size.too_high else ", or read it in its middle each day"
        yield (
            f"{never}: above {measures.height(HIGH_MM)} a heap can catch fire by itself. Make {size.heaps} heaps of it, "
            f"each on as much ground{read}. Your fire code comes first."
        )


def _lay(part: Part, measures: Measures) -> str:
    loose = measures.volume(part.volume_ml) if part.volume_ml is not None else ""
    much = measures.carried(part) or loose
    return f"{part.material.name}, {measures.mass(part.mass_g)}{f' ({much})' if much else ''}"


def _ends(figure: Figure) -> tuple[float, float, float]:
    return figure.low, figure.typical, figure.high


def _range(figure: Figure) -> str:
    low, typical, high = (f"{end:.0f}" if abs(end) >= 10 else f"{end:.1f}" for end in _ends(figure))
    return typical if low == typical == high else f"{typical} ({low} to {high})"

"""A mix as JSON: the shape that scripts rely on."""

from typing import Any

from monitor.app.mixing.answered_mix import MixAnswer
from monitor.mix import Figure, layers_of


def mix_json(answer: MixAnswer) -> dict[str, Any]:
    """Return a mix as plain JSON: masses in kg, volumes in L, density in kg/m³, moisture and free air in percent."""
    recipe, size = answer.recipe, answer.size
    figures = recipe.figures
    return {
        "fits": recipe.fits,
        "parts": [
            {
                "material": part.material.name,
                "mass_kg": part.mass_g / 1000,
                "volume_l": None if part.volume_ml is None else part.volume_ml / 1000,
            }
            for part in recipe.parts
        ],
        "water_l": recipe.water_g / 1000,
        "cn": _typical(figures.cn),
        "cn_range": _range(figures.cn),
        "cn_without_wood": None if figures.cn_without_wood is None else round(figures.cn_without_wood, 2),
        "moisture": _typical(figures.moisture),
        "moisture_range": _range(figures.moisture),
        "bulk_density_kg_m3": _typical(figures.density),
        "free_air": _typical(figures.free_air),
        "density_measured": answer.bucket is not None,
        "free_air_measured": answer.bucket is not None and answer.bucket.water_ml is not None,
        "binding": [
            {"what": one.what, "side": one.side, "value": one.value, "broken": one.broken} for one in recipe.bounds
        ],
        "mending": None
        if recipe.mending is None
        else {"material": recipe.mending.material.name, "mass_kg": recipe.mending.more_g / 1000},
        "layers": [
            {
                "parts": [{"material": part.material.name, "mass_kg": part.mass_g / 1000} for part in layer.parts],
                "water_l": layer.water_g / 1000,
            }
            for layer in layers_of(recipe.parts, recipe.water_g)
        ],
        "volume_l": None if figures.volume_ml is None else figures.volume_ml / 1000,
        "height_mm": None if size is None else size.height_mm,
        "big_enough": None if size is None else size.big_enough and not size.too_flat,
        "may_burn": None if size is None else size.may_burn,
    }


def _typical(figure: Figure | None) -> float | None:
    return None if figure is None else round(figure.typical, 2)


def _range(figure: Figure | None) -> list[float] | None:
    return None if figure is None else [round(figure.low, 2), round(figure.high, 2)]

"""A mix as an entry of the log: the heap is built with its parts."""

import re

from monitor.app.console.measures import Measures
from monitor.mix import Recipe
from monitor.model.amounts import parse_amount
from monitor.model.mix_parts import MixPart, parts_text

WATER = "water"
_SEPARATES = re.compile(r"[;,=+]+")


def build_fields(recipe: Recipe, measures: Measures) -> dict[str, str]:
    """Return the fields of the entry *built*: its parts with their amounts, and a note with the figures.

    The certificate takes feedstocks and amounts from the parts, and what went in leaves the stock.

    Args:
        recipe: The mix.
        measures: The yard's measures.
    """
    parts = [
        MixPart(_plain(part.material.name), parse_amount(measures.mass_written(part.mass_g))) for part in recipe.parts
    ]
    if recipe.water_g:
        parts.append(MixPart(WATER, parse_amount(measures.water_written(recipe.water_g))))
    figures = recipe.figures
    ratio = f"C/N {figures.cn.typical:.0f} and " if figures.cn is not None else ""
    worked_out = f"{ratio}moisture {figures.moisture.typical:.0f} % worked out from the mix"
    return {"parts": parts_text(parts), "note": worked_out}


def _plain(name: str) -> str:
    """Return a name without the signs that separate parts."""
    return " ".join(_SEPARATES.sub(" ", name).split())

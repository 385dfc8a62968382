"""A mix as an entry of the log: the heap is built with its parts."""

from monitor.app.console.measures import Measures
from monitor.mix import Recipe


def build_fields(recipe: Recipe, measures: Measures) -> dict[str, str]:
    """Return the fields of the entry *built*: the mass with its water, the materials, and a note with amounts and figures.

    The certificate takes feedstocks and amount from there.

    Args:
        recipe: The mix.
        measures: The yard's measures.
    """
    parts = [f"{part.material.name} {measures.mass(part.mass_g)}" for part in recipe.parts]
    if recipe.water_g:
        parts.append(f"water {measures.water(recipe.water_g)}")
    figures = recipe.figures
    ratio = f"C/N {figures.cn.typical:.0f} and " if figures.cn is not None else ""
    worked_out = f"{ratio}moisture {figures.moisture.typical:.0f} % worked out from the mix"
    return {
        "amount": measures.mass(figures.mass_g),
        "what": ", ".join(part.material.name for part in recipe.parts),
        "note": f"{', '.join(parts)} ({worked_out})",
    }

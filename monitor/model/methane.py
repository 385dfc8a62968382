"""The yard's own factor for methane; the program has none, because none holds for every yard."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class MethaneFactor:
    """A factor with its source.

    Attributes:
        kg_per_kg: How much methane, kg, is taken to be avoided for each kg of material that came in, as it lay.
        source: Where the figure comes from.
    """

    kg_per_kg: float
    source: str

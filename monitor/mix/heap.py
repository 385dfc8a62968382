"""A mix as a heap: whether it is big enough, how high it will be, and in which layers to build it.

Sizes: at least 1 yd³ (0.76 m³, 3 ft each way) to hold its heat, and twice that in frost; above 6 ft (1.8 m) a heap can catch
fire by itself, and above 12 ft (3.7 m) none is planned here. All of it, and the layers: common practice, no published source.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from monitor.mix.blend import Part
from monitor.mix.materials import WET_CN

LEAST_ML, LEAST_IN_FROST_ML = 760_000, 1_500_000
HIGH_MM, HIGHEST_MM = 1_828, 3_657
FLAT_MM = 600
"""A heap lower than this loses its heat, however long it is."""
_LAYER_ML = 250_000
"""About how much of the wet materials lies between two layers of dry ones."""
_MOST_LAYERS = 6


@dataclass(frozen=True, slots=True)
class HeapSize:
    """The size of a heap that is built: `height_mm` is None where the ground it stands on is unknown."""

    volume_ml: int
    height_mm: int | None
    big_enough: bool

    @property
    def may_burn(self) -> bool:
        """Whether it is so high that it can catch fire by itself."""
        return self.height_mm is not None and self.height_mm > HIGH_MM

    @property
    def too_high(self) -> bool:
        """Whether it is higher than any heap should be planned."""
        return self.height_mm is not None and self.height_mm > HIGHEST_MM

    @property
    def too_flat(self) -> bool:
        """Whether it is spread so thin that it loses its heat."""
        return self.height_mm is not None and self.height_mm < FLAT_MM

    @property
    def heaps(self) -> int:
        """The number of heaps, each on as much ground, of which none can catch fire by its height."""
        return 1 if self.height_mm is None else max(1, -(-self.height_mm // HIGH_MM))


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer: its parts, and the water on it in grams."""

    parts: tuple[Part, ...]
    water_g: int


def heap_size(volume_ml: int, ground_mm2: int | None, *, frost: bool = False) -> HeapSize:
    """Return the size of a heap.

    Args:
        volume_ml: Settled.
        ground_mm2: The area of its bay in square millimetres; None if nobody said.
        frost: Whether it is built in frost.
    """
    height = None if ground_mm2 is None else round(volume_ml * 1000 / ground_mm2)
    return HeapSize(volume_ml, height, volume_ml >= (LEAST_IN_FROST_ML if frost else LEAST_ML))


def layers_of(parts: Sequence[Part], water_g: int) -> tuple[Layer, ...]:
    """Return the layers of a mix from the bottom up.

    A coarse dry layer lets air in from below, then wet and dry ones alternate, and a dry one covers the top against flies and
    smell. The water goes onto the dry layers, as they are laid. Every gram of the mix is in one of the layers.

    Args:
        parts: The parts of the mix.
        water_g: The water to add.
    """
    dry = [part for part in parts if not _is_wet(part)]
    wet = [part for part in parts if _is_wet(part)]
    # The coarsest lies lowest.
    dry.sort(key=lambda part: not part.material.woody)
    wet_ml = sum(part.volume_ml or part.mass_g * 2 for part in wet)
    between = max(1, min(_MOST_LAYERS, round(wet_ml / _LAYER_ML)))
    first = _shares(dry, between + 1) if dry and wet else _shares(dry or wet, between)
    second = _shares(wet, between) if dry and wet else []
    laid = []
    for number, (parts_of_it, water) in enumerate(zip(first, _split(water_g, len(first)), strict=True)):
        laid.append(Layer(parts_of_it, water))
        laid += [Layer(wet_ones, 0) for wet_ones in second[number : number + 1]]
    return tuple(laid)


def _is_wet(part: Part) -> bool:
    cn = part.material.own_cn
    return not part.material.woody and cn is not None and cn <= WET_CN


def _shares(parts: Sequence[Part], count: int) -> list[tuple[Part, ...]]:
    rows = [list(_split(part.mass_g, count)) for part in parts]
    return [
        tuple(Part(part.material, row[layer]) for part, row in zip(parts, rows, strict=True) if row[layer])
        for layer in range(count)
    ]


def _split(amount: int, count: int) -> Iterator[int]:
    """Yield whole shares of an amount that differ by at most 1 and sum to it."""
    for number in range(count):
        yield amount * (number + 1) // count - amount * number // count

"""Works out a mix that a person asked for, and judges whether it may be written down as a heap."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.app.mixing.asked_mix import Asked
from monitor.mix import BucketTest, Feedstock, HeapSize, MixLimits, Recipe, heap_size, measured, work_out
from monitor.model.errors import MisuseError

LARGE_ML = 6_000_000
"""About the volume of a heap 6 ft high on 6 ft of ground each way: a larger one is logged only with its ground."""


@dataclass(frozen=True, slots=True)
class MixAnswer:
    """A mix that was asked for.

    Attributes:
        recipe: The mix.
        size: The heap that it makes; None if its volume is unknown.
        offered: The materials that might have gone in.
        ground_known: Whether the ground of its bay was said.
        bucket: The bucket that tells its density; None if none was weighed.
    """

    recipe: Recipe
    size: HeapSize | None
    offered: tuple[Feedstock, ...]
    ground_known: bool
    bucket: BucketTest | None = None

    @property
    def is_safe_to_build(self) -> bool:
        """Whether the mix keeps what must hold, and the heap is not too high."""
        return self.recipe.fits and not (self.size is not None and self.size.too_high)

    @property
    def needs_ground(self) -> bool:
        """Whether it is so large that nobody can say how high it will be without its ground."""
        figures = self.recipe.figures
        return not self.ground_known and (figures.volume_ml or figures.mass_g) > LARGE_ML


def answered_mix(
    asked: Asked, limits: MixLimits, ground_mm2: int | None, bucket: BucketTest | None = None, *, frost: bool = False
) -> MixAnswer:
    """Work out a mix.

    Args:
        asked: Its materials.
        limits: What it must and should be.
        ground_mm2: The ground of its bay in square millimetres; None if nobody said.
        bucket: A bucket of the mix, whose density and free air count instead of those worked out; None: none was weighed.
        frost: Whether it is built in frost.

    Returns:
        The mix with its heap; where nothing fits, the nearest.

    Raises:
        MisuseError: The materials make no mix, or the solver is not installed.
    """
    others: Sequence[Feedstock] = list(asked.known.values())
    try:
        recipe = work_out(asked.whole, asked.offers, limits, others)
    except ValueError as fault:
        raise MisuseError(f"{fault}.") from None
    if bucket is not None:
        recipe = measured(recipe, bucket)
    volume = recipe.figures.volume_ml
    size = None if volume is None else heap_size(volume, ground_mm2, frost=frost)
    return MixAnswer(recipe, size, tuple(offer.material for offer in asked.offers), ground_mm2 is not None, bucket)

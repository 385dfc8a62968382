"""Arithmetic on whole numbers that takes one number or a column of them, so that live and replay share a line of code.

A column brings its own operators; nothing here loads numpy, which the daemon does without.
"""

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Bools = NDArray[np.bool_]

Whole = TypeVar("Whole", int, "Ints")
"""A whole number, or a column of them."""


def higher(value: Whole, least: int) -> Whole:
    """Return a value, or `least` where that is higher."""
    return value + (least - value) * (value < least)


def lower(value: Whole, most: int) -> Whole:
    """Return a value, or `most` where that is lower."""
    return value + (most - value) * (value > most)

"""Reads a bucket test as a person typed it: what the mix in a bucket weighs, and the water that fills it up."""

from collections.abc import Mapping

from monitor.mix import BUCKET_ML, BucketTest
from monitor.model.amounts import Dimension, parse_amount
from monitor.model.containers import Container
from monitor.model.errors import MisuseError


def bucket_test(weight: str | None, water: str | None, containers: Mapping[str, Container]) -> BucketTest | None:
    """Read a bucket test.

    Args:
        weight: What the mix in a full bucket weighs, such as `23 lb`; None: there was no test.
        water: The water that filled it up, such as `2 gal`; None: none was poured.
        containers: The yard's containers; without its bucket one of 5 gal is meant.

    Returns:
        The test; None if there was none.

    Raises:
        MisuseError: An amount cannot be understood, or no mix is so.
    """
    if weight is None:
        if water is not None:
            raise MisuseError("--bucket-water goes with --bucket, what the mix in the bucket weighs, such as 23 lb.")
        return None
    mass = _amount(weight, Dimension.MASS, '--bucket is what the mix in a full bucket weighs, such as "23 lb"')
    poured = None
    if water is not None:
        poured = _amount(water, Dimension.VOLUME, '--bucket-water is the water that filled it up, such as "2 gal"')
    volume = containers.get("bucket", Container()).volume_ml
    try:
        return BucketTest(mass, BUCKET_ML if volume is None else volume, poured)
    except ValueError as fault:
        raise MisuseError(f"--bucket: {fault}.") from None


def _amount(text: str, dimension: Dimension, right: str) -> int:
    try:
        amount = parse_amount(text)
    except ValueError as fault:
        raise MisuseError(f"{right}: {fault}.") from None
    if amount.dimension is not dimension or amount.base is None:
        raise MisuseError(f'{right}, not "{text}".')
    return amount.base

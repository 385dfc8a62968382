"""Growth of a stock: the contract's check value."""

import pytest

from monitor.husbandry import days_to_grow
from monitor.husbandry.stock import DaysToGrow


def test_the_contracts_check_value_of_growth():
    # 8 to 24 lb: 95 to 143 days.
    assert days_to_grow(8, 24) == DaysToGrow(95, 143)
    assert days_to_grow(24, 8) == days_to_grow(8, 8) == days_to_grow(8, 0) == DaysToGrow(0, 0)
    assert days_to_grow(1, 2) == DaysToGrow(60, 90)
    with pytest.raises(ValueError, match="without worms"):
        days_to_grow(0, 8)

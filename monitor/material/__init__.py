"""Material: what becomes of it when it is thrown together, for one rule."""

from monitor.material.heat_status import (
    SMALL_SHARE_PERCENT,
    Change,
    HeatStatus,
    after_coming_in,
    change_by,
    status_of_record,
)

__all__ = ["SMALL_SHARE_PERCENT", "Change", "HeatStatus", "after_coming_in", "change_by", "status_of_record"]

"""Material: its status under one rule after it is thrown together with other material."""

from monitor.material.heat_status import (
    SMALL_SHARE_PERCENT,
    Change,
    HeatStatus,
    change_by,
    status_of_record,
)
from monitor.material.raw import is_raw

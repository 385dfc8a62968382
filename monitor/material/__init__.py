"""Material: what becomes of it when it is thrown together, for one rule."""

from monitor.material.heat_status import Change, HeatStatus, after_coming_in, change_by, status_of_record

__all__ = ["Change", "HeatStatus", "after_coming_in", "change_by", "status_of_record"]

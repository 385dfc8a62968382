"""The state of an alarm's condition at a place, before anybody decides whether it rings."""

from typing import NamedTuple

from monitor.model.alarm_values import AlarmValues


class AlarmSignal(NamedTuple):
    """The condition of an alarm is on or off; a repeated `on` only refreshes its numbers. `stage` 1: its worse limit."""

    alarm: str
    on: bool
    since: int
    last: int
    probe: str
    values: AlarmValues = AlarmValues()
    stage: int = 0

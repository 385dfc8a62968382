"""Bins to shade or wrap before tomorrow: days like it took them past their limit."""

from collections.abc import Iterator
from datetime import timedelta

from monitor.app.diary.sources import Asked
from monitor.app.evening import look_ahead, whence_words
from monitor.diary import Due, What
from monitor.forecast import Trouble
from monitor.model.units import show_temperature
from monitor.notices import instant, local

_HEAT_BY, _FROST_BY = 34 * 60, 20 * 60
"""Until when it can wait, in minutes from today's midnight: 10:00 tomorrow for the sun, 20:00 today for the frost (ours)."""


def bins_to_guard(asked: Asked) -> Iterator[Due]:
    """Yield the bins to shade or wrap; those whose alarm is on, or that were covered today, are left out."""
    unit, today = asked.settings.site.temperature_unit, local(asked.now, asked.zone).date()
    for one in look_ahead(asked.engine, asked.store, asked.configuration.evening, asked.now):
        heat = one.trouble is Trouble.HEAT
        air = show_temperature(one.air.milli_c, unit, whole=True)
        for place in one.places:
            if not place.worth_telling:
                continue
            count = place.expected.days
            days = (
                f"{count} {'day' if heat else 'night'}{'' if count == 1 else 's'} no {'hotter' if heat else 'colder'}"
            )
            passed = f"{'passed' if heat else 'fell to'} {show_temperature(place.limit, unit)}"
            yield Due(
                due_ms=asked.now,
                place=place.place,
                what=What.SHADE if heat else What.WRAP,
                why=f"{air} in the air tomorrow ({whence_words(one.air, names=False)}); it {passed} on {days}",
                of=str(today + timedelta(days=1)),
                latest_ms=instant(today, _HEAT_BY if heat else _FROST_BY, asked.zone),
            )

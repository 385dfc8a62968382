"""The rule of the record: a place will pass its limit tomorrow if enough days no worse than tomorrow took it there.

1. A day *speaks for* it if its air went no further than tomorrow's will, the place had gone no further the day before than
   it went today, and yet it passed its limit. A day *speaks against* it if its air went as far, the place had gone as far
   the day before, and it did not pass.
2. Only days within `within` of tomorrow and today are asked: a mild day in May tells nothing of a day in August.
3. At least `days` must speak for it, and at least nine in ten of all that speak.

Ours, all of it; `tests/bench/evening_worth.py` says how often it was right in the simulator (docs/evening.md). It knows
nothing of the sky, of wind, or of what was fed.
"""

from dataclasses import dataclass
from datetime import date

from monitor.forecast.foreseeing import Expected
from monitor.forecast.past_days import Past

MOSTLY = 9, 10
"""Of all days that speak, the share that must speak for it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordRule:
    """The rule, with its figures.

    Attributes:
        within_milli_k: How much milder than tomorrow, or harder, a day may have been to be asked, thousandths of a kelvin.
        days: How many days must speak for it.
    """

    within_milli_k: int
    days: int

    def foresee(self, past: Past, today: date, air: int, place: int) -> Expected | None:
        """Return the trouble to expect, or None.

        Args:
            past: The record of the place.
            today: The local date; later days are not looked at.
            air: How far tomorrow's air goes, thousandths of °C with the sign of the trouble.
            place: How far the place went today, likewise.
        """
        last, speak_for, against = None, 0, 0
        within = self.within_milli_k + 1  # both ends are rounded
        for one in past.asked(today):
            milder, cooler = air - one.air, place - one.before
            if one.passed and 0 <= milder <= within and 0 <= cooler <= within:
                last, speak_for = one.day, speak_for + 1
            elif one.tells_calm and -within <= milder <= 0 and -within <= cooler <= 0:
                against += 1
        share, of = MOSTLY
        if last is None or speak_for < self.days or speak_for * of < share * (speak_for + against):
            return None
        return Expected(days=speak_for, against=against, last=last)

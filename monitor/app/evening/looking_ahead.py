"""The look ahead: trouble that tomorrow is expected to bring to each worm bin, by the record and what is known of the air.

Heaps make their own heat and are left out: no air takes one past its limit.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from monitor.app.entries.work_log import Entered, work_log
from monitor.app.evening.daily_reach import DaySpan, place_reach
from monitor.app.evening.forecasts_given import forecasts_given, said_before
from monitor.engine import Engine
from monitor.forecast import (
    MOST_DAYS,
    Expected,
    Outlook,
    Reach,
    RecordRule,
    Score,
    Trouble,
    enough,
    held_against_itself,
    must_prove_itself,
    outlook,
    past_of,
    persistence,
    serves,
)
from monitor.journal import Store
from monitor.model.alarm_kinds import Alarm, alarm_key
from monitor.model.evening import EveningPolicy
from monitor.model.settings import AMBIENT
from monitor.model.words import Role
from monitor.model.work import WorkKind
from monitor.notices import instant, local

ACTS = frozenset({WorkKind.COVERED, WorkKind.WATERED, WorkKind.BEDDED})
"""Work at a bin that keeps heat or frost off it: a day after it that stayed calm tells nothing of the air."""
_NOON_HOUR = 12
_WARMEST_PAST_HOUR = 17
"""From this hour on the day's high is known, and tomorrow may be taken to be as today (ours)."""
_TELLS = {
    Trouble.HEAT: (Alarm.OVERHEATING, Alarm.WORMS_IN_DANGER),
    Trouble.FROST: (Alarm.FREEZING,),
}
"""The alarms of each trouble: while one is on, it says all there is to say."""
_NO_WORRY_K = {Trouble.HEAT: 20_000, Trouble.FROST: 15_000}
"""Where tomorrow's air stays on the safe side of the limit by as much, the record is not even read (ours)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceAhead:
    """A bin that is expected to pass its limit tomorrow.

    Attributes:
        place: Its id.
        limit: The limit, thousandths of °C.
        expected: The days that say so.
        score: How often the rule was right on its newest evenings of this kind.
        proven: Whether the rule must have been judged here before it is told.
        alarm_on: Whether its alarm is on already.
        acted: Whether somebody has covered it since noon.
    """

    place: str
    limit: int
    expected: Expected
    score: Score
    proven: bool
    alarm_on: bool
    acted: bool

    @property
    def worth_telling(self) -> bool:
        """Whether a message beats waiting for the alarm: nothing says it yet, nobody has acted, and the rule proves right."""
        return not self.alarm_on and not self.acted and self.sure

    @property
    def sure(self) -> bool:
        """Whether the rule was right often enough at this bin."""
        return enough(self.score, proven=self.proven)


@dataclass(frozen=True, slots=True, kw_only=True)
class TomorrowAhead:
    """One trouble that tomorrow may bring, and where."""

    trouble: Trouble
    air: Outlook
    places: tuple[PlaceAhead, ...]


def look_ahead(engine: Engine, store: Store, policy: EveningPolicy, now: int) -> list[TomorrowAhead]:
    """Return the trouble that tomorrow is expected to bring, of each kind; nothing where nothing is known of its air.

    Args:
        engine: An engine at the end of the record.
        store: The journal.
        policy: The figures of the rule.
        now: The instant of the look, UTC ms.
    """
    settings = engine.state.settings
    bins = [place for place in settings.bins if not engine.core.nothing_lies(place)]
    if not bins:
        return []
    look = _Look(engine, store, policy, now)
    return [one for trouble in Trouble if (one := look.ahead(trouble, bins)) is not None]


class _Look:
    """One look at the record."""

    def __init__(self, engine: Engine, store: Store, policy: EveningPolicy, now: int) -> None:
        self._engine, self._store, self._now, self._policy = engine, store, now, policy
        self._rule = RecordRule(within_milli_k=policy.within_milli_k, days=policy.days)
        settings = engine.state.settings
        self._settings, self._zone = settings, ZoneInfo(settings.site.time_zone)
        self._today = local(now, self._zone).date()
        self._tomorrow = self._today + timedelta(days=1)
        self._works = work_log(store)
        self._given = forecasts_given(self._works, settings)
        self._span = DaySpan(self._today - timedelta(days=MOST_DAYS + 1), self._today, self._zone, now)
        self._air: dict[date, Reach] | None = None

    def ahead(self, trouble: Trouble, bins: Iterable[str]) -> TomorrowAhead | None:
        """Return the bins to which a trouble is expected to come, or None where nothing is known of the air."""
        given = outlook(self._given, trouble, self._tomorrow, self._now)
        air = given or self._as_today(trouble)
        if air is None:
            return None
        found = [one for place in bins if (one := self._place(trouble, place, air)) is not None]
        return TomorrowAhead(trouble=trouble, air=air, places=tuple(found))

    def _place(self, trouble: Trouble, place: str, air: Outlook) -> PlaceAhead | None:
        limits = self._settings.bins[place].thresholds
        limit = limits.overheating_milli_c if trouble is Trouble.HEAT else limits.near_freezing_milli_c
        sign = trouble.sign
        if sign * (limit - air.milli_c) > _NO_WORRY_K[trouble]:
            return None
        reach = place_reach(self._engine, self._store, place, Role.BEDDING, self._span)
        acts = _acted(self._works, place, self._zone, ACTS)
        past = past_of(trouble, limit, reach, self._air_record(), acts)
        today = past.place.get(self._today)
        if today is None:
            return None
        expected = self._rule.foresee(past, self._today, sign * air.milli_c, today)
        if expected is None:
            return None
        evenings = [(day, instant(day, self._policy.minute, self._zone)) for day in self._span.days[:-1]]
        said = said_before(self._given, trouble, evenings)
        calm = today < past.limit
        score = held_against_itself(self._rule, past, self._today, said, after_calm=calm, persists=serves(trouble))
        alarms = [self._engine.state.alarms.get(alarm_key(place, alarm)) for alarm in _TELLS[trouble]]
        return PlaceAhead(
            place=place,
            limit=limit,
            expected=expected,
            score=score,
            proven=must_prove_itself(trouble, air.whence),
            alarm_on=any(record is not None and record.on for record in alarms),
            acted=self._tomorrow in _acted(self._works, place, self._zone, {WorkKind.COVERED}),
        )

    def _as_today(self, trouble: Trouble) -> Outlook | None:
        if not serves(trouble) or local(self._now, self._zone).hour < _WARMEST_PAST_HOUR:
            return None
        return persistence(self._air_record(), trouble, self._tomorrow)

    def _air_record(self) -> Mapping[date, Reach]:
        if self._air is None:
            self._air = place_reach(self._engine, self._store, AMBIENT, Role.AMBIENT, self._span)
        return self._air


def _acted(entries: Iterable[Entered], place: str, zone: ZoneInfo, kinds: Collection[WorkKind]) -> set[date]:
    """Return the days for which somebody had acted: on the day itself, or after noon of the day before.

    Args:
        entries: The log.
        place: The place.
        zone: The yard's time zone.
        kinds: The kinds of work that count.
    """
    found: set[date] = set()
    for one in entries:
        work = one.work
        if work is not None and work.place == place and work.kind in kinds:
            then = local(work.time, zone)
            found |= {then.date(), *([then.date() + timedelta(days=1)] if then.hour >= _NOON_HOUR else [])}
    return found

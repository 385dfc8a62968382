"""A season in words and in the values of its pictures, in the yard's own measures."""

from collections.abc import Iterator, Sequence
from datetime import date
from zoneinfo import ZoneInfo

from monitor.app.console.measures import Measures
from monitor.app.reporting import mass_said
from monitor.app.seasons.season_gathered import Season
from monitor.drawing import Course, YearBand
from monitor.material import HeatStatus, Node, NodeKind
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import show_percent, show_temperature
from monitor.notices import clean, local
from monitor.page import BinShown, Fact, HeapShown
from monitor.proof.rules import NO_RULE
from monitor.reports import BinYear, DayReach, HeapCourse, Step, Watered

_NOTHING = "–"
_LONGEST = 400
"""The most letters of what went in that are shown."""
_UNKNOWN = "nobody wrote that down"
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


class SeasonWords:
    """Words a season."""

    def __init__(self, season: Season, settings: Settings, measures: Measures) -> None:
        """Take what is to be told.

        Args:
            season: The season.
            settings: The settings in force, for names, time zone and unit.
            measures: The yard's measures.
        """
        self._season, self._settings, self._measures = season, settings, measures
        self._zone = ZoneInfo(settings.site.time_zone)

    def heaps(self) -> tuple[HeapShown, ...]:
        """Return the heaps."""
        return tuple(self._heap(one) for one in self._season.heaps)

    def bins(self) -> tuple[BinShown, ...]:
        """Return the bins."""
        most = max((mass.known_g for one in self._season.bins for mass in one.fed.values()), default=0)
        return tuple(self._bin(one, most) for one in self._season.bins)

    def _heap(self, heap: HeapCourse) -> HeapShown:
        name, built = self._place(heap.place), self._day(heap.built)
        facts = tuple(self._heap_facts(heap))
        return HeapShown(
            batch=heap.batch,
            place=heap.place,
            lies=heap.ended is None,
            name=name,
            built=built,
            course=self._course(heap, f"{name}, built {built}", facts),
            facts=facts,
            waits=heap.heat.waits,
        )

    def _course(self, heap: HeapCourse, title: str, facts: Sequence[Fact]) -> Course:
        def day(at: int) -> float:
            return (at - heap.built) / DAY_MS

        def steps(some: Sequence[Step]) -> list[tuple[float, int, int]]:
            return [(day(one.at), one.low, one.high) for one in some]

        heat, ended = heap.heat, self._season.now if heap.ended is None else heap.ended
        held = f"at {self._degrees(heat.hold_milli_c, whole=True)}: {_days(heat.held_ms)}" if heat.held_ms else ""
        told = ("To the hold", "At the hold", "Hottest", "Turned", "Rule")
        return Course(
            days=day(ended),
            over=heap.ended is not None,
            steps=steps(heat.steps),
            rounds=steps(heat.rounds),
            holds=[(day(start), day(end)) for start, end in heat.holds],
            hold=heat.hold_milli_c,
            held=held,
            turned=[day(at) for at in heap.turned],
            watered=[day(at) for at in heap.watered_at],
            added=[day(at) for at in heap.added_at],
            title=title,
            words=" ".join(f"{one.name}: {one.words}." for one in facts if one.name in told),
        )

    def _heap_facts(self, heap: HeapCourse) -> Iterator[Fact]:
        """Yield the facts on a heap; their names are those of the table's columns, so they are the same for each."""
        now = self._season.now
        yield Fact("C/N", "not known" if heap.carbon is None else f"{heap.carbon:.0f}", short=True)
        yield Fact("To the hold", self._to_the_hold(heap, now), short=True)
        yield Fact("At the hold", self._held(heap), short=True)
        yield Fact("Hottest", self._hottest(heap), short=True)
        yield Fact("Turned", _times(len(heap.turned)), short=True)
        yield Fact("Water", self._water(heap.water), short=True)
        yield Fact("Went in", self._went_in(heap))
        yield Fact("Rule", self._rule(heap))
        yield Fact("Came of it", self._came(heap))

    def _hottest(self, heap: HeapCourse) -> str:
        if heap.heat.hottest is None:
            return _NOTHING
        at, milli = heap.heat.hottest
        return f"{self._degrees(milli)}, day {(at - heap.built) // DAY_MS}"

    def _went_in(self, heap: HeapCourse) -> str:
        mass = "" if not heap.start.known_g else f"{mass_said(heap.start, self._measures)}: "
        made = clean(heap.made_of, _LONGEST) if heap.made_of else ""
        more = f"; more was added {_times(len(heap.added_at))}" if heap.added_at else ""
        return (f"{mass}{made}" if made else mass.removesuffix(": ") or _UNKNOWN) + more

    def _to_the_hold(self, heap: HeapCourse, now: int) -> str:
        heat = heap.heat
        if heat.waits:
            return _NOTHING
        if heat.held_from is None:
            if not heat.steps and not heat.rounds:
                return "nobody read it"
            return "never" if heap.ended is not None else f"not yet, on day {(now - heap.built) // DAY_MS}"
        anew = heat.counts_from > heap.built
        said = _days(heat.held_from - heat.counts_from)
        return f"{said}, counted anew from day {(heat.counts_from - heap.built) // DAY_MS}" if anew else said

    def _held(self, heap: HeapCourse) -> str:
        heat = heap.heat
        if not heat.held_ms:
            return _NOTHING
        whole, longest = _days(heat.held_ms), _days(heat.longest_ms)
        return whole if longest == whole else f"{whole}, {longest} in one piece"

    def _water(self, water: Watered) -> str:
        if not water.entries:
            return _NOTHING
        least = "at least " if water.without and water.ml else ""
        poured = f"{least}{self._measures.water(water.ml)}" if water.ml else "nobody knows how much"
        return f"{poured}, {_times(water.entries)}"

    def _rule(self, heap: HeapCourse) -> str:
        heat = heap.heat
        if heap.rule == NO_RULE:
            return "none is followed"
        if heat.waits:
            return f"{heap.rule}, being worked out"
        if heat.heat is None:
            return f"nothing is proven by {heap.rule}"
        if heat.met_at is not None:
            return f"met on {self._day(heat.met_at)}, day {(heat.met_at - heap.built) // DAY_MS} ({heap.rule})"
        void = "raw material came in and made it begin anew, " if heat.heat is HeatStatus.VOID else ""
        lies = heap.ended is None
        return f"not met{' yet' if lies else ''}: {void}{heat.progress} ({heap.rule})"

    def _came(self, heap: HeapCourse) -> str:
        parts = [self._node(one) for one in heap.became]
        mass = f"{mass_said(heap.end, self._measures)} taken out: " if heap.end.known_g else ""
        said = f"{mass}{', '.join(dict.fromkeys(parts))}" if parts else ""
        if heap.merged_into:
            said = f"{said + '; ' if said else ''}thrown onto {heap.merged_into}"
        if heap.ended is None:
            age = f"lies there still, day {(self._season.now - heap.built) // DAY_MS}"
            return f"{said}; {age}" if said else age
        gone = f"gone on {self._day(heap.ended)}"
        return f"{said}; {gone}" if said else f"{gone}; nobody wrote down what became of it"

    def _node(self, node: Node) -> str:
        if node.kind is NodeKind.BED:
            place = node.id.rsplit("-", 3)[0]
            return f"bedding of {self._place(place)}"
        if node.kind is NodeKind.LOT:
            return f"lot {node.id}"
        return f"{node.kind.value} {node.id}"

    def _bin(self, one: BinYear, most_g: int) -> BinShown:
        name = self._place(one.place)
        facts = tuple(self._bin_facts(one)) if not one.empty else ()
        span, limits = self._season.span, one.limits
        band = YearBand(
            first=span.first,
            last=span.last,
            heat=one.heat,
            comfort=(limits.cool_milli_c, limits.warm_milli_c),
            hot=limits.overheating_milli_c,
            frost=max(limits.near_freezing_milli_c, limits.freezing_milli_c),
            hot_days=one.hot,
            frost_days=one.near_frost,
            damp=one.damp,
            aim=(limits.aim_low_milli_pct, limits.aim_high_milli_pct),
            fed={month: mass.known_g / most_g for month, mass in one.fed.items()} if most_g else {},
            taken=[(local(two.at, self._zone).date(), mass_said(two.mass, self._measures)) for two in one.taken],
            title=f"{name}, {span.name}",
            words=" ".join(f"{fact.name}: {fact.words}." for fact in facts),
        )
        columns, months = self._months(one)
        return BinShown(
            place=one.place,
            name=name,
            band=None if one.empty else band,
            facts=facts,
            columns=columns,
            months=months,
        )

    def _bin_facts(self, one: BinYear) -> Iterator[Fact]:
        limits = one.limits
        if one.heat:
            low, cold_day = min((low, day) for day, (low, _) in one.heat.items())
            high, hot_day = max((high, day) for day, (_, high) in one.heat.items())
            near = max(limits.near_freezing_milli_c, limits.freezing_milli_c)
            yield Fact("Coldest", f"{self._degrees(low)}, {_date(cold_day)}", short=True)
            yield Fact("Hottest", f"{self._degrees(high)}, {_date(hot_day)}", short=True)
            yield Fact("Read on", _counted(len(one.heat), "day"), short=True)
            beyond = f"more than {self._degrees(limits.danger_any_milli_c, whole=True)}"
            yield Fact(
                f"{self._degrees(limits.overheating_milli_c, whole=True)} or more",
                _past(one.hot, one.danger, beyond),
                short=True,
            )
            beyond = f"{self._degrees(limits.freezing_milli_c, whole=True)} or less"
            yield Fact(
                f"{self._degrees(near, whole=True)} or less", _past(one.near_frost, one.frost, beyond), short=True
            )
            told = f"on {_counted(len(one.alarmed), 'day')}" if one.alarmed else "none"
            yield Fact("Alarms of heat or frost", told, short=True)
        else:
            yield Fact("Temperature", "nobody read it", short=True)
        damp = [value for both in one.damp.values() for value in both]
        yield Fact("Moisture", _moist(damp) or "not known", short=True)
        fed = one.fed_in_all
        said = f"{mass_said(fed, self._measures)}, {_times(fed.entries)}" if fed.entries else _NOTHING
        yield Fact("Fed", said, short=True)
        taken = [f"{mass_said(two.mass, self._measures)} on {self._day(two.at)}" for two in one.taken]
        yield Fact("Harvested", ", ".join(taken) or _NOTHING, short=len(taken) < 2)

    def _months(self, one: BinYear) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
        """Return a bin's table: what the picture says, month by month."""
        columns = ("Month", "Lowest", "Highest", "Too hot", "Frost", "Moisture", "Fed", "Harvested")
        heat, damp_days, rows = _by_month(one.heat), _by_month(one.damp), []
        for month in self._season.span.months:
            mine = heat.get(month, [])
            damp = [value for both in damp_days.get(month, ()) for value in both]
            taken = [two.mass for two in one.taken if self._season.span.month_of(two.at) == month]
            fed = one.fed.get(month)
            if not (mine or damp or taken or fed):
                continue
            rows.append(
                (
                    f"{_MONTHS[int(month[5:]) - 1]} {month[:4]}",
                    self._degrees(min(low for low, _ in mine)) if mine else _NOTHING,
                    self._degrees(max(high for _, high in mine)) if mine else _NOTHING,
                    _in_month(one.hot, month) if mine else _NOTHING,
                    _in_month(one.near_frost, month) if mine else _NOTHING,
                    _moist(damp) or _NOTHING,
                    _NOTHING if fed is None else mass_said(fed, self._measures),
                    ", ".join(mass_said(mass, self._measures) for mass in taken) or _NOTHING,
                )
            )
        return columns, tuple(rows)

    def _place(self, place: str) -> str:
        return clean(self._settings.place_name(place))

    def _degrees(self, milli: int, *, whole: bool = False) -> str:
        return show_temperature(milli, self._settings.site.temperature_unit, whole=whole)

    def _day(self, at: int) -> str:
        moment = local(at, self._zone)
        return f"{_date(moment.date())} {moment.year}"


def _date(day: date) -> str:
    return f"{day.day} {_MONTHS[day.month - 1][:3]}"


def _past(days: Sequence[date], worse: Sequence[date], beyond: str) -> str:
    """Return on how many days a limit was passed, and on how many of them the next one."""
    said = _counted(len(days), "day") if days else "no day"
    if not worse:
        return said
    which = f"{len(worse)} of them" if len(worse) < len(days) else "even" if len(days) == 1 else "all of them"
    return f"{said}, {which} {beyond}"


def _moist(values: Sequence[int]) -> str:
    """Return the lowest to the highest of some moistures; "" for none."""
    if not values:
        return ""
    low, high = (show_percent(one, whole=True) for one in (min(values), max(values)))
    return low if low == high else f"{low} to {high}"


def _by_month(reach: DayReach) -> dict[str, list[tuple[int, int]]]:
    found: dict[str, list[tuple[int, int]]] = {}
    for day, both in reach.items():
        found.setdefault(f"{day.year:04d}-{day.month:02d}", []).append(both)
    return found


def _in_month(days: Sequence[date], month: str) -> str:
    return _counted(sum(f"{day:%Y-%m}" == month for day in days), "day")


def _counted(count: int, word: str) -> str:
    return f"{count} {word}{'' if count == 1 else 's'}"


def _times(count: int) -> str:
    return {0: "not once", 1: "once", 2: "twice"}.get(count, f"{count} times")


def _days(span_ms: int) -> str:
    """Return a time in days, to a tenth; less than a day in hours. Cut off, never rounded up."""
    if span_ms < DAY_MS:
        return _counted(span_ms // HOUR_MS, "hour")
    tenths = span_ms * 10 // DAY_MS
    return "1 day" if tenths == 10 else f"{tenths / 10:g} days"

"""Compares today's settings and changed ones on one record: which messages come, go or move, and why.

Rules: a row is a message to people (its repeats do not count again) or the date of a phase; unchanged ones are only counted.
*Why* names the changed threshold that decides the alarm; an alarm without one follows from another alarm.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from zoneinfo import ZoneInfo

from monitor.app.yard.effect_words import local_time
from monitor.configuration import keys_of, show_both
from monitor.model.alarm_kinds import CATALOG, alarm_name
from monitor.model.effects import Effect
from monitor.model.settings import Settings
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds
from monitor.model.times import show_duration
from monitor.model.words import PHASE_SHOWN
from monitor.tuning import SHOWN, Fate, Ground, Heard, Pair, heard, pairs_of, phase_dates


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One row of the table, as texts."""

    fate: str
    now: str
    changed: str
    what: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A threshold that differs.

    Attributes:
        place: Id of the place, or "" for the yard's probes.
        key: The threshold's key.
        words: Key and both values, for people.
    """

    place: str
    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Both:
    """Two runs of one record.

    Attributes:
        settings, other: The settings of the first run, and the changed ones.
        now, changed: The effects under each.
        start, end: The span of the record, UTC ms.
    """

    settings: Settings
    other: Settings
    now: Sequence[Effect]
    changed: Sequence[Effect]
    start: int
    end: int

    def places(self) -> list[str]:
        """Return the places of the record."""
        return [*self.settings.piles, *self.settings.bins]

    def heard(self, place: str) -> tuple[Heard, Heard]:
        """Return each run's messages about a place."""
        return heard(self.now, place, self.end), heard(self.changed, place, self.end)

    def lines(self) -> Iterator[str]:
        """Yield the lines of the text form."""
        changes = changes_between(self.settings, self.other)
        yield f"Changed: {'; '.join(_whole(change, self.settings) for change in changes) or 'nothing'}."
        rows: list[tuple[int, Line]] = []
        stays = 0
        for place in self.places():
            now, changed = self.heard(place)
            pairs = pairs_of(now.calls, changed.calls)
            stays += sum(pair.fate is Fate.STAYS for pair in pairs)
            rows += [
                (pair.call.first, self._line(place, pair, changes)) for pair in pairs if pair.fate is not Fate.STAYS
            ]
            rows += self._phases(place, changes)
        if rows:
            yield ""
            yield from _table([line for _, line in sorted(rows, key=lambda row: (row[0], row[1].what))])
            yield ""
        yield _summary([line.fate for _, line in rows], stays)

    def _line(self, place: str, pair: Pair, changes: Sequence[Change]) -> Line:
        name = self.settings.place_name(place)
        alarm = alarm_name(pair.call.alarm)
        probe = pair.call.key.split("/")[2:]
        return Line(
            fate=pair.fate.value,
            now="–" if pair.now is None else local_time(pair.now.first, self.settings),
            changed=_told(pair, self.settings),
            what=f"{name}: {alarm}{f' ({probe[0]})' if probe else ''}",
            why=_why(place, pair.call.alarm, changes),
        )

    def _phases(self, place: str, changes: Sequence[Change]) -> list[tuple[int, Line]]:
        rows: list[tuple[int, Line]] = []
        theirs = {one.batch: one.dates for one in phase_dates(self.changed, place)}
        name = self.settings.place_name(place)
        for batch in phase_dates(self.now, place):
            for phase, now, then in zip(SHOWN, batch.dates, theirs.get(batch.batch, (None,) * len(SHOWN)), strict=True):
                if now == then:
                    continue
                fate = Fate.MOVED if now is not None and then is not None else Fate.NEW if now is None else Fate.GONE
                line = Line(
                    fate=fate.value,
                    now="–" if now is None else local_time(now, self.settings),
                    changed="–" if then is None else local_time(then, self.settings) + _by(now, then),
                    what=f"{name}: {PHASE_SHOWN[phase]} (phase)",
                    why=_why(place, "", changes),
                )
                rows.append((now if now is not None else then or 0, line))
        return rows

    def picture(self) -> str:
        """Return one SVG with the record of each place where something changes."""
        from monitor.app.tuning_report.report_pictures import Side, one_svg, strip_picture  # noqa: PLC0415 (only where it is asked for)

        zone = ZoneInfo(self.settings.site.time_zone)
        said = {place: self.heard(place) for place in self.places()}
        moved = [place for place, (now, changed) in said.items() if now != changed]
        pictures = []
        for place in moved or [place for place in said if said[place][0].calls] or self.places():
            now, changed = said[place]
            name = self.settings.place_name(place)
            ground = Ground(place=place, start=self.start, end=self.end, troubles=(), judged=(), fine_said=False)
            one = Side(name=f"{name}, as it is", effects=self.now, calls=now.calls)
            other = Side(name=f"{name}, with the change", effects=self.changed, calls=changed.calls)
            pictures.append(strip_picture(ground, zone, one, other, f"{name}: both settings side by side"))
        return one_svg(pictures)


def changes_between(settings: Settings, other: Settings) -> list[Change]:
    """Return the thresholds in which two settings differ."""
    pairs: list[tuple[str, BinThresholds | PileThresholds | ProbeThresholds, object]] = [
        ("", settings.probe_thresholds, other.probe_thresholds)
    ]
    pairs += [(place, pile.thresholds, other.piles[place].thresholds) for place, pile in settings.piles.items()]
    pairs += [(place, bed.thresholds, other.bins[place].thresholds) for place, bed in settings.bins.items()]
    found: list[Change] = []
    for place, now, then in pairs:
        known = {one.field: one for one in keys_of(type(now)).values()}
        for field in fields(now):
            mine, theirs = getattr(now, field.name), getattr(then, field.name)
            if mine != theirs:
                one = known[field.name]
                side = 0 if settings.site.temperature_unit == "degF" else 1
                before, after = show_both(one.kind, mine)[side], show_both(one.kind, theirs)[side]
                found.append(Change(place=place, key=one.key, words=f"{one.key} {after} instead of {before}"))
    return found


def _why(place: str, alarm: str, changes: Sequence[Change]) -> str:
    keys = CATALOG[alarm].goes_by
    mine = [one for one in changes if one.place in (place, "") and (not keys or one.key in keys)]
    if mine:
        return "; ".join(one.words for one in mine)
    return "follows from what else changed"


def _whole(change: Change, settings: Settings) -> str:
    return f"{settings.place_name(change.place) or 'probes'}, {change.words}"


def _told(pair: Pair, settings: Settings) -> str:
    if pair.changed is None:
        return "–"
    moved = "" if pair.now is None else _by(pair.now.first, pair.changed.first)
    return local_time(pair.changed.first, settings) + moved


def _by(now: int | None, then: int) -> str:
    if now is None:
        return ""
    return f" ({show_duration(abs(then - now))} {'later' if then > now else 'earlier'})"


def _table(rows: Sequence[Line]) -> Iterator[str]:
    head = Line(fate="", now="as it is", changed="with the change", what="what", why="why")
    columns = [[getattr(row, field.name) for row in (head, *rows)] for field in fields(Line)]
    widths = [max(len(text) for text in column) for column in columns[:-1]]
    for texts in zip(*columns, strict=True):
        padded = [text.ljust(width) for text, width in zip(texts, widths, strict=False)]
        yield "  ".join([*padded, texts[-1]]).rstrip()


def _summary(fates: Sequence[str], stays: int) -> str:
    counts = [f"{fates.count(fate.value)} {word}" for fate, word in _FATES.items() if fate.value in fates]
    same = "1 message stays as it is" if stays == 1 else f"{stays} messages stay as they are"
    return f"{', '.join([*counts, same])}." if counts else f"Nothing people hear of changes; {same}."


_FATES = {Fate.NEW: "new", Fate.GONE: "gone", Fate.MOVED: "moved"}

"""A report in words: sections with tables, for a screen, the page and a sheet of paper.

Every mass says how it is known: weighed, estimated, or both; ± is the standard error where full containers were weighed.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from fractions import Fraction

from monitor.app.console.measures import Measures
from monitor.model.settings import Settings
from monitor.model.work import WorkKind
from monitor.model.work_kinds import declared
from monitor.notices import clean, local, say_date
from monitor.reports import Report, Section, Sum, TakenIn, Turn

_NOTHING = "–"


def report_sections(report: Report, settings: Settings, measures: Measures) -> list[Section]:
    """Return the sections of a report, those that have something to say.

    Args:
        report: The report.
        settings: The settings in force, for names.
        measures: The yard's measures.
    """
    words = _Words(report, settings, measures)
    sections = (words.taken_in(), words.heaps(), words.worms(), words.given(), words.gone(), words.told(),
                words.looked(), words.methane())  # fmt: skip
    return [one for one in sections if one.rows or one.lines]


def heading_of(report: Report, settings: Settings) -> str:
    """Return the heading of a report: the yard, the time, and whether that is over.

    Args:
        report: The report.
        settings: The settings in force, for the yard's name.
    """
    so_far = f", so far (until {say_date(report.now, report.span.zone)})" if report.goes_on else ""
    name = clean(settings.site.name) if settings.site.name else "The yard"
    return f"{name}, {report.span.name}{so_far}"


def mass_said(mass: Sum, measures: Measures, error_g: float = 0.0) -> str:
    """Return a sum of masses in words: `688 kg ± 11 kg`, `about 120 kg`, or that nobody knows.

    Args:
        mass: The sum.
        measures: The yard's measures.
        error_g: Its standard error, g.
    """
    if not mass.known_g:
        return "nobody knows how much" if mass.without else _NOTHING
    about = "" if mass.measured_g == mass.known_g else "about "
    least = "at least " if mass.without else ""
    error = f" ± {measures.mass(error_g)}" if error_g else ""
    return f"{least}{about}{measures.mass(mass.known_g)}{error}"


def dry_said(mass: Sum, measures: Measures) -> str:
    """Return the dry matter of a sum in words.

    Args:
        mass: The sum.
        measures: The yard's measures.
    """
    if not mass.dry_g:
        return _NOTHING if not mass.undried else "not known"
    return f"{'at least ' if mass.undried else ''}{measures.mass(mass.dry_g)}"


def days_said(days: Sequence[date]) -> str:
    """Return days in words, those that follow one another together: `4 Oct, 9 to 11 Oct`."""
    runs: list[tuple[date, date]] = []
    for day in days:
        if runs and day - runs[-1][1] == timedelta(days=1):
            runs[-1] = (runs[-1][0], day)
        else:
            runs.append((day, day))
    return ", ".join(_run_said(first, last) for first, last in runs)


class _Words:
    def __init__(self, report: Report, settings: Settings, measures: Measures) -> None:
        self.report, self.settings, self.measures = report, settings, measures

    def taken_in(self) -> Section:
        report = self.report
        if not report.rows:
            return Section("Taken in", lines=("No delivery is written down.", *self._refused()))
        by_month = len({row.month for row in report.rows}) > 1
        rows = [self._row(row, by_month=by_month) for row in report.rows]
        if len(rows) > 1:
            rows.append(self._row(report.taken_in, by_month=by_month, whole=True))
        columns = ("From", "What", "How much", "Weighed")
        return Section(
            "Taken in",
            ("Month", *columns) if by_month else columns,
            tuple(rows),
            (*self._notes(report.taken_in), *self._refused()),
        )

    def _row(self, row: TakenIn, *, by_month: bool, whole: bool = False) -> tuple[str, ...]:
        share = row.mass.measured_share
        cells = (
            "All together" if whole else clean(row.supplier) if row.supplier else "nobody is named",
            "" if whole else clean(row.material),
            mass_said(row.mass, self.measures, row.doubt.error_g),
            _NOTHING if share is None else _percent(share),
        )
        return ("" if whole else row.month, *cells) if by_month else cells

    def _notes(self, whole: TakenIn) -> Iterator[str]:
        if whole.mass.without:
            many = _many(whole.mass.without, "load has", "loads have")
            yield f"{many} an amount that nobody can weigh, and {_is(whole.mass.without)} in no sum."
        if whole.mass.estimated_g:
            yield "What was not weighed is estimated by volume and density."
        if whole.doubt.error_g:
            yield "± is the standard error of the full containers that were weighed."
        if whole.doubt.once:
            many = _many(whole.doubt.once, "load", "loads")
            yield f"Of the containers of {many} a single full one was weighed, so nobody knows how far that may be off."

    def _refused(self) -> Iterator[str]:
        for work in self.report.refused:
            whom = f" from {clean(work.source)}" if work.source else ""
            yield f"Sent back on {self._day(work.time)}: {clean(work.what)}{whom} ({clean(work.refused)})."

    def heaps(self) -> Section:
        turnings, lines = self.report.turnings, []
        rows = tuple(
            (self._day(one.at), one.batch, one.rule, "met" if one.what is Turn.MET else "void: raw material came in")
            for one in self.report.heap_turns
        )
        if not rows:
            lines.append("No heap met its rule, and none became void.")
        if turnings.logged:
            more = f" ({turnings.logged} entries; those less than 6 hours apart count as one)"
            lines.append(
                f"{_many(turnings.counted, 'turning', 'turnings')}{more if turnings.logged > turnings.counted else ''}."
            )
        else:
            lines.append("No turning.")
        return Section("Heaps", ("Day", "Heap", "Rule", "Became") if rows else (), rows, tuple(lines))

    def worms(self) -> Section:
        report = self.report
        rows = [("Fed", report.fed), ("Harvested", report.harvested)]
        rows += [(f"Screened: {name}", mass) for name, mass in report.screened.items()]
        lines = [self._water()] if report.watered.entries else ["No watering."]
        return Section(
            "Worms, castings, water", ("What", "Times", "As it lay", "Dry"),
            tuple(
                (name, str(mass.entries), mass_said(mass, self.measures), dry_said(mass, self.measures))
                for name, mass in rows if mass.entries
            ),
            tuple(lines),
        )  # fmt: skip

    def _water(self) -> str:
        water = self.report.watered
        times = _many(water.entries, "watering", "waterings")
        if water.without == water.entries:
            return f"{times}; nobody wrote down how much."
        more = f"; {water.without} more without an amount" if water.without else ""
        known = _many(water.entries - water.without, "watering", "waterings")
        return f"Water: {self.measures.water(water.ml)} in {known}{more}."

    def given(self) -> Section:
        given = self.report.given_out
        if not given.mass.entries:
            return Section("Given out", lines=("Nothing was given out.",))
        held = ", ".join(
            f"{_number(count)} {unit}{'' if count == 1 else 's'}" for unit, count in given.containers.items()
        )
        whom = f"to {_many(given.people, 'person', 'people')}{f', of that {held}' if held else ''}"
        dry = dry_said(given.mass, self.measures)
        said = f"{mass_said(given.mass, self.measures)} {whom}. Dry matter: {dry}."
        return Section("Given out", lines=(said[:1].upper() + said[1:],))

    def gone(self) -> Section:
        rows = tuple(
            (self._day(one.at), one.node.id, _GONE.get(one.kind, "lost, by two weighings"),
             self.measures.mass(one.wet_g), _NOTHING if one.dry_g is None else self.measures.mass(one.dry_g))
            for one in self.report.gone
        )  # fmt: skip
        lines = tuple(
            f"{one.node.id}: {abs(one.percent):.0f} % {'less' if one.percent > 0 else 'more'} dry matter came out than went in."
            for one in self.report.gaps
        )
        return Section(
            "Gone, and what does not add up", ("Day", "Of", "How", "As it lay", "Dry") if rows else (), rows, lines
        )

    def told(self) -> Section:
        rows = tuple(
            (
                self._day(work.time),
                declared(work.kind).past,
                clean(work.note, 300),
                clean(work.spot) if work.spot else "",
            )
            for work in self.report.told
        )
        return Section(
            "Incidents, complaints, pests, visitors, weather",
            ("Day", "What", "Note", "Spot") if any(row[3] for row in rows) else ("Day", "What", "Note") if rows else (),
            rows if any(row[3] for row in rows) else tuple(row[:3] for row in rows),
            () if rows else ("None is written down.",),
        )

    def looked(self) -> Section:
        days, counted = self.report.unlooked, self.report.days_counted
        if not counted:
            return Section("Days without an entry", lines=("No whole day of the record lies in it.",))
        if not days:
            words = "There is something on every day." if counted > 1 else "There is something on the one day."
        else:
            words = f"{len(days)} of {_many(counted, 'day', 'days')}: {days_said(days)}."
        return Section("Days without an entry, a reading by hand or an answer", lines=(words,))

    def methane(self) -> Section:
        report = self.report
        if report.factor is None or not report.methane_g:
            return Section("Methane")
        least = "at least " if report.taken_in.mass.without else ""
        by = (
            f"{report.factor.kg_per_kg:g} for each part of what came in, as it lay ({clean(report.factor.source, 300)})"
        )
        said = f"{least}{self.measures.mass(report.methane_g)}: {by}."
        said = said[:1].upper() + said[1:]
        return Section("Methane avoided, by the yard's own factor", lines=(said,))

    def _day(self, at: int) -> str:
        day = local(at, self.report.span.zone).date()
        return _run_said(day, day)


_GONE = {WorkKind.EMPTIED: "cleared away", WorkKind.COUNTED: "missing at a count"}


def report_lines(heading: str, sections: Iterable[Section]) -> Iterator[str]:
    """Yield a report as lines of text, tables in columns.

    Args:
        heading: Its heading.
        sections: Its sections.
    """
    yield heading
    for one in sections:
        yield ""
        yield one.heading
        table = [one.columns, *one.rows] if one.rows else []
        widths = [max(len(row[at]) for row in table) for at in range(len(one.columns))] if table else []
        for row in table:
            yield "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
        for line in one.lines:
            yield f"  {line}"


def _run_said(first: date, last: date) -> str:
    end = f"{last.day} {last:%b}"
    if first == last:
        return end
    return f"{first.day}{'' if first.month == last.month else f' {first:%b}'} to {end}"


def _percent(share: float) -> str:
    """Return a share in percent; neither all nor none unless it is so."""
    percent = round(100 * share)
    return f"{min(max(percent, 1 if share > 0 else 0), 99 if share < 1 else 100)} %"


def _number(count: Fraction) -> str:
    return f"{float(count):g}"


def _many(count: int, one: str, more: str) -> str:
    return f"{count} {one if count == 1 else more}"


def _is(count: int) -> str:
    return "is" if count == 1 else "are"

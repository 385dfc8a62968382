"""The season: heaps beside each other by days since they were built, and bins over a year.

Rules:
1. At most `HEAPS_MOST` heaps and `BINS_MOST` bins stand on one sheet, so that it stays small however large the yard; links lead
   to the others. Without a time it is the last twelve months.
2. It renews itself only while heaps are being worked out.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.drawing import (
    YEAR_WIDTHS,
    Unit,
    course_frame,
    course_plot,
    year_band,
    year_scale,
)
from monitor.notices import clean
from monitor.page.ports import Look
from monitor.page.season_views import BinShown, HeapShown
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.keepers_only import keepers_only
from monitor.reports import Span, beside, last_whole_month, season_named

ADDRESS = "/season"
HEAPS_MOST, BINS_MOST = 12, 12
_YEARS_BESIDE = 3
_ALL, _HEAPS, _BINS = "", "heaps", "bins"


class Choice(NamedTuple):
    """A link or an option: its value, its words, and whether it is the one that is shown."""

    value: str
    words: str
    chosen: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """The wish of whoever asks.

    Attributes:
        span: The months.
        year: The year as a link names it; "": the last twelve months.
        show: The places: all, `heaps`, `bins` or the id of one.
        first: The first heap and the first bin, counted from 0.
        wrong: The reason why something else is shown, a sentence, or "".
    """

    span: Span
    year: str
    show: str
    first: int
    wrong: str = ""

    def link(self, **other: object) -> str:
        """Return the address of this sheet with something else in it."""
        asked = {"year": self.year, "show": self.show, "first": self.first, **other}
        kept = {name: value for name, value in asked.items() if value}
        return f"{ADDRESS}?{urlencode(kept)}" if kept else ADDRESS


@keepers_only
def show_season(page: PageContext, request: Request) -> Response:
    """Show some months; only to keepers, because what went into a heap is told in people's own words."""
    with page.yard.look() as look:
        wanted = _wanted(request, look)
        settings = look.engine.state.settings
        order = [place for place in look.order if wanted.show in (_ALL, place, _kind(look, place))]
        piles = [place for place in order if place in settings.piles]
        bins = [place for place in order if place in settings.bins]
        shown = look.season(
            wanted.span,
            piles,
            bins[wanted.first : wanted.first + BINS_MOST],
            range(wanted.first, wanted.first + HEAPS_MOST),
        )
        unit = Unit(settings.site.temperature_unit)
        return page.show(
            request,
            "season.html",
            look,
            name=_named(wanted.span, wanted.year),
            wanted=wanted,
            years=_years(wanted, look),
            places=_places(look, wanted.show),
            heaps=heaps_drawn(shown.heaps, unit),
            bins=bins_drawn(shown.bins, unit),
            waiting=any(one.waits for one in shown.heaps),
            piles_asked=bool(piles),
            bins_asked=bool(bins),
            columns=[fact.name for fact in shown.heaps[0].facts] if shown.heaps else [],
            heaps_said=_part(wanted.first, len(shown.heaps), shown.in_all, "heap"),
            bins_said=_part(wanted.first, len(shown.bins), len(bins), "bin"),
            further=_further(wanted, max(shown.in_all, len(bins))),
        )


def _kind(look: Look, place: str) -> str:
    return _BINS if place in look.engine.state.settings.bins else _HEAPS


def _wanted(request: Request, look: Look) -> Wanted:
    settings = look.engine.state.settings
    zone, asked = ZoneInfo(settings.site.time_zone), request.query_params
    year, show, wrong = asked.get("year", ""), asked.get("show", ""), ""
    present = beside(last_whole_month(look.now, zone), 1)
    span = Span(beside(present, -11).first, present.last, zone)
    if year:
        try:
            found = season_named(year, zone)
        except ValueError:
            year, wrong = "", "That is no year; the last twelve months are shown instead."
        else:
            if found.start > look.now:
                year, wrong = "", "That is still to come; the last twelve months are shown instead."
            else:
                span = found
    if show not in (_ALL, _HEAPS, _BINS, *settings.piles, *settings.bins):
        show, wrong = _ALL, wrong or "There is no such place; all are shown instead."
    text = asked.get("first", "")
    first = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else 0
    return Wanted(span=span, year=year, show=show, first=first - first % HEAPS_MOST, wrong=wrong)


def _named(span: Span, year: str) -> str:
    """Return the months in words: the year, or the first and the last month."""
    return year or f"{beside(span, 0).name} to {beside(span, 11).name}"


def _years(wanted: Wanted, look: Look) -> list[Choice]:
    """Return the times to choose from: the last twelve months, this year, and those about the year that is shown."""
    zone = wanted.span.zone
    this, shown = _year_of(look.now, zone), wanted.span.last.year
    built = [one.built for one in look.engine.state.batches.batches.values()]
    oldest = min((_year_of(at, zone) for at in built), default=this - 1)
    near = range(max(min(oldest, shown), shown - _YEARS_BESIDE), min(this, shown + _YEARS_BESIDE) + 1)
    years = sorted({*near, this}, reverse=True)
    found = [Choice(wanted.link(year="", first=0), "the last twelve months", not wanted.year)]
    return found + [
        Choice(wanted.link(year=f"{one:04d}", first=0), str(one), wanted.year == f"{one:04d}") for one in years
    ]


def _year_of(at: int, zone: ZoneInfo) -> int:
    return beside(last_whole_month(at, zone), 1).first.year


def _places(look: Look, show: str) -> list[Choice]:
    settings = look.engine.state.settings
    found = [(_ALL, "all heaps and bins"), (_HEAPS, "all heaps"), (_BINS, "all bins")]
    found += [(place, clean(settings.place_name(place))) for place in look.order]
    return [Choice(value, words, value == show) for value, words in found]


def heaps_drawn(heaps: Sequence[HeapShown], unit: Unit) -> list[tuple[HeapShown, str]]:
    """Return heaps with their pictures, all in one frame."""
    frame = course_frame((one.course for one in heaps), unit)
    return [(one, course_plot(one.course, frame)) for one in heaps]


def bins_drawn(bins: Sequence[BinShown], unit: Unit) -> list[tuple[BinShown, list[tuple[str, str]]]]:
    """Return bins with their pictures, (class, SVG) for each width, all on one scale."""
    scale = year_scale((one.band for one in bins if one.band is not None), unit)
    return [
        (one, [] if one.band is None else [(name, year_band(one.band, scale, width)) for name, width in YEAR_WIDTHS])
        for one in bins
    ]


def _part(first: int, shown: int, in_all: int, word: str) -> str:
    """Return which part of all is shown, in words; "" if it is all."""
    if shown == in_all:
        return ""
    return f"{word.capitalize()}s {first + 1} to {first + shown} of {in_all}." if shown else f"No more {word}s."


def _further(wanted: Wanted, in_all: int) -> list[Choice]:
    """Return the links to the others."""
    starts = [wanted.first - HEAPS_MOST, wanted.first + HEAPS_MOST]
    return [
        Choice(wanted.link(first=one), f"{one + 1} to {min(one + HEAPS_MOST, in_all)} of {in_all}", chosen=False)
        for one in starts
        if 0 <= one < in_all
    ]

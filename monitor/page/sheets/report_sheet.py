"""The report of a month or a year: on paper one sheet for the committee, and a file for a spreadsheet."""

from contextlib import suppress
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets.keepers_only import keepers_only
from monitor.reports import Span, beside, last_whole_month, month_named, season_named


@keepers_only
def show_report(page: PageContext, request: Request) -> Response:
    """Show the report of the last whole month, or of the one that was chosen; only to keepers, because it names people."""
    with page.yard.look() as look:
        span, asked, wrong = _asked(request, look)
        return page.show(
            request,
            "report.html",
            look,
            name=span.name,
            goes_on=span.end > look.now,
            sections=look.report(span),
            asked=asked,
            spans=_spans(span, look.now),
            wrong=wrong,
        )


@keepers_only
def report_file(page: PageContext, request: Request) -> Response:
    """Return the same report as a file for a spreadsheet."""
    with page.yard.look() as look:
        span, asked, _ = _asked(request, look)
        data = look.report_csv(span)
    name = f"report-{asked.partition('=')[2]}.csv"
    headers = {"content-disposition": f'attachment; filename="{name}"'}
    return Response(data, media_type="text/csv; charset=utf-8", headers=headers)


def _asked(request: Request, look: Look) -> tuple[Span, str, str]:
    """Return the time of the report, how a link asks for it, and why it is not the one asked for, or ""."""
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    season, month = request.query_params.get("season", ""), request.query_params.get("month", "")
    wrong = ""
    try:
        span = season_named(season, zone) if season else month_named(month, zone) if month else None
    except ValueError:
        span, wrong = None, "That is no month and no year; the last whole month is shown instead."
    if span is not None and span.start > look.now:
        span, wrong = None, "That is still to come; the last whole month is shown instead."
    if span is None:
        span, season = last_whole_month(look.now, zone), ""
    return span, _link(span, whole_year=bool(season)), wrong


def _spans(span: Span, now: int) -> list[tuple[str, str, bool]]:
    """Return the times to choose from: how a link asks for each, its name, and whether it is shown now."""
    present = beside(last_whole_month(now, span.zone), 1)
    year = season_named(f"{span.first.year:04d}", span.zone)
    months = [beside(span, -1), beside(span, 0), beside(span, 1)] if span != year else []
    months += [beside(present, -1), present]
    found = {one.start: one for one in months if one.start <= now}
    chosen = [(_link(one), one.name, one == span) for _, one in sorted(found.items())]
    years = _years_beside(span, now) if span == year else [year]
    return [*chosen, *((_link(one, whole_year=True), one.name, span == one) for one in years)]


def _years_beside(span: Span, now: int) -> list[Span]:
    """Return a year with those before and after it, without what is to come or is no year of a report."""
    found = []
    for year in range(span.first.year - 1, span.first.year + 2):
        with suppress(ValueError):
            found.append(season_named(f"{year:04d}", span.zone))
    return [one for one in found if one.start <= now]


def _link(span: Span, *, whole_year: bool = False) -> str:
    return f"season={span.first.year:04d}" if whole_year else f"month={span.first:%Y-%m}"

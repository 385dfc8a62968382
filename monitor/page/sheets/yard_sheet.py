"""The yard: the day, what needs a person today, then every place."""

from dataclasses import replace
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.words import AlarmState
from monitor.notices import counted, say_time
from monitor.page.pictures.air_now import air_words
from monitor.page.places.all_places import places
from monitor.page.places.need_row import rows
from monitor.page.places.needs import name_of, needs
from monitor.page.places.page_times import day_words
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.yard_coming import coming_of
from monitor.page.sheets.yard_entries import AHEAD_MS
from monitor.page.sheets.yard_plan import SHOWN, plan_of


def show_yard(page: PageContext, request: Request) -> Response:
    """Show the yard."""
    with page.yard.look() as look:
        every_need = needs(look.engine, look.now)
        keeps = visitor_of(request).keeps
        views = places(look.engine, every_need, look.now, look.order, names=keeps)
        return page.show(
            request,
            "yard.html",
            look,
            day=day_words(look.now, ZoneInfo(look.engine.state.settings.site.time_zone)),
            air=air_words(look, names=keeps),
            rows=rows(look.engine, [need for need in every_need if need.listed], look.now),
            fire_number=look.fire_number,
            over=[need for need in every_need if need.is_over],
            put_off=rows(
                look.engine,
                [need for need in every_need if need.state is AlarmState.SHELVED and not need.listed],
                look.now,
            ),
            names={need.place: name_of(look.engine, need.place) for need in every_need},
            views=views,
            watched=_watched(look, names=keeps),
            unknown=[view.name for view in views if not view.known],
            unwell=[view.name for view in views if view.look != "well"],
            places_known=[view.place for view in views],
            coming=coming_of(look, views),
            plan=plan_of(look, views, request.query_params),
            shown=SHOWN,
            alone=look.engine.nobody_on_duty(look.now, look.now, look.now + AHEAD_MS) if keeps else (),
            just_done=page.done_tokens.read(request.query_params.get("done", "")),
        )


def _watched(look: Look, *, names: bool) -> str:
    """Return how the places are watched, counted; for guests without people's names."""
    if names:
        return look.engine.watched_words(look.now)
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    watches = [replace(watch, who="") for watch in look.engine.watched(look.now)]
    return counted(watches, lambda place: name_of(look.engine, place), lambda at: say_time(at, look.now, zone))

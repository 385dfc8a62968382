"""The yard: the day, what needs a person today, then every place."""

from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.alarm_kinds import CATALOG
from monitor.model.units import Quantity
from monitor.model.words import AlarmState
from monitor.notices import By, clean, counted, join_names, say_time
from monitor.page.pictures.air_now import air_words
from monitor.page.places.all_places import places
from monitor.page.places.known_people import signature
from monitor.page.places.need_row import rows
from monitor.page.places.needs import Need, name_of, needs
from monitor.page.places.page_times import day_words
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.yard_coming import coming_of
from monitor.page.sheets.yard_entries import AHEAD_MS
from monitor.page.sheets.yard_plan import SHOWN, plan_of

_OF_A_PLACE = (Quantity.TEMPERATURE, Quantity.MOISTURE, Quantity.OXYGEN)
"""What is measured of a place itself; a battery is not."""


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
            me=clean(signature(visitor_of(request))),
            fire_number=look.fire_number,
            fire_address=look.fire_address,
            read_since=_read_since(look),
            over=[need for need in every_need if need.is_over],
            put_off=rows(
                look.engine,
                [need for need in every_need if need.state is AlarmState.SHELVED and not need.listed],
                look.now,
            ),
            names={need.place: name_of(look.engine, need.place) for need in every_need},
            views=views,
            watched=_watched(look, names=keeps),
            unknown=(unknown := _unknown(views, every_need)),
            unknown_words=join_names(unknown),
            unwell=[view.name for view in views if view.look != "well"],
            places_known=[view.place for view in views],
            coming=coming_of(look, views),
            plan=plan_of(look, views, request.query_params),
            shown=SHOWN,
            alone=look.engine.nobody_on_duty(look.now, look.now, look.now + AHEAD_MS) if keeps else (),
            just_done=page.done_tokens.read(request.query_params.get("done", "")),
        )


def _unknown(views: Sequence[PlaceView], every_need: Sequence[Need]) -> list[str]:
    """Return the names of places whose state is unknown and that no row speaks of."""
    told = {need.place for need in every_need if need.listed and need.alarm in CATALOG and CATALOG[need.alarm].unheard}
    return [view.name for view in views if not view.known and view.place not in told]


def _read_since(look: Look) -> str:
    """Return since when each place that is watched was read, in words; "" if one of them was not.

    Each place has a newest reading of each thing that is measured there; this is the oldest of them.
    """
    at = []
    for watch in look.engine.watched(look.now):
        if watch.by is By.EMPTY:
            continue
        read = [look.engine.current(watch.place, quantity, look.now) for quantity in _OF_A_PLACE]
        newest = [max(value.time for value in values) for values in read if values]
        if not newest:
            return ""
        at.append(min(newest))
    return say_time(min(at), look.now, ZoneInfo(look.engine.state.settings.site.time_zone)) if at else ""


def _watched(look: Look, *, names: bool) -> str:
    """Return how the places are watched, counted; for guests without people's names.

    What is not known stands above it, place by place.
    """
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    watches = [watch if names else replace(watch, who="") for watch in look.engine.watched(look.now)]
    known = [watch for watch in watches if watch.known or watch.by is not By.PROBES]
    said = counted(known, lambda place: name_of(look.engine, place), lambda at: say_time(at, look.now, zone))
    unknown = len(watches) - len(known)
    if not unknown:
        return said
    return f"{said}, {unknown} not known now" if known else "nobody knows how any place is now"

"""The addresses that only show: the yard, a place, the two texts, the labels."""

from collections.abc import Mapping
from dataclasses import replace
from urllib.parse import parse_qsl
from zoneinfo import ZoneInfo

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.amounts import known_amount
from monitor.model.errors import FieldError
from monitor.model.readings import is_hand
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.words import PHASE_SHOWN, AlarmState, Phase
from monitor.model.work import WorkKind
from monitor.model.work_kinds import Where
from monitor.model.work_kinds import kinds as work_kinds
from monitor.notices import clean, hand_words
from monitor.notices.cautions import cautions_for
from monitor.notices.watched import counted
from monitor.page.forms.questions import Question
from monitor.page.forms.work_form import BIN_KINDS, PILE_KINDS, TARGETS, units_for
from monitor.page.pictures.place_plots import plots
from monitor.page.pictures.plot_table import table_of
from monitor.page.pictures.qr_code import label_svg
from monitor.page.pictures.section_pictures import NARROW, WIDE, section
from monitor.page.places.needs import name_of, needs
from monitor.page.places.page_times import from_field, last_evening, say_time
from monitor.page.places.place_log import log_of
from monitor.page.places.place_view import PlaceView, natural, place_view, places
from monitor.page.ports import Look
from monitor.page.shared.house import House, back_of, place_of, visitor_of
from monitor.page.sheets.composed_texts import Told, read_away, read_leaving
from monitor.page.visitors.hosts import host_name, is_loopback
from monitor.page.visitors.message_links import place_address
from monitor.page.visitors.own_paths import own_path

LOG_LINES = 30
LOG_SPAN_MS = 90 * DAY_MS
SPANS = {"day": DAY_MS, "3days": 3 * DAY_MS, "2weeks": 14 * DAY_MS}
SHORTEST_MS = HOUR_MS
_QUICK = {
    where: tuple(row.kind for row in work_kinds(where) if row.own_form and not row.probe and not row.turns)
    for where in (Where.PILE, Where.BIN)
}
"""Work that has a form of its own on the sheet of a place; all else goes by *other work*."""
DEFAULT_MOST_MS = 92 * DAY_MS
"""A heap's life is shown at once up to this length; of an older one two weeks, so that a view never reads a year unasked."""
AWAY_MOST_MS = 366 * DAY_MS
LONGEST_MS = 3 * 366 * DAY_MS


def yard(house: House, request: Request) -> Response:
    """Show the yard: what needs doing, then every place in section, the worst first."""
    with house.yard.look() as look:
        found = needs(look.engine, look.now)
        keeps = visitor_of(request).keeps
        views = places(look.engine, found, look.now, names=keeps)
        drawn = {view.place: section(look.engine, view, look.now, NARROW) for view in views}
        return house.show(
            request,
            "yard.html",
            look,
            needs=[one for one in found if one.listed],
            over=[one for one in found if one.is_over],
            put_off=[one for one in found if one.state is AlarmState.SHELVED and not one.listed],
            names={one.place: name_of(look.engine, one.place) for one in found},
            views=views,
            watched=_watched(look, names=keeps),
            unknown=[view.name for view in views if not view.known],
            unwell=[view.name for view in views if view.look != "well"],
            places_known=[view.place for view in views],
            drawn=drawn,
            undo=house.undo_of(request.query_params.get("done", "")),
        )


def _watched(look: Look, *, names: bool) -> str:
    """Return who watches what, counted; to a guest without the names of people."""
    if names:
        return look.engine.watched_words(look.now)
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    watches = [replace(one, who="") for one in look.engine.watched(look.now)]
    return counted(watches, lambda place: name_of(look.engine, place), lambda at: say_time(at, look.now, zone))


def place(house: House, request: Request) -> Response:
    """Show a pile or a bin."""
    with house.yard.look() as look:
        return show_place(house, request, look, place_of(look, request))


def show_place(
    house: House, request: Request, look: Look, name: str, *, trouble: Exception | str = "",
    kept: dict[str, str] | None = None, question: Question | None = None,
) -> Response:  # fmt: skip
    """Return the page of a place.

    `trouble` says why what was just sent could not be done, `question` what is asked about it, `kept` is what was typed.
    """
    engine = look.engine
    keeps = visitor_of(request).keeps
    view = place_view(engine, name, needs(engine, look.now), look.now, names=keeps)
    back = _back_to(request, name, kept or {})
    start, end, chosen = span_of(dict(parse_qsl(back.partition("?")[2])), look, view)
    settings = engine.state.settings
    found = plots(look, view, start, end)
    unit, zone = settings.site.temperature_unit, ZoneInfo(settings.site.time_zone)
    table = table_of(found, start, end, unit, zone, look.now)
    columns = tuple(hand_words(settings, one) if is_hand(one) else one for one in table.columns)
    papers = house.certifying.papers(view.batch) if house.certifying is not None and view.batch else ()
    return house.show(
        request,
        "place.html",
        look,
        400 if trouble else 409 if question else 200,
        here=f"/place/{name}",
        back=back,
        view=view,
        way=[PHASE_SHOWN[one] for one in Phase],
        phase=PHASE_SHOWN[view.run.walk.shown_phase] if view.run is not None else "",
        cautions=cautions_for(None if view.is_bin else settings.piles[name].method),
        pictures=[
            (name, section(engine, view, look.now, width)) for name, width in (("wide", WIDE), ("narrow", NARROW))
        ],
        plots=found,
        table=replace(table, columns=columns),
        span=(start, end, chosen),
        log=[
            (at, words, clean(by) if by else "")
            for at, words, by in log_of(look, name, look.now - LOG_SPAN_MS, LOG_LINES)
        ],
        show_names=keeps,
        kinds=BIN_KINDS if view.is_bin else PILE_KINDS,
        targets=[(one, name_of(engine, one)) for one in settings.piles if one != name],
        target_kinds=TARGETS,
        units=_units(look, name, BIN_KINDS if view.is_bin else PILE_KINDS),
        named={row.kind.value for row in work_kinds() if "what" in row.fields},
        spots=settings.spots_of(name),
        suggested=_suggested(look, name),
        depth=_inches if settings.site.temperature_unit == "degF" else _centimetres,
        unit="°F" if settings.site.temperature_unit == "degF" else "°C",
        marks=house.marking.marks(name) if house.marking is not None else None,
        papers=papers,
        certifies=house.certifying is not None and bool(view.batch),
        question=question,
        trouble=str(trouble),
        trouble_at=trouble.field if isinstance(trouble, FieldError) else "",
        trouble_in=_form_of(kept or {}, is_bin=view.is_bin) if trouble else "",
        kept=kept or {},
        undo=house.undo_of(request.query_params.get("done", "")),
    )


def days(house: House, request: Request) -> Response:
    """Show which days of the batch on a pile count for its rule, and why others do not; it takes a second or two."""
    if not visitor_of(request).keeps:
        return _not_for_guests(house, request)
    with house.yard.look() as look:
        name = place_of(look, request)
        batch = look.engine.state.batches.lying.get(name)
        if house.certifying is None or batch is None:
            raise KeyError("days")
        found = house.certifying.days(batch)
        view = place_view(look.engine, name, needs(look.engine, look.now), look.now)
        return house.show(request, "days.html", look, view=view, days=found, counted=sum(day.counts for day in found))


def _back_to(request: Request, name: str, kept: dict[str, str]) -> str:
    """Return the address of a place's sheet as it is seen: after a form was refused, the one that the form came from."""
    if request.method == "GET":
        return back_of(request)
    back = own_path(kept.get("back", ""))
    return back if back.partition("?")[0] == f"/place/{name}" else f"/place/{name}"


def _form_of(kept: dict[str, str], *, is_bin: bool) -> str:
    """Return which form on the sheet of a place was sent: there stands what was wrong with it."""
    form = kept.get("form", "")
    if form in (*_QUICK[Where.BIN if is_bin else Where.PILE], "reading", "mark", "other"):
        return form
    return "reading" if any(name.startswith("value") for name in kept) else ""


def _inches(milli_m: int) -> str:
    return f"{round(milli_m / 25.4)} in"


def _centimetres(milli_m: int) -> str:
    return f"{round(milli_m / 10)} cm"


def span_of(given: Mapping[str, str], look: Look, view: PlaceView) -> tuple[int, int, str]:
    """Return which span is asked for: (start, end, its name), UTC ms; by default a heap's life, a bin's 3 days."""
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    start, end = _instant(given.get("from", ""), zone), _instant(given.get("to", ""), zone)
    if start is not None and end is not None and end < start:
        start, end = end, start  # whichever way round: what lies between them is meant
    if start is not None and end is not None and SHORTEST_MS <= end - start <= LONGEST_MS:
        return start, min(end, look.now + DAY_MS), ""
    chosen = given.get("span", "")
    if chosen not in SPANS and not (chosen == "built" and view.built is not None):
        young = view.built is not None and look.now - view.built <= DEFAULT_MOST_MS
        chosen = "built" if young else "2weeks" if view.built is not None else "3days"
    if chosen == "built" and view.built is not None:
        return min(view.built, look.now - SHORTEST_MS), look.now, chosen
    return look.now - SPANS[chosen], look.now, chosen


def _instant(text: str, zone: ZoneInfo) -> int | None:
    return int(text) if text.isdecimal() and len(text) <= 14 else from_field(text, zone)


def _units(look: Look, name: str, kinds: tuple[WorkKind, ...]) -> dict[str, list[str]]:
    """Return the units that each form offers, the one used last for that work here first; of *other work* all of them."""
    settings = look.engine.state.settings
    last: dict[WorkKind, str] = {}
    for entry in look.works(name, look.now - LOG_SPAN_MS):
        if amount := known_amount(entry.work.amount, entry.work.measure, entry.work.unit):
            last[entry.work.kind] = amount.unit
    found = {kind.value: units_for(settings, kind, last.get(kind, "")) for kind in kinds}
    return found | {"": list(dict.fromkeys(unit for units in found.values() for unit in units))}


def _suggested(look: Look, name: str) -> dict[str, str]:
    """Return the amount of the last piece of work of each kind: what was right then is likely right now."""
    found: dict[str, str] = {}
    for entry in look.works(name, look.now - LOG_SPAN_MS):
        if entry.work.amount:
            found[entry.work.kind.value] = entry.work.amount
    return found


def before(house: House, request: Request) -> Response:
    """Show *before you go*; it names who is on duty, so it is for keepers."""
    if not visitor_of(request).keeps:
        return _not_for_guests(house, request)
    with house.yard.look() as look:
        told = read_leaving(look.engine.before_you_go(look.now))
        return _text(house, request, look, "before.html", told)


def away(house: House, request: Request) -> Response:
    """Show *while you were away*, since a time that may be chosen; it names who answered what, so it is for keepers."""
    if not visitor_of(request).keeps:
        return _not_for_guests(house, request)
    with house.yard.look() as look:
        zone = ZoneInfo(look.engine.state.settings.site.time_zone)
        asked = request.query_params.get("since", "")
        since = _instant(asked, zone)
        wrong = ""
        if asked and since is None:
            wrong = "That is no time; it is shown since the last working day's end instead."
        elif since is not None and since > look.now:
            wrong = "That is still to come; it is shown since the last working day's end instead."
        elif since is not None and look.now - since > AWAY_MOST_MS:
            wrong = "That is more than a year ago; it is shown since the last working day's end instead."
        if since is None or wrong:
            since = last_evening(look.now, zone)
        told = read_away(look.engine.while_you_were_away(look.now, since))
        return _text(house, request, look, "away.html", told, since=since, wrong=wrong)


def _text(house: House, request: Request, look: Look, template: str, told: Told, **more: object) -> Response:
    return house.show(request, template, look, told=told, **more)


def labels(house: House, request: Request) -> Response:
    """Show a label for each place, to be printed."""
    with house.yard.look() as look:
        settings: Settings = look.engine.state.settings
        made = []
        for one in sorted((*settings.piles, *settings.bins), key=lambda one: natural(name_of(look.engine, one))):
            address = place_address(house.settings.link, one)
            made.append(
                (
                    one,
                    name_of(look.engine, one),
                    one in settings.bins,
                    address,
                    label_svg(address, "QR code that opens the page of this place"),
                )
            )
        return house.show(request, "labels.html", look, labels=made, loopback=_is_loopback(house))


def _is_loopback(house: House) -> bool:
    return is_loopback(host_name(house.settings.link.split("://", 1)[-1].split("/", 1)[0]))


def certificate(house: House, request: Request) -> Response:
    """Hand out a certificate that was made; it names who logged what, so it is for keepers."""
    if not visitor_of(request).keeps:
        return _not_for_guests(house, request)
    certifying = house.certifying
    if certifying is None:
        raise KeyError("certificate")
    name = request.path_params["name"]
    data = certifying.pdf(name)
    headers = {"content-disposition": f'inline; filename="{name}"'}
    return Response(data, media_type="application/pdf", headers=headers)


def _not_for_guests(house: House, request: Request) -> Response:
    return house.fault(request, "This sheet names people; it is for those who keep the yard.", 403)

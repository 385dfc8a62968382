"""A sheet for a round by hand: every place with its spots, to be printed and written on, and the form to type it in at once."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.settings import Settings
from monitor.model.sightings import SIGHTINGS, SQUEEZES
from monitor.page.forms.round_form import lines_of_places
from monitor.page.forms.sent_form import UNSENT, SentForm
from monitor.page.ports import Look
from monitor.page.shared.page_context import PageContext

ADDRESS = "/round"


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the sheet: one spot of a place.

    Attributes:
        place: People's name for the place; "" from its second spot on.
        spot: The spot; "" where the place has none.
        bed: Whether it is a worm bin, which is squeezed and smelled at too.
        key: Its name in the form: the place's id and the spot.
        named: Its place and spot for people who hear the form.
    """

    place: str
    spot: str
    bed: bool
    key: str
    named: str


@dataclass(frozen=True, slots=True)
class Held:
    """A line that was typed in and waits: why, and whether that is a question, which can be confirmed."""

    why: tuple[str, ...]
    asked: bool


def show_round(page: PageContext, request: Request) -> Response:
    """Return the sheet, heaps first."""
    with page.yard.look() as look:
        return show_sheet(page, request, look)


def show_sheet(
    page: PageContext, request: Request, look: Look, sent: SentForm = UNSENT, *, taken: Sequence[str] = (),
    held: Mapping[str, Held] | None = None,
) -> Response:  # fmt: skip
    """Return the sheet with a form that was not taken in, or not wholly.

    Args:
        page: The shared parts.
        request: The request.
        look: The look.
        sent: The form just sent, with the fields that stay in it.
        taken: The entries that were taken, in words.
        held: The lines that wait, by their key.
    """
    settings, held = look.engine.state.settings, held or {}
    refused = any(not one.asked for one in held.values())
    return page.show(
        request, "round.html", look, 400 if refused else 409 if held else sent.status, here="/diary", back=ADDRESS,
        rows=rows_of(settings), unit="°F" if settings.site.temperature_unit == "degF" else "°C",
        squeezes={word: said for word, (said, _) in SQUEEZES.items()}, smells=SIGHTINGS["smell"],
        taken=taken, held=held, just_done=page.done_tokens.read(request.query_params.get("done", "")),
        **sent.shown("round"),
    )  # fmt: skip


def rows_of(settings: Settings) -> list[Row]:
    """Return the lines of the sheet: each spot of each heap's place, then of each bin."""
    found = []
    for place, spots in lines_of_places(settings).items():
        name = settings.place_name(place)
        for number, spot in enumerate(spots):
            named = f"{name}, {spot}" if spot else name
            found.append(Row("" if number else name, spot, place in settings.bins, f"{place}:{spot}", named))
    return found

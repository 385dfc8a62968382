"""A sheet of paper for a round by hand: every place with its spots, to be written on and typed in later with its own times."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.settings import Settings
from monitor.model.sightings import SIGHTINGS, SQUEEZES
from monitor.page.shared.page_context import PageContext


@dataclass(frozen=True, slots=True)
class Row:
    """A line of the sheet: one spot of a place.

    Attributes:
        place: People's name for the place; "" from its second spot on.
        spot: The spot; "" where the place has none.
        bed: Whether it is a worm bin, which is squeezed and smelled at too.
    """

    place: str
    spot: str
    bed: bool


def show_round(page: PageContext, request: Request) -> Response:
    """Return the sheet, heaps first."""
    with page.yard.look() as look:
        settings = look.engine.state.settings
        return page.show(
            request, "round.html", look, here="/diary", back="/diary", rows=rows_of(settings),
            unit="°F" if settings.site.temperature_unit == "degF" else "°C",
            squeezes={word: said for word, (said, _) in SQUEEZES.items()}, smells=SIGHTINGS["smell"],
        )  # fmt: skip


def rows_of(settings: Settings) -> list[Row]:
    """Return the lines of the sheet: each spot of each heap's place, then of each bin."""
    found = []
    for place in (*settings.piles, *settings.bins):
        for number, spot in enumerate(settings.spots_of(place) or ("",)):
            name = settings.place_name(place) if number == 0 else ""
            found.append(Row(name, spot, place in settings.bins))
    return found

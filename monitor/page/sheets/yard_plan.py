"""The plan of the yard: a card for each place in the order of the configuration, which a form can narrow down.

From 12 places on the sheet has a form to find a place by its name, and to show those alone that need a person, the heaps or the
bins. It works by the address alone, without a script.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from monitor.page.pictures.plan_lines import line_of
from monitor.page.places.place_number import PlaceNumber, number_of_place
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look

MANY = 12
SHOWN = {"": "all", "needs": "needs me", "heaps": "heaps", "bins": "bins"}
"""The choices of the form, and their words."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The card of a place.

    Attributes:
        view: The place.
        number: Its number, or None.
        line: Its last 72 hours as SVG, or "".
        state: Its state in a word or two.
        note: A further line: how far its rule is, or a question about an empty place; or "".
    """

    view: PlaceView
    number: PlaceNumber | None
    line: str
    state: str
    note: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """The cards that are shown.

    Attributes:
        cards: The cards.
        form: Whether there is a form to narrow them down.
        find, show: The form's fields as sent.
    """

    cards: Sequence[Card]
    form: bool
    find: str = ""
    show: str = ""


def plan_of(look: Look, views: Sequence[PlaceView], asked: Mapping[str, str]) -> Plan:
    """Return the plan.

    Args:
        look: The look.
        views: All places in their order.
        asked: The fields of the form: `find` and `show`; others and unknown choices are ignored.
    """
    find = " ".join(asked.get("find", "")[:40].split())
    show = asked.get("show", "")
    show = show if show in SHOWN else ""
    shown = [view for view in views if _fits(view, find, show)]
    return Plan(
        cards=[_card(look, view) for view in shown], form=len(views) >= MANY or bool(find or show), find=find, show=show
    )


def _fits(view: PlaceView, find: str, show: str) -> bool:
    if find.casefold() not in f"{view.name} {view.place}".casefold():
        return False
    return {"needs": view.worst is not None, "heaps": not view.is_bin, "bins": view.is_bin}.get(show, True)


def _card(look: Look, view: PlaceView) -> Card:
    number = number_of_place(look.engine, view, look.now)
    return Card(
        view=view,
        number=number,
        line="" if number is None else line_of(look, view, number),
        state=view.state.rpartition(", ")[0] if view.run is not None else view.state,
        note=_note(view, number),
    )


def _note(view: PlaceView, number: PlaceNumber | None) -> str:
    if number is None and view.state != "empty" and view.lines:
        return view.lines[0]  # why there is no number
    if view.progress is not None:
        return view.progress.short
    return ""

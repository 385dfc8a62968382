"""A mix: what goes in, how much of each, and one tap that writes the heap down as built.

The materials stand in the address, so a mix can be sent on and looked at again; nothing is written down by asking.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from starlette.requests import Request
from starlette.responses import Response

from monitor.engine import foreseen_of
from monitor.model.errors import FieldError, MisuseError
from monitor.model.natural_order import natural
from monitor.model.work import Work, WorkKind
from monitor.page.mixing_ports import MixAsked, Mixing, MixRow, MixTold
from monitor.page.places.needs import name_of
from monitor.page.ports import Look, Stocked
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import back_of

ADDRESS = "/mix"
MOST_ROWS = 16
_FREE_ROWS, _LEAST_ROWS = 2, 4
_LONGEST = 80
_WIDTHS = (("middle", 460), ("narrow", 276))
"""The drawings of a mix: the stylesheet's class, and the width, CSS px."""
_NONE = "This page cannot work out mixes."


class Ground(NamedTuple):
    """A pile on which the heap may be built; `foreseen` says what becomes of the heap that lies there, or is ""."""

    place: str
    name: str
    empty: bool
    foreseen: str


def show_mix(page: PageContext, request: Request) -> Response:
    """Show the materials that were asked for, and what they make."""
    asked = asked_of(request.query_params)
    told, trouble = _told(page.mixing, asked)
    with page.yard.look() as look:
        stock = look.stock()
        materials = () if page.mixing is None else page.mixing.materials()
        return page.show(
            request,
            "mix.html",
            look,
            400 if trouble else 200,
            lacks=_NONE if page.mixing is None else page.mixing.lacks(),
            rows=_rows(asked, stock, materials),
            unknown=[one.material for one in stock if one.material.casefold() not in materials],
            asked=asked,
            told=told,
            drawn=[(name, svg) for (name, _), svg in zip(_WIDTHS, told.drawn, strict=True)] if told is not None else (),
            grounds=_grounds(look),
            trouble=str(trouble),
            trouble_in="mix" if trouble else "",
            trouble_at=trouble.field if isinstance(trouble, FieldError) else "",
            materials=dict.fromkeys(
                [*(one.material for one in stock if one.material.casefold() in materials), *materials]
            ),
            units=() if page.mixing is None else page.mixing.units(),
            back=back_of(request),
        )


def asked_of(typed: Mapping[str, str]) -> MixAsked:
    """Return the mix that the fields of an address ask for; rows that say nothing are left out."""

    def text(name: str) -> str:
        return " ".join(typed.get(name, "").split())[:_LONGEST]

    return MixAsked(
        rows=tuple(
            MixRow(
                number=number,
                material=text(f"material_{number}"),
                amount=text(f"amount_{number}"),
                measure=text(f"measure_{number}"),
                whole=text(f"use_{number}") == "all",
            )
            for number in range(1, MOST_ROWS + 1)
            if text(f"material_{number}") or text(f"amount_{number}")
        ),
        bay=text("bay"),
        moisture=text("moisture"),
        cn=text("cn"),
        organic=bool(text("organic")),
        frost=bool(text("frost")),
    )


def _told(mixing: Mixing | None, asked: MixAsked) -> tuple[MixTold | None, Exception | str]:
    """Return the mix, and what is wrong with what was asked."""
    if mixing is None or mixing.lacks() or not asked.rows:
        return None, ""
    nameless = next((row for row in asked.rows if not row.material), None)
    if nameless is not None:
        return None, FieldError(f"{nameless.amount} of what? Name the material.", f"material_{nameless.number}")
    try:
        return mixing.work_out(asked, [width for _, width in _WIDTHS]), ""
    except MisuseError as fault:
        return None, fault


def _rows(asked: MixAsked, stock: Sequence[Stocked], known: Collection[str]) -> list[MixRow]:
    """Return the rows of the form: what was asked for where it stood, else what is in stock, and some that are free.

    Args:
        asked: What was asked for.
        stock: The materials in stock, what spoils first in front.
        known: The materials of which the figures are known, in small letters.
    """
    hints = {one.material.casefold(): one.hint for one in stock}
    by_number = {row.number: replace(row, hint=hints.get(row.material.casefold(), "")) for row in asked.rows}
    if not by_number:
        usable = [one for one in stock if one.material.casefold() in known][:MOST_ROWS]
        by_number = {number: _row_of(number, one) for number, one in enumerate(usable, 1)}
    count = max(_LEAST_ROWS, max(by_number, default=0) + _FREE_ROWS)
    return [
        by_number.get(number, MixRow(number=number, material="", whole=number == 1))
        for number in range(1, min(count, MOST_ROWS) + 1)
    ]


def _row_of(number: int, one: Stocked) -> MixRow:
    # What rots goes in whole; where nothing does, the first.
    whole = (one.spoils or number == 1) and bool(one.amount)
    return MixRow(
        number=number, material=one.material, amount=one.amount, measure=one.measure, whole=whole, hint=one.hint
    )


def _grounds(look: Look) -> list[Ground]:
    """Return the piles, the empty ones first, in natural order of their names."""
    state = look.engine.state

    def some() -> Iterator[Ground]:
        for place in state.settings.piles:
            words = foreseen_of(look.engine.core, Work(time=look.now, place=place, kind=WorkKind.BUILT), look.now)
            yield Ground(place, name_of(look.engine, place), place not in state.batches.lying, words)

    return sorted(some(), key=lambda one: (not one.empty, natural(one.name)))

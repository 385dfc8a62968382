"""The page's needs when people mix: what a sheet asks for, what comes of it in words, and who works it out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True, kw_only=True)
class MixRow:
    """A material that a person offers for a mix.

    Attributes:
        number: Its row on the sheet, from 1; the fields of a fault are named by it (`material_1`, `amount_1`).
        material: Its name as typed.
        amount: How much there is, as typed; "": more can be had.
        measure: The unit of it.
        whole: Whether all of it goes in.
        hint: Words about it, such as how old it is.
    """

    number: int
    material: str
    amount: str = ""
    measure: str = ""
    whole: bool = False
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class MixAsked:
    """A mix that a person asks for.

    Attributes:
        rows: Its materials.
        bay: The ground of its bay as typed, or "".
        moisture, cn: The bands asked for as typed, or "".
        organic: Whether the organic rule's C/N is kept.
        frost: Whether it is built in frost.
    """

    rows: tuple[MixRow, ...]
    bay: str = ""
    moisture: str = ""
    cn: str = ""
    organic: bool = False
    frost: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class MixTold:
    """A mix that was worked out, in words.

    Attributes:
        verdict: Whether it fits, and what would mend it.
        parts: What goes in, a line for each.
        figures: Its figures, the size of its heap, what limits it.
        layers: How it is built, from the bottom up.
        caution: What to mind.
        drawn: Its picture as SVG, once for each width.
        entry: The fields of the entry *built*; empty if it must not be written down.
        why_not: Why it must not, a sentence, or "".
    """

    verdict: tuple[str, ...]
    parts: tuple[str, ...]
    figures: tuple[str, ...]
    layers: tuple[str, ...]
    caution: str
    drawn: tuple[str, ...]
    entry: Mapping[str, str]
    why_not: str = ""


class Mixing(Protocol):
    """Works out mixes; any thread may call it."""

    def lacks(self) -> str:
        """Return why no mix can be worked out here, a sentence; "" if it can."""

    def materials(self) -> Sequence[str]:
        """Return the names of the materials that are known."""

    def units(self) -> Sequence[str]:
        """Return the units of amounts, as people read them, the usual ones first."""

    def work_out(self, asked: MixAsked, widths: Sequence[int]) -> MixTold:
        """Work out a mix.

        Args:
            asked: What is asked for.
            widths: The widths of its pictures, CSS px.

        Raises:
            FieldError: A field cannot be understood; the error names it.
            MisuseError: The materials make no mix.
        """

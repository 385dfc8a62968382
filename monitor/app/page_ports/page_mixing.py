"""Works out mixes for the page, in the yard's measures and containers."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from monitor.app.console.measures import Measures
from monitor.app.console.refusals import ended
from monitor.app.mixing import (
    Asked,
    answered_mix,
    band_of,
    build_fields,
    draw_mix,
    feedstock_named,
    feedstocks_known,
    grams_of,
    ground_mm2,
    mix_words,
)
from monitor.configuration import Configuration
from monitor.drawing import Ink
from monitor.mix import Feedstock, MixLimits, Offer, Part, lacks_solver
from monitor.model.amounts import UNITS, Dimension, offered, unit_shown
from monitor.model.errors import FieldError, MisuseError
from monitor.model.work_entry import is_us
from monitor.page import MixAsked, MixRow, MixTold

_DIMENSIONS = (Dimension.MASS, Dimension.VOLUME, Dimension.CONTAINERS)
_SO_LARGE = "So large a heap may be too high: say the ground of its bay, and it can be written down."
_TOO_HIGH = "So high a heap is not written down: take less, or more ground."
_NO_FIT = "A mix that does not fit is not written down here."


class YardMixing:
    """Fills `monitor.page.Mixing`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration]) -> None:
        self._configuration = configuration

    def lacks(self) -> str:
        """Return why no mix can be worked out here, a sentence; "" if it can."""
        return lacks_solver().replace("`", "")

    def materials(self) -> Sequence[str]:
        """Return the names of the materials that are known."""
        return tuple(feedstocks_known(None))

    def units(self) -> Sequence[str]:
        """Return the units of amounts, as people read them: the yard's containers whose content is known, then the rest."""
        configuration = self._configuration()
        units = offered(_DIMENSIONS, us=is_us(configuration.settings))
        known = [unit for unit in units if unit in configuration.containers]
        others = [unit for unit in units if UNITS[unit].dimension is not Dimension.CONTAINERS]
        return tuple(unit_shown(unit) for unit in (*known, *others))

    def work_out(self, asked: MixAsked, widths: Sequence[int]) -> MixTold:
        """Work out a mix.

        Args:
            asked: What is asked for.
            widths: The widths of its pictures, CSS px.

        Returns:
            The mix in words, its pictures, and the entry that writes it down.

        Raises:
            FieldError: A field cannot be understood; the error names it.
            MisuseError: The materials make no mix.
        """
        configuration = self._configuration()
        measures = Measures(is_us(configuration.settings), configuration.containers)
        materials, limits = _materials(asked.rows, measures), _limits(asked)
        with _in_field("bay"):
            ground = ground_mm2(asked.bay, "the ground of a bay")
        answer = answered_mix(materials, limits, ground, frost=asked.frost)
        words = mix_words(answer, measures, frost=asked.frost)
        why_not = ""
        if not answer.is_safe_to_build:
            why_not = _TOO_HIGH if answer.recipe.fits else _NO_FIT
        elif answer.needs_ground:
            why_not = _SO_LARGE
        return MixTold(
            verdict=words.verdict,
            parts=words.parts,
            figures=words.figures,
            layers=words.layers,
            caution=words.caution,
            drawn=tuple(draw_mix(answer.recipe, answer.offered, width, Ink.SCREEN) for width in widths),
            entry={} if why_not else build_fields(answer.recipe, measures),
            why_not=why_not,
        )


def _limits(asked: MixAsked) -> MixLimits:
    with _in_field("moisture"):
        moisture = band_of(asked.moisture, "--moisture", "moisture")
    with _in_field("cn"):
        cn = band_of(asked.cn, "--cn", "C/N")
    try:
        return MixLimits.asked(moisture, cn, organic=asked.organic)
    except ValueError as fault:
        raise FieldError(_sentence(str(fault)), "cn") from None


def _materials(rows: Sequence[MixRow], measures: Measures) -> Asked:
    known = feedstocks_known(None)
    parts, offers = [], []
    for row in rows:
        material, grams = _material(row, known), _grams(row, known, measures)
        if row.whole:
            parts.append(Part(material, grams or 0))
        else:
            offers.append(Offer(material, grams))
    if not parts:
        number = rows[0].number if rows else 1
        raise FieldError("Say of one material at least that all of it goes in.", f"use_{number}")
    return Asked(tuple(parts), tuple(offers), known)


def _material(row: MixRow, known: Mapping[str, Feedstock]) -> Feedstock:
    listed = f"Known are {', '.join(known)}."
    with _in_field(f"material_{row.number}"):
        return feedstock_named(row.material, known, listed)


def _grams(row: MixRow, known: Mapping[str, Feedstock], measures: Measures) -> int | None:
    """Return how much there is of a row's material, in grams; None if as much can be had as it takes."""
    name = f"amount_{row.number}"
    if not row.amount:
        if row.whole:
            raise FieldError(f"How much {row.material} is there? All of it goes in, so write its amount.", name)
        return None
    material, text = _material(row, known), f"{row.amount} {row.measure}".strip()
    with _in_field(name):
        return grams_of(material, text, measures.containers, us=measures.us)


@contextmanager
def _in_field(name: str) -> Iterator[None]:
    """Turn a fault in what a field holds into one that names the field."""
    try:
        yield
    except MisuseError as fault:
        raise FieldError(_sentence(str(fault)), name) from None


def _sentence(words: str) -> str:
    return ended(words[:1].upper() + words[1:])

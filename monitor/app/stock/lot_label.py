"""The label of a lot's bags, in words that follow from the record alone, and the address that its code opens."""

from collections.abc import Iterator

from monitor.app.console.measures import Measures
from monitor.app.stock.lot_sheets import FAILED, PASSED, LotSheet
from monitor.app.stock.lot_words import HERBICIDE, OPENING, PERMIT, day_words, kind_of_lot, treated_words
from monitor.drawing import BagLabel
from monitor.model.settings import Settings

BEANS = "bean"
"""The word by which a test against weed killer is known: beans are sown in it."""
COVERS = "Heat is told of the heaps that are named, until they went on; of anything added later nothing is claimed."
NO_NAME = "(the yard's name: site.name in the configuration)"


def label_of(sheet: LotSheet, settings: Settings, measures: Measures, now: int) -> BagLabel:
    """Return the label of a lot's bags, without a code.

    Args:
        sheet: The lot.
        settings: The settings in force.
        measures: The yard's measures.
        now: The present, UTC ms.
    """
    made = f"Made {day_words(sheet.made.time, settings)}"
    if not sheet.mass.unknown and sheet.mass.known_g > 0:
        made += f"; {measures.mass(sheet.mass.known_g)} in the lot"
    return BagLabel(
        kind=kind_of_lot(sheet),
        lot=sheet.node.id,
        lines=(settings.site.name or NO_NAME, made),
        heat=treated_words(sheet),
        cautions=tuple(cautions_of(sheet, settings, now)),
    )


def cautions_of(sheet: LotSheet, settings: Settings, now: int) -> Iterator[str]:
    """Yield what to heed of a lot, the most important first.

    Args:
        sheet: The lot.
        settings: The settings in force.
        now: The present, UTC ms.
    """
    yield OPENING
    if sheet.held:
        yield f"Held back on {day_words(now, settings)}: {'; '.join(sheet.held)}."
    if sheet.risks:
        yield f"By the record it may carry: {', '.join(sorted(sheet.risks))}."
    beans = [one for one in sheet.tests if BEANS in one.test.casefold()]
    if beans and beans[-1].result == PASSED:
        named, day = beans[-1].test, day_words(beans[-1].time, settings)
        yield f"{named[:1].upper()}{named[1:]} against weed killer: passed, {day}."
    elif not beans or beans[-1].result != FAILED:
        yield HERBICIDE
    if sheet.records:
        yield COVERS
    yield PERMIT


def label_lines(label: BagLabel, address: str) -> Iterator[str]:
    """Yield the words of a label.

    Args:
        label: The label.
        address: The address that its code opens; "" for none.
    """
    yield f"{label.kind}, {label.lot}"
    yield from label.lines
    yield f"{label.heat}."
    yield from label.cautions
    yield (
        f"All that went in: {address}" if address else f"Tell the yard this name to hear all that went in: {label.lot}."
    )

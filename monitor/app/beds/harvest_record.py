"""The harvests of a yard as its record has them, worked out on dry matter."""

from collections.abc import Mapping
from dataclasses import dataclass

from monitor.app.entries.entry_log import entry_log
from monitor.configuration import Configuration
from monitor.husbandry import REST_MS, Harvest, OnScreen, Screened, harvests_of, screened, together
from monitor.journal import Store
from monitor.model.amounts import Amount, Dimension, known_amount
from monitor.model.containers import Container
from monitor.model.work import Work
from monitor.model.work_entry import fraction_of, moisture_of
from monitor.model.work_kinds import FRACTIONS

CASTINGS = "castings"
"""The material of a harvest, by which full containers of it are weighed."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HarvestNow:
    """A harvest with its figures.

    Attributes:
        harvest: The harvest.
        wet_g: Its mass as it came out of the bed; None if nobody weighed it.
        moisture_pct: Its moisture; None if nobody measured it.
        figures: It and its screening on dry matter.
        again: The same of its fines after their rest; None while they were not screened again.
    """

    harvest: Harvest
    wet_g: float | None
    moisture_pct: float | None
    figures: Screened
    again: Screened | None

    @property
    def rest_until(self) -> tuple[int, int] | None:
        """The instants (UTC ms) from which its fines may be screened again, soonest and usually; None if they were."""
        if self.harvest.again or not self.harvest.screenings:
            return None
        last = self.harvest.screenings[-1].time
        return last + REST_MS[0], last + REST_MS[1]


def harvests_now(store: Store, configuration: Configuration, place: str = "") -> tuple[list[HarvestNow], list[Work]]:
    """Return the harvests of a bin in order, and its screenings that name none.

    Args:
        store: The journal.
        configuration: The configuration, which has the bins and the yard's containers.
        place: The bin; "" for all.
    """
    settings = configuration.settings
    entries = entry_log(store, [*settings.piles, *settings.bins])
    standing = [(one.number, one.work) for one in entries if one.work is not None and not one.undone]
    found, strays = harvests_of(standing, settings.bins)
    containers = configuration.containers
    return (
        [_worked_out(one, containers) for one in found if place in ("", one.work.place)],
        [one for one in strays if place in ("", one.place)],
    )


def weighed_g(amount: Amount | None, containers: Mapping[str, Container], *materials: str) -> float | None:
    """Return the mass of an amount in grams; None where only a volume is known, which says nothing of dry matter.

    Args:
        amount: The amount.
        containers: The yard's containers; those count whose full mass was weighed.
        materials: Names of the material, the first that was weighed in that container counts.
    """
    if amount is None or amount.dimension is Dimension.MASS:
        return None if amount is None or amount.base is None else float(amount.base)
    if amount.dimension is not Dimension.CONTAINERS:
        return None
    container = containers.get(amount.unit, Container())
    held = (container.content(material, float(amount.count), None) for material in materials)
    return next((one.mass_g for one in held if one is not None), None)


def _worked_out(harvest: Harvest, containers: Mapping[str, Container]) -> HarvestNow:
    work = harvest.work
    wet = weighed_g(known_amount(work.amount, work.measure, work.unit), containers, CASTINGS)
    pct = moisture_of(work)
    goes = [_on_screen(one, containers) for one in harvest.screenings]
    figures = screened(wet, pct, together(goes), len(FRACTIONS))
    again = None
    if harvest.again:
        fines = figures.shares.get(FRACTIONS[0])
        again = screened(
            None if fines is None else fines.mass_g, figures.screen_pct,
            together([_on_screen(one, containers) for one in harvest.again]), len(FRACTIONS),
        )  # fmt: skip
    return HarvestNow(harvest=harvest, wet_g=wet, moisture_pct=pct, figures=figures, again=again)


def _on_screen(work: Work, containers: Mapping[str, Container]) -> OnScreen:
    masses = {name: weighed_g(fraction_of(work, name), containers, name, CASTINGS) for name in FRACTIONS}
    return OnScreen(
        mass_g=weighed_g(known_amount(work.amount, work.measure, work.unit), containers, CASTINGS),
        moisture_pct=moisture_of(work),
        fractions={name: mass for name, mass in masses.items() if mass is not None},
    )

"""An entry as the questions about its figures see it, with the log before it and the sizes of the yard."""

from dataclasses import dataclass

from monitor.engine.asking.logged_past import LoggedPast
from monitor.engine.asking.yard_sizes import BedSpace, YardSizes
from monitor.model.amounts import Amount, known_amount
from monitor.model.settings import Settings
from monitor.model.work import Work
from monitor.model.work_entry import is_us
from monitor.notices import clean


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """An entry that somebody wants to write down.

    Attributes:
        work: The entry.
        settings: The settings in force.
        sizes: The sizes of the yard.
        past: The log before it.
    """

    work: Work
    settings: Settings
    sizes: YardSizes
    past: LoggedPast

    @property
    def amount(self) -> Amount | None:
        """Its amount; None if there is none."""
        return amount_in(self.work)

    @property
    def us(self) -> bool:
        """Whether the yard reads US units."""
        return is_us(self.settings)

    @property
    def name(self) -> str:
        """The name of its place, safe for one line."""
        return clean(self.settings.place_name(self.work.place), 40)

    @property
    def bed(self) -> BedSpace:
        """The space in its bin."""
        return self.sizes.beds.get(self.work.place, BedSpace())


def amount_in(work: Work) -> Amount | None:
    """Return the amount of an entry; None if there is none, or if it is no number of a known unit."""
    amount = known_amount(work.amount, work.measure, work.unit)
    return None if amount is None or amount.dimension is None else amount

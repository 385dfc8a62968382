"""The stock as the page offers it for a mix, in the yard's measures."""

from collections.abc import Iterator, Sequence

from monitor.app.console.measures import Measures
from monitor.app.stock import feedstocks_by_name, stock_for_mixing
from monitor.configuration import Configuration
from monitor.material import MaterialRecord
from monitor.model.work_entry import is_us
from monitor.page import Stocked


def stocked(record: MaterialRecord, configuration: Configuration) -> Sequence[Stocked]:
    """Return the materials in stock, what spoils first in front.

    Args:
        record: The yard's material.
        configuration: The configuration in force.
    """
    measures = Measures(is_us(configuration.settings), configuration.containers)
    return list(_stocked(record, measures))


def _stocked(record: MaterialRecord, measures: Measures) -> Iterator[Stocked]:
    for one in stock_for_mixing(record, feedstocks_by_name()):
        amount, measure = ("", "") if one.wet_g is None else measures.mass_written(one.wet_g).split(" ")
        said = ["In stock", "use it first, it rots" if one.spoils else "", "estimated" if one.estimated else ""]
        said += [f"RISK: {', '.join(one.risks)}" if one.risks else ""]
        yield Stocked(one.material, amount, measure, one.spoils, "; ".join(filter(None, said)))

"""The stock as the page offers it for a mix, in the yard's measures."""

from collections.abc import Iterator, Sequence

from monitor.app.console.measures import Measures
from monitor.app.stock import feedstocks_by_name, material_record, stock_for_mixing
from monitor.app.yard.yard_view import YardView
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.journal import Store
from monitor.model.work_entry import is_us
from monitor.page import Stocked


def stocked(engine: Engine, store: Store, configuration: Configuration) -> Sequence[Stocked]:
    """Return the materials in stock, what spoils first in front.

    Args:
        engine: A copy of the engine.
        store: The journal.
        configuration: The configuration in force.
    """
    view = YardView(engine=engine, store=store, pid=None, since=None, last=None, faults=[])
    measures = Measures(is_us(configuration.settings), configuration.containers)
    return list(_stocked(view, configuration, measures))


def _stocked(view: YardView, configuration: Configuration, measures: Measures) -> Iterator[Stocked]:
    for one in stock_for_mixing(material_record(view, configuration), feedstocks_by_name()):
        amount, measure = ("", "") if one.wet_g is None else measures.mass_written(one.wet_g).split(" ")
        said = ["In stock", "use it first, it rots" if one.spoils else "", "estimated" if one.estimated else ""]
        said += [f"RISK: {', '.join(one.risks)}" if one.risks else ""]
        yield Stocked(one.material, amount, measure, one.spoils, "; ".join(filter(None, said)))

"""The graph of a yard with its stock, the entries behind it and the tests of its lots, from the whole log."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from monitor.material.graph import Graph
from monitor.material.log_order import first_emptied, harvested_whole, in_order, places_in, tests_in
from monitor.material.log_reading import LogReading
from monitor.material.shelf import Shelf
from monitor.material.yard_of_material import YardOfMaterial
from monitor.model.work import Work


@dataclass(frozen=True, slots=True)
class MaterialRecord:
    """The graph of a yard, and its stock.

    Attributes:
        graph: The graph.
        shelves: The stock of each material, by its name in small letters.
        entries: The work behind each entry's number.
        tests: The tests of each lot in order of time, by its id in small letters.
        done_at: The numbers of the entries of each place, in order of time.
    """

    graph: Graph
    shelves: dict[str, Shelf]
    entries: Mapping[int, Work]
    tests: Mapping[str, Sequence[Work]]
    done_at: Mapping[str, Sequence[int]]


def read_log(entries: Iterable[tuple[int, Work]], yard: YardOfMaterial) -> MaterialRecord:
    """Return the graph and the stock of a yard.

    Args:
        entries: (number, work as corrected) of every entry that stands, in any order.
        yard: The yard behind a log: everything that the log alone does not say.
    """
    ordered = in_order(entries)
    reading = LogReading(yard, harvested_whole(ordered), first_emptied(ordered))
    reading.take(ordered)
    tests = {lot: [work for _, work in some] for lot, some in tests_in(ordered).items()}
    return MaterialRecord(reading.graph, reading.shelves, dict(ordered), tests, places_in(ordered))

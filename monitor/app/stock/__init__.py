"""The yard's material as people ask for it: what is in stock, what went into a lot, and who has something of a delivery.

Who has something of a bad delivery is asked in a hurry: what that question does not need is imported when it is first taken.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.app.material.kept_material import read_material
from monitor.app.material.yard_material import material_record
from monitor.app.stock.lot_rest import rest_of_lot
from monitor.app.stock.lot_sheets import Given, HeatsOfHeaps, LotSheet, lot_named, lot_sheet, untested
from monitor.app.stock.lot_words import (
    day_words,
    earlier_words,
    heat_words,
    kind_of_lot,
    left_words,
    list_lines,
    parts_gone,
    recall_json,
    recall_lines,
    rest_words,
    risks_known,
    status_of,
    trace_json,
    trace_lines,
    treated_words,
)
from monitor.app.stock.naming_material import SOURCES, lot_id, nodes_named, recalled, source_named
from monitor.app.stock.opened_material import OpenedMaterial, opened_material
from monitor.app.stock.stock_offered import stock_for_mixing
from monitor.app.stock.stock_words import (
    NAMELESS_MATERIAL,
    age_words,
    entry_of,
    how_much,
    shelves_in_order,
    short_words,
    stock_json,
    stock_lines,
    unmeasured_words,
)
from monitor.app.stock.unknown_shares import unknown_shares
from monitor.app.yard.yard_scales import feedstocks_by_name

if TYPE_CHECKING:
    from monitor.app.stock.certified_inputs import with_inputs
    from monitor.app.stock.lot_doubts import Making, doubts_of_giving, doubts_of_making, doubts_of_test
    from monitor.app.stock.lot_durations import duration_json, duration_lines, durations_of, figures_known
    from monitor.app.stock.lot_entries import entry_of_lot
    from monitor.app.stock.lot_label import cautions_of, label_lines, label_of
    from monitor.app.stock.stock_mixed import with_stock
    from monitor.app.stock.tree_of_lot import lot_tree

_LATER = {
    **dict.fromkeys(("duration_json", "duration_lines", "durations_of", "figures_known"), "lot_durations"),
    **dict.fromkeys(("Making", "doubts_of_giving", "doubts_of_making", "doubts_of_test"), "lot_doubts"),
    "entry_of_lot": "lot_entries",
    **dict.fromkeys(("cautions_of", "label_lines", "label_of"), "lot_label"),
    "lot_tree": "tree_of_lot",
    "with_inputs": "certified_inputs",
    "with_stock": "stock_mixed",
}


def __getattr__(name: str) -> Any:
    """Load a name that is not always needed when it is first asked for."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)

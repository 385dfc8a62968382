"""The yard's material as people ask for it: what is in stock, what went into a lot, and who has something of a delivery."""

from monitor.app.stock.lot_durations import duration_json, duration_lines, durations_of
from monitor.app.stock.lot_entries import doubts_of_giving, doubts_of_making, doubts_of_test, write_down
from monitor.app.stock.lot_label import cautions_of, label_lines, label_of
from monitor.app.stock.lot_sheets import Given, HeatsOfHeaps, LotSheet, lot_named, lot_sheet
from monitor.app.stock.lot_tree import lot_tree
from monitor.app.stock.lot_words import (
    day_words,
    earlier_words,
    heat_words,
    kind_of_lot,
    left_words,
    list_lines,
    recall_json,
    recall_lines,
    status_of,
    trace_json,
    trace_lines,
    treated_words,
)
from monitor.app.stock.naming_material import SOURCES, lot_id, nodes_named, recalled, source_named
from monitor.app.stock.stock_mixed import with_stock
from monitor.app.stock.stock_offered import stock_for_mixing
from monitor.app.stock.stock_words import (
    age_words,
    entry_of,
    how_much,
    shelves_in_order,
    short_words,
    stock_json,
    stock_lines,
    unmeasured_words,
)
from monitor.app.stock.yard_material import feedstocks_by_name, material_record

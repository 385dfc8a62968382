"""The yard's material as people ask for it: what is in stock, what went into a lot, and who has something of a delivery."""

from monitor.app.stock.lot_entries import doubts_of_giving, write_down
from monitor.app.stock.lot_sheets import HeatsOfHeaps, lot_named, lot_sheet
from monitor.app.stock.lot_words import (
    label_lines,
    list_lines,
    recall_json,
    recall_lines,
    trace_json,
    trace_lines,
)
from monitor.app.stock.naming_material import lot_id, nodes_named, recalled, source_named
from monitor.app.stock.stock_mixed import with_stock
from monitor.app.stock.stock_offered import stock_for_mixing
from monitor.app.stock.stock_words import stock_json, stock_lines
from monitor.app.stock.yard_material import feedstocks_by_name, material_record

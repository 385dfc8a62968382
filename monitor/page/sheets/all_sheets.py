"""The one list of the page's sheets: their addresses, what shows them, and which the navigation names.

To add a sheet, write its handler in a module here and its template in `templates/`, and add its row.
"""

from collections.abc import Callable
from typing import NamedTuple

from starlette.requests import Request
from starlette.responses import Response

from monitor.page.places.place_log import ENTRY
from monitor.page.shared.page_context import PageContext
from monitor.page.sheets import (
    bag_sheet,
    batch_sheets,
    diary_sheet,
    entry_sheet,
    label_sheet,
    lot_sheet,
    mix_sheet,
    people_sheet,
    place_sheet,
    report_sheet,
    round_sheet,
    season_sheet,
    slip_sheet,
    stock_sheet,
    text_sheets,
    yard_entries,
    yard_sheet,
)


class Sheet(NamedTuple):
    """One sheet.

    Attributes:
        path: Its address, as Starlette writes it.
        show: Answers a request for it.
        name: What the navigation calls it; "": it is reached from another sheet.
        for_keepers: Whether the navigation names it to keepers alone.
    """

    path: str
    show: Callable[[PageContext, Request], Response]
    name: str = ""
    for_keepers: bool = False


SHEETS = (
    Sheet("/", yard_sheet.show_yard, "The yard"),
    Sheet(yard_entries.ADDRESS, yard_entries.yard_entries, "Deliveries and more", for_keepers=True),
    Sheet(stock_sheet.ADDRESS, stock_sheet.stock, "Stock and lots"),
    Sheet("/diary", diary_sheet.show_diary, "Diary"),
    Sheet(mix_sheet.ADDRESS, mix_sheet.show_mix, "Mix a heap", for_keepers=True),
    Sheet("/before", text_sheets.before, "Before you go", for_keepers=True),
    Sheet("/away", text_sheets.away, "While you were away", for_keepers=True),
    Sheet(season_sheet.ADDRESS, season_sheet.show_season, "Season", for_keepers=True),
    Sheet("/report", report_sheet.show_report, "Report", for_keepers=True),
    Sheet("/report.csv", report_sheet.report_file),
    Sheet("/labels", label_sheet.labels, "Labels", for_keepers=True),
    Sheet("/people", people_sheet.show_people, "People", for_keepers=True),
    Sheet("/place/{place:path}", place_sheet.place),
    Sheet("/lots/{lot:path}", lot_sheet.lot),
    Sheet("/bags/{lot:path}", bag_sheet.bags),
    Sheet("/bag/{token}", bag_sheet.bag),
    Sheet(stock_sheet.RECALL, stock_sheet.recall),
    Sheet(ENTRY, entry_sheet.find_entry),
    Sheet(entry_sheet.NUMBERED, entry_sheet.show),
    Sheet("/round", round_sheet.show_round),
    Sheet("/slip/{place:path}", slip_sheet.slip),
    Sheet("/days/{place:path}", batch_sheets.days),
    Sheet("/certificate/{name}", batch_sheets.certificate),
)
"""In the order of the navigation."""

"""The page: the yard in a browser, served by the daemon. It reads and acts through small protocols that `app` fills.

Web server and templates are loaded when `PageServer` is first asked for, so neither a daemon without a page nor the links in
messages load them.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

from monitor.page.page_settings import PageSettings
from monitor.page.visitors.bag_links import bag_address, leads_here, lot_address
from monitor.page.visitors.guessable import guess_trouble, guesses
from monitor.page.visitors.message_links import SeenLink, place_address, seen_address
from monitor.page.visitors.page_key import load_key
from monitor.page.visitors.passwords import hash_password, hash_trouble, is_hash, kept_hash

if TYPE_CHECKING:
    from monitor.page.certifying_ports import Paper, RuleDay
    from monitor.page.material_views import (
        Arrived,
        ConditionLine,
        DurationLine,
        GivenLine,
        Ingredient,
        InStock,
        LotLine,
        LotView,
        Named,
        RecalledLot,
        RecallView,
        StockView,
        TestLine,
    )
    from monitor.page.mending_ports import LoggedEntry
    from monitor.page.mixing_ports import MixAsked, MixRow, MixTold
    from monitor.page.pictures.qr_code import qr_rows
    from monitor.page.pictures.slip_picture import slip_of
    from monitor.page.ports import (
        Column,
        Doing,
        Done,
        Entry,
        Look,
        Mark,
        Material,
        Stocked,
    )
    from monitor.page.season_views import BinShown, Fact, HeapShown, SeasonShown
    from monitor.page.server.page_server import PageServer
    from monitor.page.server.whose_page import is_ours

_PORTS = (
    "Column",
    "Doing",
    "Done",
    "Entry",
    "Look",
    "Mark",
    "Material",
    "Stocked",
)
_VIEWS = (
    "Arrived", "ConditionLine", "DurationLine", "GivenLine", "InStock", "Ingredient", "LotLine", "LotView", "Named",
    "RecallView", "RecalledLot", "StockView", "TestLine",
)  # fmt: skip
_LATER = {
    "PageServer": "server.page_server",
    "is_ours": "server.whose_page",
    "qr_rows": "pictures.qr_code",
    "slip_of": "pictures.slip_picture",
    **dict.fromkeys(_PORTS, "ports"),
    "LoggedEntry": "mending_ports",
    **dict.fromkeys(("MixAsked", "MixRow", "MixTold"), "mixing_ports"),
    **dict.fromkeys(("Paper", "RuleDay"), "certifying_ports"),
    **dict.fromkeys(_VIEWS, "material_views"),
    **dict.fromkeys(("BinShown", "Fact", "HeapShown", "SeasonShown"), "season_views"),
}


def __getattr__(name: str) -> Any:
    """Load names that are not always needed when they are first asked for."""
    if name not in _LATER:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_LATER[name]}"), name)

"""Labels for the bags of a lot, to print, and the sheet that a bag's code opens for whoever has the bag."""

from dataclasses import replace

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from monitor.drawing import bag_label
from monitor.page.pictures.qr_code import qr_rows
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import visitor_of
from monitor.page.sheets.keepers_only import keepers_only
from monitor.page.sheets.lot_sheet import show_lot
from monitor.page.visitors.bag_links import bag_address, leads_here, lot_address, lot_path, read_bag

COUNT = 8
"""Labels on a sheet."""
_GONE = "This label's code is not in force any more, or was not read whole. Ask the yard by the name on the label."


@keepers_only
def bags(page: PageContext, request: Request) -> Response:
    """Show the labels of a lot's bags, with a code for keepers, or for anybody if that is asked for."""
    for_all = request.query_params.get("for") == "all"
    with page.yard.look() as look:
        material = look.material()
        shown = material.lot(request.path_params["lot"], names=True)
        lot, base = shown.line.id, page.settings.link
        lead_here = leads_here(base)
        address = bag_address(base, page.key, lot, shown.made_ms) if for_all else lot_address(base, lot)
        label = material.label(lot)
        drawn = bag_label(label if lead_here else replace(label, code=qr_rows(address)))
        return page.show(
            request,
            "bags.html",
            look,
            lot=shown,
            drawn=drawn,
            count=COUNT,
            for_all=for_all,
            address="" if lead_here else address,
            path=lot_path(lot),
        )


def bag(page: PageContext, request: Request) -> Response:
    """Show a lot to whoever scanned the code of a bag: keepers the whole of it, everybody else without names."""
    visitor = visitor_of(request)
    wait_s = page.guest_tries.wait_s(visitor.address)
    lot = read_bag(page.key, request.path_params["token"], page.yard.now()) if wait_s <= 0 else None
    if lot is None:
        if wait_s <= 0:
            page.guest_tries.failed(visitor.address)
        return page.fault(request, _GONE, 404, title="The code has ended")
    if visitor.looks:
        return RedirectResponse(lot_path(lot), 303)
    with page.yard.look() as look:
        return show_lot(page, request, look, lot)

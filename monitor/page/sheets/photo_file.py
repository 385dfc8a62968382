"""A photo of a remark, for whoever may see the log."""

from starlette.requests import Request
from starlette.responses import Response

from monitor.model.errors import MisuseError
from monitor.page.shared.page_context import PageContext

KEPT = "private, max-age=31536000, immutable"
"""An address names one picture for good, so a browser need not ask twice; caches on the way keep none."""


def photo(page: PageContext, request: Request) -> Response:
    """Return a photo.

    Raises:
        MisuseError: It is not there.
    """
    data = None if page.photos is None else page.photos.shown(request.path_params["photo"])
    if data is None:
        raise MisuseError("This photo is not here any more, or was changed on the disk; the entry stands without it.")
    return Response(data, media_type="image/jpeg", headers={"cache-control": KEPT})

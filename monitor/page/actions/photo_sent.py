"""Keeps the photo that was sent with a form, and names it there: a form that is refused or asked about has it still."""

from starlette.requests import Request

from monitor.codec import PHOTO_MOST, too_large
from monitor.model.errors import FieldError
from monitor.page.shared.page_context import PageContext
from monitor.page.shared.request_parts import photo_of

FIELD = "photo"


def with_photo(page: PageContext, request: Request, form: dict[str, str]) -> dict[str, str]:
    """Return the form of a request with the name of its photo.

    Args:
        page: The shared parts.
        request: The request.
        form: Its form; it may name a photo that was sent before.

    Raises:
        FieldError: The photo cannot be kept; the sentence says what would be right.
        UnavailableError: The disk does not take it.
    """
    sent, photos = photo_of(request), page.photos
    if photos is None:
        return {**form, FIELD: ""} if FIELD in form else form
    if sent is None:
        return {**form, FIELD: ""} if form.get(FIELD) and not photos.has(form[FIELD]) else form
    if sent.size > PHOTO_MOST:
        words = too_large(sent.size)
        raise FieldError(f"{words[:1].upper()}{words[1:]}.", FIELD)
    return {**form, FIELD: photos.keep(sent.data)}

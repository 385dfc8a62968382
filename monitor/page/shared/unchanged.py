"""Tells a browser that the sheet it has is still the sheet as it stands, so that nothing of it is sent again.

A sheet's mark is a hash of it without what differs at every look: the token of its forms, and the time at which it was
taken. That time goes along in headers, so that the sheet can still say how fresh it is.

Source: RFC 9110, sections 8.8.3 (ETag), 13.1.2 (If-None-Match) and 15.4.5 (304).
"""

import hashlib
from collections.abc import Sequence

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response

MARK = 'data-mark=""'
"""Where a sheet bears its mark; empty in the template."""


def answer_with(request: Request, text: str, differs: Sequence[str], stood: str, day: str) -> Response:
    """Return a sheet with its mark, or the word that the browser has it already.

    Args:
        request: The request.
        text: The sheet.
        differs: The pieces of text that differ at every look and make it no other sheet.
        stood: When it was taken, in words.
        day: The day and time at its head, or "".
    """
    plain = text
    for piece in differs:
        plain = plain.replace(piece, "") if piece else plain
    mark = hashlib.sha256(plain.encode()).hexdigest()[:20]
    headers = {"etag": f'"{mark}"', "x-stood": stood, "x-day": day}
    # A server between here and the browser may have packed the sheet and made the mark a weak one.
    if request.headers.get("if-none-match", "").removeprefix("W/") == f'"{mark}"':
        return Response(status_code=304, headers=headers)
    return HTMLResponse(text.replace(MARK, f'data-mark="{mark}"', 1), headers=headers)

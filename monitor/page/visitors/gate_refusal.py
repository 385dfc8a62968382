"""What the gate answers where it lets nobody through: a small sheet that says why, and what to do next.

It needs no template and no session, and shows nothing of the yard.
"""

from html import escape

from starlette.responses import HTMLResponse, Response


def refusal(
    words: str, status: int, *, title: str = "Nothing was done", stylesheet: str = "", onward: tuple[str, str] = ("", "")
) -> Response:  # fmt: skip
    """Return a refusal.

    Args:
        words: Why, in a sentence or two.
        status: Of HTTP.
        title: What happened, in a few words.
        stylesheet: Its address, "" where none can be had.
        onward: Address and words of a link to go on by; ("", "") for none.
    """
    style = f'<link rel="stylesheet" href="{escape(stylesheet)}">' if stylesheet else ""
    link = (
        f'<p><a class="onward" href="{escape(onward[0])}">{escape(onward[1], quote=False)}</a></p>' if onward[0] else ""
    )
    said = escape(words, quote=False)
    return HTMLResponse(
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="color-scheme" content="light dark"><title>{escape(title)}</title>{style}</head>'
        f'<body><main><h1>{escape(title, quote=False)}</h1><p class="wrong" role="alert">{said}</p>{link}</main></body></html>',
        status,
    )

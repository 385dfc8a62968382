"""What the gate answers where it lets nobody through: a small sheet that says why, and what to do next.

It needs no session, and shows nothing of the yard.
"""

from functools import cache

from jinja2 import Template
from starlette.responses import HTMLResponse, Response

from monitor.page.page_templates import page_templates


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
    return HTMLResponse(_template().render(words=words, title=title, stylesheet=stylesheet, onward=onward), status)


@cache
def _template() -> Template:
    return page_templates().get_template("refused.html")

"""Answers a request that the gate refuses: a small sheet that says why, and what to do next.

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
        words: The reason, in a sentence or two.
        status: The HTTP status.
        title: What happened, in a few words.
        stylesheet: The stylesheet's address; "" for none.
        onward: Address and words of a link to go on; ("", "") for none.
    """
    return HTMLResponse(_template().render(words=words, title=title, stylesheet=stylesheet, onward=onward), status)


@cache
def _template() -> Template:
    return page_templates().get_template("refused.html")

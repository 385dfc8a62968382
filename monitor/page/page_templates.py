"""The page's templates, ready to be rendered.

They escape everything that they show, except drawings, which escape their own texts. A name without a value is a fault.
Templates are indented for their readers; the pages sent out are not, so that they stay small.
"""

import re
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from jinja2.ext import Extension
from markupsafe import Markup

_INDENT = re.compile(r"^[ ]+", re.MULTILINE)


class Unindented(Extension):
    """Removes the indentation of a template's lines when it is loaded."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """Return a template's source without its indentation."""
        del name, filename
        return _INDENT.sub("", source)


@cache
def page_templates() -> Environment:
    """Return the templates of `templates/`, which all pages of a process share: each is compiled once."""
    made = Environment(
        loader=PackageLoader("monitor.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        extensions=[Unindented],
    )
    made.filters["drawn"] = Markup
    made.filters["tied"] = lambda words: words.replace(" °", "\u00a0°")
    made.filters["dialed"] = lambda number: re.sub(r"[^+0-9]", "", number)
    return made

"""The page's templates, ready to be rendered.

Everything that they show is escaped, except drawings, which escape what they are given. A name that they are not told is a
fault. They are indented to be read; what goes out is not, so that it stays small.
"""

import re

from jinja2 import Environment, PackageLoader, StrictUndefined
from jinja2.ext import Extension
from markupsafe import Markup

_INDENT = re.compile(r"^[ ]+", re.MULTILINE)


class Unindented(Extension):
    """Takes the indentation off the lines of a template as it is read."""

    def preprocess(self, source: str, name: str | None, filename: str | None = None) -> str:
        """Return a template's source without its indentation."""
        del name, filename
        return _INDENT.sub("", source)


def page_templates() -> Environment:
    """Return the templates of `templates/`."""
    made = Environment(
        loader=PackageLoader("monitor.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        extensions=[Unindented],
    )
    made.filters["drawn"] = Markup
    return made

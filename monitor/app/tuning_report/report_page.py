"""The report of `tune` as one file that needs no other: HTML with its pictures inside.

Rules: no script, nothing fetched; the words are those of the terminal; every text is escaped.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportPage:
    """What the report says, from top to bottom.

    Attributes:
        title: Its title.
        before: Paragraphs on what was looked at.
        rows: The settings that were tried, numbered in this order; () for none.
        verdict: What to do.
        pictures: Pairs (SVG, what its marks mean); those whose SVG is "" are left out.
        after: Remarks.
    """

    title: str
    before: Sequence[str]
    rows: Sequence[str]
    verdict: str
    pictures: Sequence[tuple[str, str]]
    after: Sequence[str]

    def html(self) -> str:
        """Return it as HTML."""
        templates = Environment(
            loader=PackageLoader("monitor.app.tuning_report"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
        )
        return templates.get_template("report.html").render(report=self)

"""The report of `tune` as a single file of HTML with its pictures inside.

Rules: no script, nothing fetched; the words are those of the terminal; every text is escaped.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportPage:
    """The content of the report, from top to bottom.

    Attributes:
        title: The heading.
        before: Paragraphs about the record.
        rows: The settings that were tried, numbered in this order; () for none.
        verdict: The advice.
        pictures: Pairs (SVG, caption); a pair with "" as SVG is left out.
        after: Remarks at the end.
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

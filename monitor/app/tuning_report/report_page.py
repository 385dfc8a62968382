"""The report of `tune` as a single file of HTML with its pictures inside, in the dress of the page.

Rules: no script, nothing fetched; the words are those of the terminal; every text is escaped.
"""

from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from jinja2 import Environment, PackageLoader, StrictUndefined

from monitor.drawing import properties, stylesheet
from monitor.typeface import face_rules


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportRow:
    """A row of the table: one set of settings.

    Attributes:
        cells: Its values, one for each head.
        caught, troubles: How many troubles it caught, and how many there were; 0 of 0 draws no tally.
        suggested: Whether it is the suggested one.
    """

    cells: Sequence[str]
    caught: int = 0
    troubles: int = 0
    suggested: bool = False

    @property
    def tally(self) -> Sequence[bool]:
        """A box for each trouble, true for one that was caught; none where there are too many to be counted by eye."""
        return [number < self.caught for number in range(self.troubles)] if self.troubles <= MOST_BOXES else []


MOST_BOXES = 24


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportPage:
    """The content of the report, from top to bottom.

    Attributes:
        title: The heading.
        before: Paragraphs about the record.
        head: The heads of the table, behind that of the number.
        rows: The settings that were tried, numbered in this order; () for none.
        verdict: The advice.
        pictures: Triples (title, SVG, caption); one with "" as SVG is left out.
        after: Remarks at the end.
    """

    title: str
    before: Sequence[str]
    head: Sequence[str]
    rows: Sequence[ReportRow]
    verdict: str
    pictures: Sequence[tuple[str, str, str]]
    after: Sequence[str]

    def html(self, cuts: Mapping[str, bytes]) -> str:
        """Return it as HTML, with the cuts of the typeface inside; {}: in the reader's own serif."""
        templates = Environment(
            loader=PackageLoader("monitor.app.tuning_report"),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
            keep_trailing_newline=True,
        )
        faces = {name: f"data:font/woff2;base64,{b64encode(data).decode()}" for name, data in cuts.items()}
        dress = face_rules(faces) + (stylesheet() if any(svg for _, svg, _ in self.pictures) else properties())
        return templates.get_template("report.html").render(report=self, dress=dress)

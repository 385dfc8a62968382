"""A report in parts that can be shown anywhere: on a screen, on the page, on a sheet of paper."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Section:
    """A part of a report.

    Attributes:
        heading: Its heading.
        columns: The headings of its table; empty: it has none.
        rows: The rows of its table, a cell for each column.
        lines: What is said beneath the table, a sentence each.
    """

    heading: str
    columns: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()

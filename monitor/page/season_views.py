"""A season as the page shows it: heaps and bins with their pictures' values and with words, which the port `Look` fills."""

from dataclasses import dataclass

from monitor.drawing import Course, YearBand


@dataclass(frozen=True, slots=True)
class Fact:
    """A fact beside a picture: its name, its words, and whether that is a few words that need no line of their own."""

    name: str
    words: str
    short: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class HeapShown:
    """A heap.

    Attributes:
        batch: Its id.
        place: The place where it lies, or lay last.
        lies: Whether it lies there still.
        name: That place's name.
        built: The day of its building, in words.
        course: Its picture.
        facts: The facts on it: the same names for each heap, in one order.
        waits: Whether its readings are still to be worked out.
    """

    batch: str
    place: str
    lies: bool
    name: str
    built: str
    course: Course
    facts: tuple[Fact, ...]
    waits: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BinShown:
    """A bin.

    Attributes:
        place: Its id.
        name: Its name.
        band: Its picture; None: nothing is known of it in these months.
        facts: The facts on it.
        columns: The headings of its table.
        months: Its table, a row for each month of which anything is known.
    """

    place: str
    name: str
    band: YearBand | None
    facts: tuple[Fact, ...]
    columns: tuple[str, ...]
    months: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SeasonShown:
    """Some months of a yard.

    Attributes:
        heaps: The heaps that are shown, those built last in front.
        in_all: The number of all heaps that lay in these months.
        bins: The bins that are shown.
    """

    heaps: tuple[HeapShown, ...]
    in_all: int
    bins: tuple[BinShown, ...]

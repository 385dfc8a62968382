"""The one declaration of each kind of work; command line, page, CSV, certificate, questions and engine all read it.

To add a kind, add its word to `WorkKind` and its row here. Flags say what an entry does, never a second list
of kinds: code that needs *all kinds that change where heaps lie* asks the rows for `moves_material`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from enum import Flag, StrEnum, auto

from monitor.model.amounts import Dimension
from monitor.model.forecast_entry import FORECAST
from monitor.model.settings import AMBIENT, YARD, Settings
from monitor.model.times import HOUR_MS, MINUTE_MS
from monitor.model.work import Work, WorkKind


class Where(Flag):
    """Kinds of places; `YARD` is the whole yard (place `yard`)."""

    PILE = auto()
    BIN = auto()
    AIR = auto()
    YARD = auto()


class Material(StrEnum):
    """The effect of an entry on the material of a heap."""

    NOTHING = "nothing"
    BEGINS = "begins"
    TAKES_IN = "takes in"
    GOES = "goes"
    PART_GOES = "part goes"
    JOINS = "joins"
    ENDS = "ends"


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfWork:
    """One kind of work.

    Attributes:
        kind: Its word.
        where: Where it may happen; elsewhere a person is asked.
        shown: Its word in the past tense, if `kind` itself is none (`fan run`).
        dimensions: Kinds of amounts it can have; empty: it has none.
        fields: Further fields of `Work` that belong to it, beside `time`, `by` and `note`.
        material: Its effect on a heap's material.
        turns: Whether it counts as a turning (a move does unless its note says otherwise).
        moistens: Whether it is fresh water or food, after which a bin's moisture alarms are muted for a while.
        feeds: Whether it is food, which warms a bin.
        fills: Whether it lays a bed into an empty bin.
        probe: Whether it concerns a probe, which it names.
        needs_heap: Whether it can only be done to a heap that lies there.
        command: The words of the command that writes it down, if that is not `log`.
        remark_only: Whether it is nothing but its note, and means nothing without one; a forecast may stand for it.
        same_within_ms: Time within which the same entry at the same place makes the daemon ask; None: never.
        same_fields: Fields that must be alike too before the daemon asks; the same place and kind always must.
        needs: Fields that it means nothing without.
        can_be_nothing: Whether 0 is an amount of it.
        stocks: Whether it changes or counts the yard's stock of a material.
        sights: Whether it is a look into a bin, which means nothing unless it says what was seen.
        typed: Other words for it on the command line.
        own_form: Whether the page has a form of its own for it; other kinds share the form *other work*.
    """

    kind: WorkKind
    where: Where
    shown: str = ""
    dimensions: tuple[Dimension, ...] = ()
    fields: tuple[str, ...] = ()
    material: Material = Material.NOTHING
    turns: bool = False
    moistens: bool = False
    feeds: bool = False
    fills: bool = False
    probe: bool = False
    needs_heap: bool = False
    same_within_ms: int | None = None
    same_fields: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    can_be_nothing: bool = False
    stocks: bool = False
    sights: bool = False
    typed: tuple[str, ...] = ()
    remark_only: bool = False
    command: str = ""
    own_form: bool = False

    @property
    def past(self) -> str:
        """Its word in the past tense, as people read it; before an amount and a place."""
        return self.shown or self.kind.value

    @property
    def word(self) -> str:
        """The word to type for it."""
        return self.kind.value.replace(" ", "-")

    @property
    def of_yard(self) -> bool:
        """Whether it concerns the whole yard alone, so that nobody names a place."""
        return self.where is Where.YARD

    @property
    def foretells(self) -> bool:
        """Whether it may be a forecast of the air."""
        return FORECAST[0] in self.fields

    @property
    def goes_somewhere(self) -> bool:
        """Whether it names a place to which material goes."""
        return "to" in self.fields

    @property
    def brings(self) -> bool:
        """Whether it brings material to its place, which joins what lies there."""
        return self.fills and self.material is not Material.BEGINS

    @property
    def moves_material(self) -> bool:
        """Whether it changes where heaps lie, or that they lie at all (`added` does only if nothing lay there)."""
        return self.material not in (Material.NOTHING, Material.TAKES_IN)


_HEAP, _BED, _AIR, _YARD = Where.PILE, Where.BIN, Where.AIR, Where.YARD
_BULK = (Dimension.VOLUME, Dimension.MASS, Dimension.CONTAINERS)
_WEIGHED = (Dimension.MASS, Dimension.VOLUME, Dimension.CONTAINERS)
_WATER = (Dimension.VOLUME, Dimension.CONTAINERS)
_CAME = ("what", "source", "parts")
SIGHTS = ("worms", "cocoons", "smell", "squeeze")
"""Fields of a look into a bin; `sightings` has the words of each."""
FRACTIONS = ("fines", "middle", "overs")
"""Fields of a screening: what passes 1/8 in (3.2 mm), what passes 1/4 in (6.4 mm) and not 1/8, and what stays on the screen."""
FIGURES = ("moisture", *FRACTIONS, "depth")
"""Fields that hold a figure beside the amount."""
ABSENCE = ("contact", "start", "end")
"""Fields of an absence: who is away, and from when until when."""
_DAY_PART, _HALF_HOUR = 6 * HOUR_MS, 30 * MINUTE_MS

# The page offers the kinds in this order.
KINDS: dict[WorkKind, KindOfWork] = {
    row.kind: row
    for row in (
        KindOfWork(
            kind=WorkKind.TURNED, where=_HEAP, turns=True, needs_heap=True, same_within_ms=_DAY_PART,
            typed=("turning-now",), own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.FED, where=_BED, dimensions=_WEIGHED, fields=(*_CAME, "spot"), moistens=True,
            feeds=True, fills=True, same_within_ms=_HALF_HOUR, own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.WATERED, where=_HEAP | _BED, dimensions=_WATER, fields=("spot",),
            moistens=True, same_within_ms=_HALF_HOUR, own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.BEDDED, fills=True, where=_BED, dimensions=(*_BULK, Dimension.LENGTH),
            fields=_CAME, same_within_ms=_HALF_HOUR, same_fields=("what",), own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.ADDED, fills=True, where=_HEAP, dimensions=_BULK, fields=_CAME,
            material=Material.TAKES_IN, needs_heap=True, own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.COVERED, where=_HEAP | _BED, dimensions=(*_BULK, Dimension.LENGTH),
            fields=("what",),
        ),
        KindOfWork(
            kind=WorkKind.HARVESTED, where=_BED, dimensions=(*_BULK, Dimension.LENGTH), fields=("moisture", "depth"),
            same_within_ms=_DAY_PART, own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.NOTE, where=_HEAP | _BED | _AIR | _YARD, fields=("spot",), remark_only=True, own_form=True,
        ),
        KindOfWork(kind=WorkKind.SEEN, shown="looked at", where=_HEAP | _BED, fields=("spot",)),
        KindOfWork(kind=WorkKind.INSPECTED, where=_BED, fields=("spot", *SIGHTS, "depth"), sights=True, own_form=True),
        KindOfWork(kind=WorkKind.FAN, shown="fan run", where=_HEAP, dimensions=(Dimension.DURATION,)),
        KindOfWork(
            kind=WorkKind.SAMPLED, where=_HEAP | _BED, dimensions=_WEIGHED, fields=("what", "spot", "moisture"),
            own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.BUILT, fills=True, where=_HEAP, dimensions=(*_BULK, Dimension.LENGTH), fields=_CAME,
            material=Material.BEGINS, same_within_ms=_DAY_PART,
        ),
        KindOfWork(
            kind=WorkKind.MOVED, where=_HEAP, dimensions=_BULK, fields=("to", "batch"),
            material=Material.GOES, turns=True, needs_heap=True, same_within_ms=_DAY_PART,
        ),
        KindOfWork(
            kind=WorkKind.SPLIT, where=_HEAP, dimensions=_BULK, fields=("to", "batch"),
            material=Material.PART_GOES, needs_heap=True,
        ),
        KindOfWork(
            kind=WorkKind.MERGED, where=_HEAP, dimensions=_BULK, fields=("to", "batch", *_CAME),
            material=Material.JOINS, needs_heap=True, same_within_ms=_DAY_PART,
        ),
        KindOfWork(
            kind=WorkKind.SCREENED, where=_HEAP | _BED, dimensions=_BULK, fields=("what", "moisture", *FRACTIONS),
            own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.EMPTIED, where=_HEAP | _BED, dimensions=_BULK, material=Material.ENDS,
            same_within_ms=_DAY_PART,
        ),
        KindOfWork(
            kind=WorkKind.PROBE_IN, shown="put in", where=_HEAP | _BED | _AIR, fields=("probe", "spot"), probe=True,
            own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.PROBE_OUT, shown="taken out", where=_HEAP | _BED | _AIR, fields=("probe",), probe=True,
            own_form=True,
        ),
        KindOfWork(
            kind=WorkKind.DELIVERY, shown="delivered", where=_YARD, dimensions=_WEIGHED,
            fields=("what", "source", "risk", "refused", "spot"), needs=("what", "amount"), stocks=True,
            same_within_ms=_HALF_HOUR, same_fields=("what", "amount", "unit", "source"),
        ),
        KindOfWork(
            kind=WorkKind.COUNTED, where=_YARD, dimensions=_WEIGHED, fields=("what", "spot"), needs=("what", "amount"),
            can_be_nothing=True, stocks=True,
        ),
        KindOfWork(kind=WorkKind.VISITORS, where=_YARD, remark_only=True),
        KindOfWork(kind=WorkKind.PEST, where=_YARD, fields=("spot",), remark_only=True),
        KindOfWork(kind=WorkKind.COMPLAINT, where=_YARD, remark_only=True),
        KindOfWork(kind=WorkKind.INCIDENT, where=_YARD, fields=("spot",), remark_only=True),
        KindOfWork(kind=WorkKind.WEATHER, where=_YARD, fields=(*FORECAST, "source"), remark_only=True, typed=("forecast",)),
        KindOfWork(kind=WorkKind.AWAY, where=_YARD, fields=ABSENCE, needs=ABSENCE),
        KindOfWork(
            kind=WorkKind.LOT, where=_YARD, dimensions=_WEIGHED, fields=("what", "lot", "moisture"),
            needs=("what", "lot"), command="lots make",
        ),
        KindOfWork(
            kind=WorkKind.TESTED, where=_YARD, fields=("lot", "test", "result"), needs=("lot", "test", "result"),
            command="lots test",
        ),
        KindOfWork(
            kind=WorkKind.GIVEN, where=_YARD, dimensions=_WEIGHED, fields=("lot", "receiver", "price"),
            needs=("lot", "receiver", "amount"), same_within_ms=_HALF_HOUR, same_fields=("lot", "receiver", "amount", "unit"),
            command="lots give",
        ),
    )
}  # fmt: skip


def declared(kind: WorkKind) -> KindOfWork:
    """Return the declaration of a kind of work."""
    return KINDS[kind]


def is_turning(work: Work) -> bool:
    """Return whether an entry counts as a turning: a move does, unless its note says otherwise."""
    row = declared(work.kind)
    return row.turns and not (row.goes_somewhere and "not a turning" in work.note.casefold())


def turned_at(work: Work) -> str | None:
    """Return the place where a heap lies after a turning, which for a move is where it went; None for any other entry."""
    if not is_turning(work):
        return None
    return work.to if declared(work.kind).material is Material.GOES else work.place


def kinds(where: Where | None = None) -> Iterator[KindOfWork]:
    """Yield the declarations of all kinds, or of those that may happen at a kind of place."""
    return (row for row in KINDS.values() if where is None or where in row.where)


def typed_words() -> dict[str, WorkKind]:
    """Return each word that can be typed for a kind of work."""
    return {word: row.kind for row in KINDS.values() for word in (row.word, *row.typed)}


def place_kind(settings: Settings, place: str) -> Where | None:
    """Return the kind of a place, or None if there is no place of that id."""
    if place in settings.piles:
        return Where.PILE
    if place in settings.bins:
        return Where.BIN
    return {AMBIENT: Where.AIR, YARD: Where.YARD}.get(place)


PROBE_WORK: frozenset[WorkKind] = frozenset(row.kind for row in KINDS.values() if row.probe)
"""Work on a probe: put in, taken out."""
GOING: frozenset[WorkKind] = frozenset(row.kind for row in KINDS.values() if row.goes_somewhere)
"""Work that names a place to which material goes."""
HEAP_CHANGES: frozenset[WorkKind] = frozenset(row.kind for row in KINDS.values() if row.moves_material)
"""Work that changes where heaps lie."""
MOISTENING: frozenset[WorkKind] = frozenset(row.kind for row in KINDS.values() if row.moistens)
"""Fresh water and food."""
FILLS_BED: frozenset[WorkKind] = frozenset(row.kind for row in KINDS.values() if row.fills)
"""Work that lays a bed into an empty bin; material moved, split or merged into it does so too."""

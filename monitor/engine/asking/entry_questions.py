"""Questions about an entry that looks like a slip or would lose something.

Nothing here refuses an entry: people can answer *that is so*, and it is taken as it stands. The declaration of each kind of
work says which questions go with it (`model.work_kinds`).
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from monitor.engine.asking.entered import Entered
from monitor.engine.asking.figure_doubts import figure_doubts
from monitor.engine.asking.heap_name_doubts import heap_name_doubts
from monitor.engine.asking.implausible_measures import hardly_so_deep_in
from monitor.engine.asking.logged_past import LoggedPast, past_of
from monitor.engine.asking.material_doubts import material_doubts
from monitor.engine.asking.plausible import implausible, is_compared
from monitor.engine.asking.spot_doubts import spot_doubt
from monitor.engine.asking.yard_sizes import YardSizes
from monitor.engine.context.batch_runs import BatchRun, progress_now
from monitor.engine.context.core import Core
from monitor.engine.context.state import EngineState
from monitor.engine.hand.hand_doubts import doubts
from monitor.material import Change, came_in, is_raw, worst_change
from monitor.model.readings import Reading
from monitor.model.settings import AMBIENT, Settings
from monitor.model.times import DAY_MS
from monitor.model.units import Quantity, to_milli
from monitor.model.words import Role, RuleState
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import Material, Where, declared, place_kind
from monitor.model.work_words import work_said
from monitor.notices import Progress, clean, say_time
from monitor.piles import Batch

FAR_BACK_MS = 14 * DAY_MS
"""Work done longer ago than this raises a question: the year or the month may be a slip."""


@dataclass(frozen=True, slots=True)
class Standing:
    """An entry in its corrected form: its number for people (0: not in the record yet), and its work."""

    number: int
    work: Work


@dataclass(frozen=True, slots=True, kw_only=True)
class Yard:
    """The yard and the entry that the questions look at.

    Attributes:
        core: The engine's state and settings.
        entries: The logged work as corrected, in any order.
        now: UTC ms.
        place_of: Returns the place where a probe is now, "" if nowhere.
        far_back: Whether work done long ago raises a question.
        instead: The entry that the work puts right, or None.
        whole_log: Whether `entries` has the whole log; what only all of it can tell is asked only then.
        sizes: The sizes of the yard, which the settings do not have.
        past: The log before the entry, if it is kept elsewhere; None: it is made of `entries`.
    """

    core: Core
    entries: Sequence[Standing]
    now: int
    place_of: Callable[[str], str]
    far_back: bool = True
    instead: Work | None = None
    whole_log: bool = True
    sizes: YardSizes = field(default_factory=YardSizes)
    past: LoggedPast | None = None

    @property
    def state(self) -> EngineState:
        """The engine's state."""
        return self.core.state

    @property
    def settings(self) -> Settings:
        """The settings in force."""
        return self.state.settings

    def name(self, place: str) -> str:
        """Return the name of a place, safe for one line."""
        return clean(self.settings.place_name(place), 40)

    def when(self, at: int) -> str:
        """Return an instant in words."""
        return say_time(at, self.now, ZoneInfo(self.settings.site.time_zone))


def questions(yard: Yard, work: Work) -> list[str]:
    """Return the questions about a piece of work, each a sentence or two; none if it is plausible."""
    return [*_of_time(yard, work.time), *_of_place(yard, work), *_of_others(yard, work), *_of_heap(yard, work),
            *_of_cover(yard, work), *_of_probe(yard, work), *_of_material(yard, work),
            *figure_doubts(work), *_of_figures(yard, work), *_of_spot(yard, work.place, work.spot)]  # fmt: skip


def questions_of_readings(yard: Yard, rows: Sequence[Reading], depth_mm: int | None = None) -> list[str]:
    """Return the questions about readings taken by hand; none if they are plausible.

    Args:
        yard: The yard.
        rows: The readings.
        depth_mm: How deep they were taken; None if nobody said.
    """
    if not rows:
        return []
    works = [one.work for one in yard.entries]
    doubted = doubts(yard.core, works, rows, yard.now)
    spots = [where for row in rows if (where := yard.settings.place_of_hand(row.probe)) is not None]
    asked = [question for place, spot in spots for question in _of_spot(yard, place, spot)]
    deep = [] if depth_mm is None else _of_depth(yard, {place for place, _ in spots}, depth_mm)
    return [*_of_time(yard, min(row.time for row in rows)), *_of_empty_piles(yard, rows), *doubted, *asked, *deep]


def _of_depth(yard: Yard, places: Iterable[str], depth_mm: int) -> Iterator[str]:
    for place in sorted(places):
        bed = yard.sizes.beds.get(place) if place in yard.settings.bins else None
        yield from hardly_so_deep_in(yard.settings, place, bed, depth_mm)


def _of_figures(yard: Yard, work: Work) -> Iterator[str]:
    if not is_compared(work.kind) or not (yard.whole_log or yard.past is not None):
        return
    past = yard.past
    if past is None:
        past = past_of(((one.number, one.work) for one in yard.entries), yard.sizes, work)
    yield from implausible(Entered(work=work, settings=yard.settings, sizes=yard.sizes, past=past))


def _of_material(yard: Yard, work: Work) -> Iterator[str]:
    def heap_on(pile: str) -> str:
        heap = yard.core.batches.at(pile, work.time)
        return "" if heap is None else heap.batch

    entries = [(one.number, one.work) for one in yard.entries] if yard.whole_log else []
    yield from material_doubts(yard.settings, entries, work, heap_on)
    yield from heap_name_doubts(yard.settings, yard.state.batches.batches, work)


def _of_spot(yard: Yard, place: str, spot: str) -> Iterator[str]:
    read = [one.spot for one in yard.state.hands.values() if one.place == place]
    logged = [one.work.spot for one in yard.entries if one.work.place == place]
    if doubt := spot_doubt(yard.settings, place, spot, [*read, *logged]):
        yield doubt


def _of_empty_piles(yard: Yard, rows: Sequence[Reading]) -> Iterator[str]:
    """Ask about a reading where nothing lies, unless no heap is known anywhere, since a log may begin with a reading.

    A dangerous reading waits for no answer.
    """
    read: dict[str, list[Reading]] = {}
    for row in rows:
        where = yard.settings.place_of_hand(row.probe)
        if where is not None:
            read.setdefault(where[0], []).append(row)
    for place, mine in read.items():
        pile, known = yard.settings.piles.get(place), yard.state.batches
        if pile is None or not (place in known.settled or known.lying) or yard.core.batches.on(place) is not None:
            continue
        if yard.core.batches.at(place, min(row.time for row in mine)) is not None:
            continue
        if max(to_milli(row.micro, row.unit) for row in mine) >= pile.thresholds.too_hot_milli_c:
            continue
        begins = "" if place in known.settled or yard.core.cores_of(place) else " A heap would begin with it."
        yield f"Nothing lies on {yard.name(place)}, as far as the record knows.{begins} Is the place right?"


def _of_time(yard: Yard, time: int) -> Iterator[str]:
    if yard.far_back and time < yard.now - FAR_BACK_MS:
        days = (yard.now - time) // DAY_MS
        yield f"That is {days} days back ({yard.when(time)}). Is the day right?"


def _of_place(yard: Yard, work: Work) -> Iterator[str]:
    kind, here = declared(work.kind), place_kind(yard.settings, work.place)
    if here is not None and here not in kind.where:
        meant = "heaps" if Where.PILE in kind.where else "worm bins"
        yield f'{yard.name(work.place)} is {_a(here)}; "{work.kind.value}" is work on {meant}.'
    if not kind.goes_somewhere:
        return
    if work.to == work.place:
        yield f"{yard.name(work.place)} is where it lies already: nothing goes anywhere."
    elif here is Where.PILE and place_kind(yard.settings, work.to) is Where.BIN:
        yield (
            f"{yard.name(work.to)} is a worm bin, not a place for a heap: what goes there is its bedding from then on."
        )


def _a(where: Where) -> str:
    return {Where.PILE: "a place for heaps", Where.BIN: "a worm bin", Where.AIR: "the air of the yard"}.get(
        where, "the yard"
    )


def _of_others(yard: Yard, work: Work) -> Iterator[str]:
    kind = declared(work.kind)
    if kind.same_within_ms is None:
        return
    near = [
        one for one in yard.entries
        if one.work.kind is work.kind and one.work.place == work.place
        and abs(one.work.time - work.time) < kind.same_within_ms
        and all(_plain(getattr(one.work, name)) == _plain(getattr(work, name)) for name in kind.same_fields)
    ]  # fmt: skip
    if not near:
        return
    one = min(near, key=lambda one: abs(one.work.time - work.time))
    told = ", ".join(filter(None, (str(one.number or ""), clean(one.work.by, 40) if one.work.by else "")))
    if kind.of_yard:
        said = clean(work_said(one.work, with_note=False), 160)
        entry = f"Entry {told}" if told else "An earlier entry"
        yield f"{entry} already says, of {yard.when(one.work.time)}: {said}. Did it come once more?"
        return
    as_one = " Turnings less than 6 h apart count as one." if work.kind is WorkKind.TURNED else ""
    yield (
        f"{yard.name(work.place)} was {kind.past} {yard.when(one.work.time)} already{f' ({told})' if told else ''}. "
        f"Was it {kind.past} once more?{as_one}"
    )


def _plain(text: str) -> list[str]:
    return text.casefold().split()


def _of_heap(yard: Yard, work: Work) -> Iterator[str]:
    kind = declared(work.kind)
    if place_kind(yard.settings, work.place) is not Where.PILE or work.kind is WorkKind.SAMPLED:
        return
    book = yard.core.batches
    then, now = book.at(work.place, work.time), book.on(work.place)
    name = yard.name(work.place)
    touches = kind.needs_heap or kind.material is not Material.NOTHING or bool(kind.dimensions)
    if kind.material is Material.BEGINS:
        yield from _of_building(yard, work, then, now)
    elif then is None and now is not None and touches and work.time < now.built:
        yield f"{name} {_begun(yard, now)} {yard.when(now.built)}; this is earlier. Is the time right?"
    elif then is None and kind.needs_heap:
        more = " A heap would begin with it." if kind.material is Material.TAKES_IN else ""
        yield f"Nothing lies on {name}, as far as the record knows.{more} Is the place right?"
    elif then is not None and kind.material is Material.ENDS:
        run = yard.state.runs.get(then.batch)
        if run is not None and (so_far := so_far_words(run)) and run.rule is not RuleState.MET:
            yield f"The heap of {name} would end with it, after {so_far}. Is that so?"
    yield from _of_loss(yard, work)


def _of_building(yard: Yard, work: Work, then: Batch | None, now: Batch | None) -> Iterator[str]:
    """Ask about a heap that is built where one lies, or lay.

    Args:
        yard: The yard.
        work: The building.
        then: The heap that lay there at that time, or None.
        now: The heap that lies there now, or None.
    """
    lies, name = then if then is not None else now, yard.name(work.place)
    if lies is None or _begun_by(lies, yard.instead):
        return  # if its beginning is put right, no other heap begins
    if then is not None and work.time == lies.built and _same_building(yard, work):
        return
    begun = f"{name} holds a heap that {_begun(yard, lies)} {yard.when(lies.built)}"
    if then is None:
        yield f"{begun}; this is earlier. Is the time right?"
    else:
        yield f"{begun}: {_ends(yard, work.place)} Is that so?"


@dataclass(frozen=True, slots=True)
class Loss:
    """Progress that incoming material takes from a heap: the heap's place, and the progress, `12 days`."""

    place: str
    so_far: str


def lost_by(core: Core, work: Work) -> Loss | None:
    """Return the progress that a heap loses by the material that an entry brings; None if it loses nothing."""
    kind = declared(work.kind)
    goes = kind.goes_somewhere and work.to != work.place
    place = work.to if goes else work.place if kind.brings else ""
    lies = core.batches.at(place, work.time)
    run = core.state.runs.get(lies.batch) if lies is not None else None
    if run is None:
        return None

    def met_now(batch: str, at: int) -> bool:
        del at
        other = core.state.runs.get(batch)
        return other is not None and other.rule is RuleState.MET and other.rule_id == run.rule_id

    change = worst_change(came_in(core, run.batch, work, own=not goes), met_now)
    if change is Change.NONE or (change is Change.UNLESS_MET and run.rule is RuleState.MET):
        return None
    so_far = so_far_words(run)
    return Loss(place, so_far.removesuffix(" of its rule")) if so_far else None


def _of_loss(yard: Yard, work: Work) -> Iterator[str]:
    """Ask about incoming material that would undo a heap's progress."""
    if (lost := lost_by(yard.core, work)) is not None:
        are = "is" if lost.so_far == "1 day" or lost.so_far.startswith("all") else "are"
        yield f"{yard.name(lost.place)} becomes raw again: {lost.so_far} {are} lost. Is that so?"


def _of_cover(yard: Yard, work: Work) -> Iterator[str]:
    """Ask about a cover of raw material, which a heap would take in like any added material."""
    lies = yard.core.batches.at(work.place, work.time) if work.kind is WorkKind.COVERED else None
    if lies is None or work.what == lies.batch:
        return
    other = yard.state.runs.get(work.what)
    known = work.what in yard.state.batches.batches
    if is_raw(work.what) or (known and (other is None or other.rule is not RuleState.MET)):
        what = clean(work.what, 40)
        yield (
            f"Covering with {what} brings raw material in, and a cover leaves the rule as it stands. "
            "Should it be logged as added?"
        )


def so_far_words(run: BatchRun) -> str:
    """Return a batch's progress under its rule, `12 days of its rule`; "" for none."""
    progress = progress_now(run)
    if progress is None:
        return ""
    if days := Progress.of(progress.values).days:
        return f"{days} {'day' if days == 1 else 'days'} of its rule"
    if progress.state is RuleState.NOT_BEGUN:
        return ""
    return "its hours at temperature" if progress.state is RuleState.RUNNING else "all that its rule asks for"


def _begun_by(batch: Batch, work: Work | None) -> bool:
    own = work is not None and work.kind is WorkKind.BUILT and work.place == batch.spans[0].pile
    return own and work is not None and work.time == batch.built


def _begun(yard: Yard, batch: Batch) -> str:
    """Return how a heap began: it was logged as built, or its first reading began it."""
    run = yard.state.runs.get(batch.batch)
    return "was first read" if run is not None and run.by_reading else "was built"


def _ends(yard: Yard, place: str) -> str:
    batch = yard.state.batches.lying.get(place)
    run = yard.state.runs.get(batch) if batch else None
    so_far = so_far_words(run) if run is not None else ""
    return f"it would end{f', after {so_far},' if so_far else ''} and another would begin."


def _same_building(yard: Yard, work: Work) -> bool:
    """Return whether an entry only repeats in the log when the configuration says the heap was built."""
    return not any(
        one.work.kind is WorkKind.BUILT and one.work.place == work.place and one.work.time == work.time
        for one in yard.entries
    )


def _of_probe(yard: Yard, work: Work) -> Iterator[str]:
    probe = yard.settings.probes.get(work.probe) if declared(work.kind).probe else None
    if probe is None:
        return
    place, name = yard.place_of(work.probe), clean(probe.name or work.probe, 24)
    if place == work.place:
        return
    if work.kind is WorkKind.PROBE_OUT:
        where = f"in {yard.name(place)}, not in {yard.name(work.place)}" if place else "nowhere"
        yield f"By the record, {name} is {where}. Is the place right?"
    elif place and place != AMBIENT and not any(_others_like(yard, work.probe, place)):
        measures = {Quantity.TEMPERATURE: "thermometer"}.get(probe.quantity, f"{probe.quantity.value} probe")
        if place in yard.settings.bins or yard.state.batches.lying.get(place):
            yield f"{name} is the last {measures} of {yard.name(place)}, which nobody would watch without it. Is that so?"


def _others_like(yard: Yard, probe: str, place: str) -> Iterable[str]:
    """Yield the other probes of a place that measure the same quantity as a probe and are in."""
    own = yard.settings.probes[probe]
    for other, configured in yard.settings.probes.items():
        outing = yard.state.outings.get(other)
        out = outing is not None and outing.out is not None and own.role is not Role.CORE
        same = configured.quantity is own.quantity and (configured.role is Role.CORE) == (own.role is Role.CORE)
        if other != probe and same and not out and yard.place_of(other) == place:
            yield other

"""Gathers a case from CSV files without any configuration, for people with a spreadsheet and no daemon.

Rules:
1. The named probes are the batch's core probes, in from its building (or from the first reading) on, also one that never
   spoke if work log or configuration know it. Only `probe out` and `probe in` of the work log change that. A turning takes
   out only probes that are logged in again after it; readings of the others stand. Readings by hand (a series
   `hand:PLACE[:SPOT]`, or all with `by_hand`) prove as rounds while no probe is in, or all that are in have fallen silent
   (`failed_probes`).
2. The batch is the newest that lay on the pile by the work log; `added` and material thrown onto it restart the hold.
3. A line that cannot be read never improves the verdict (`read_files`).
4. Material from another heap counts as raw, unless the files hold that heap's record and say which probes were in it, by
   entries `probe in` or a configuration.
5. The verdict is that of the batch's end, of the last thing that the files know about it, or of the instant asked for.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from monitor.app.cases.as_of import came_after, probe_as_of, record_as_of, verdict_since
from monitor.app.cases.asked import Asked
from monitor.app.cases.case_columns import Columns
from monitor.app.cases.clashes import without_clashes
from monitor.app.cases.coming_in import with_what_came_in
from monitor.app.cases.failed_probes import FAILINGS, with_failed
from monitor.app.cases.files_settings import is_by_hand, settings_of_files
from monitor.app.cases.gathered_files import Gathered
from monitor.app.cases.hand_spots import read_by_hand, said_of_spots
from monitor.app.cases.impossible import asked_about, too_hot_to_be_so
from monitor.app.cases.lineage import Telling, end_of, remarks
from monitor.app.cases.read_files import Files, Read, read_files
from monitor.app.cases.services import closed, with_retired, with_service
from monitor.app.cases.shared_case import assumed, shared_case
from monitor.app.cases.told_of_files import about_files, left_out_of
from monitor.app.cases.which_rule import KnownRule
from monitor.app.console.refusals import ended, near
from monitor.app.entries.import_questions import remarks_on_work
from monitor.certificate import Case, CaseProbe, CaseWork, accepted, judge_case, rounds_by_hand
from monitor.configuration import Configuration
from monitor.engine import TURNING, BatchRecord, Core, ServiceChange, ServiceRecord, batch_record, is_core, lone_batch
from monitor.model.errors import MisuseError
from monitor.model.readings import hand_spot, is_hand
from monitor.model.settings import Settings
from monitor.model.thresholds import RULE_GAP_MS, RULE_HAND_GAP_MS, PileThresholds
from monitor.model.words import Role
from monitor.model.work import WorkKind
from monitor.recordings import Problem


class _NoReadings:
    """No readings to look back at: bare files have no outings."""

    def between(self, probe: str, start: int, end: int) -> list[tuple[int, int]]:
        del probe, start, end
        return []

    def before(self, probe: str, time: int) -> None:
        del probe, time


def file_case(
    files: Files, known: KnownRule, asked: Asked, configuration: Configuration | None = None
) -> tuple[Case, list[Problem]]:
    """Return the case of the files, and the lines in them that could not be read.

    Args:
        files: The files and the pile.
        known: The rule.
        asked: How to judge it.
        configuration: The yard's configuration, for its names and units, or None.

    Raises:
        MisuseError: The files lack the probe, are no recordings, or have lines that might mean anything.
        UnavailableError: A file cannot be read.
    """
    read = read_files(files, configuration)
    files = replace(files, hand_series=read.by_hand)
    silent = _never_heard(read, asked.probes, files, configuration)
    read.columns.update((name, Columns.empty()) for name in silent)
    chosen = _chosen(read.columns, asked.probes, files)
    if not files.leave_out:
        read.refuse_doubtful(chosen)
    heard = [read.columns[name] for name in chosen if read.columns[name].times.size]
    first = min((one.first() for one in heard), default=0)
    settings = settings_of_files(files, chosen, read, asked, configuration)
    telling = Telling(settings, settings.site.time_zone)
    piles = configuration.settings.piles if configuration is not None else {}
    homes = _homes(files, read, chosen, configuration)
    probes = configuration.settings.probes if configuration is not None else {}
    no_core = frozenset(name for name, one in probes.items() if one.role is not Role.CORE)
    gathered = Gathered(files, read, known, settings, telling, chosen, first, piles, homes, no_core)
    record = _record(gathered, asked)
    last = record.batch.ended
    if last is None:
        known_to = [int(read.columns[name].times[-1]) for name in chosen if read.columns[name].times.size]
        unread = [at for name in chosen for at in read.unread(name)[-1:]]
        last = max([*known_to, *unread, *(one.work.time for one, _ in record.works)], default=first)
    whole = _case(gathered, record, replace(asked, as_of=last))
    if asked.instant is None or asked.instant >= last:
        return replace(whole, came_after=tuple(end_of(record, telling))), read.problems()
    at = asked.instant
    after = (*came_after(record, at, telling), *end_of(record, telling))
    whole = replace(whole, end=None, came_after=after)
    earlier = _case(gathered, record_as_of(record, at), asked.until(at))
    return replace(earlier, came_after=(*after, *verdict_since(whole, at))), read.problems()


def _homes(
    files: Files, read: Read, chosen: Sequence[str], configuration: Configuration | None
) -> dict[str, tuple[str, ...]]:
    """Return the probes and hand readings of other piles than the one asked for, by pile."""
    places = {name for work in read.works for name in (work.place, work.to) if name} - {files.pile}
    found: dict[str, list[str]] = {}
    for name in read.columns:
        if name in chosen:
            continue
        spot = hand_spot(name, places) if is_hand(name) else None
        known = configuration.settings.probes.get(name) if configuration is not None else None
        entry = next((work.place for work in read.works if work.probe == name and work.kind is WorkKind.PROBE_IN), "")
        place = known.place if known is not None and known.role is Role.CORE else entry
        if place := (spot[0] if spot is not None else place):
            found.setdefault(place, []).append(name)
    return {pile: tuple(names) for pile, names in found.items()}


def _record(gathered: Gathered, asked: Asked) -> BatchRecord:
    """Return the record of the batch asked for: the newest on the pile, or the newest by the instant asked for."""
    files, read, first, at = gathered.files, gathered.read, gathered.first, asked.instant
    plain, firsts = gathered.plain(gathered.chosen), gathered.firsts()
    named = ""
    if at is not None:
        _, run = lone_batch(plain, [work for work in read.works if work.time <= at], files.pile, first, "", firsts)
        named = run.batch if run is not None else ""
    core, run = lone_batch(plain, read.works, files.pile, first, named, firsts)
    if run is None:
        raise MisuseError(ended(f'The work log says that nothing ever lay on "{files.pile}"; name another --pile'))
    record = batch_record(core, run, _NoReadings(), bare=True, was_met=_Others(gathered, asked, core, run.batch))
    return _with_failed(gathered, _left_out(gathered, record))


def _left_out(gathered: Gathered, record: BatchRecord) -> BatchRecord:
    """Return the record in which a turning took out each probe that never spoke, until somebody put it back.

    Of the others readings show whether they were in.
    """
    service = dict(record.service)
    for name, one in record.service.items():
        if gathered.read.columns[name].times.size:
            continue
        changes = one.changes
        for start, end in one.spans():
            turned = next((at for at in record.turnings if at >= start and (end is None or at < end)), None)
            if turned is not None:
                changes = [*(two for two in changes if two.time != end), ServiceChange(turned, False, TURNING, None)]
        service[name] = ServiceRecord(sorted(changes, key=lambda two: (two.time, two.into)), one.settling)
    return replace(record, service=service)


def _with_failed(gathered: Gathered, record: BatchRecord) -> BatchRecord:
    """Return the record in which rounds also prove while all probes were silent, as in the journal."""
    read, files = gathered.read, gathered.files
    hands = [
        _read_by_hand(name, record, read.columns[name]) for name in gathered.chosen if is_by_hand(name, gathered.files)
    ]
    if not hands or not record.service:
        return record
    # An unreadable row, or one that the file calls bad, still shows that the probe was not silent, so rounds must not prove
    # in its place.
    spoke = {
        name: sorted([*read.columns[name].times[read.columns[name].spoke].tolist(), *read.unread(name)])
        for name in record.service
    }
    pile = gathered.known_piles.get(files.pile)
    lag_ms = (pile.thresholds if pile is not None else PileThresholds()).lag_ms
    return with_failed(record, spoke, [one.time for one in rounds_by_hand([accepted(one) for one in hands])], lag_ms)


class _Others:
    """Judges other batches in the same files: whether they had met the rule."""

    def __init__(self, gathered: Gathered, asked: Asked, core: Core, taker: str) -> None:
        self._gathered, self._core, self._taker = gathered, core, taker
        self._asked = replace(asked, probes=(), start=None, end=None, method=None, declared={}, measures={})
        self._known: dict[tuple[str, int], bool] = {}

    def __call__(self, batch: str, at: int) -> bool:
        """Return whether a batch, by its own record, had met the rule by an instant (UTC ms)."""
        if (batch, at) not in self._known:
            self._known[batch, at] = False  # ends the recursion for a heap that came back into itself
            self._known[batch, at] = self._found(batch, at)
        return self._known[batch, at]

    def _found(self, batch: str, at: int) -> bool:
        gathered = self._gathered
        spans = self._core.spans_of(batch)
        # A probe follows the heap that lay where it was put; a part that was split off shares the record until the split.
        follow: dict[str, str] = {}
        for pile, start, _ in spans:
            whose = self._core.batches.at(pile, start)
            for name in gathered.homes.get(pile, ()):
                follow.setdefault(name, whose.batch if whose is not None else batch)
        follow |= dict.fromkeys(gathered.chosen, self._taker)
        if set(follow) <= set(gathered.chosen):
            gathered.unnamed.add(batch)
        probes = tuple(follow)
        heard = [gathered.read.columns[name] for name in probes if gathered.read.columns[name].times.size]
        first = min((one.first() for one in heard), default=0)
        firsts = {**gathered.firsts(), gathered.files.pile: gathered.first}
        works = gathered.read.works
        core, run = lone_batch(gathered.plain(probes), works, spans[-1][0], first, batch, firsts, follow)
        if run is None or run.batch != batch:
            return False
        other = replace(gathered, chosen=probes, first=first)
        whole = _with_failed(other, batch_record(core, run, _NoReadings(), bare=True, was_met=self))
        record = record_as_of(whole, at)
        try:
            found = judge_case(_case(other, record, replace(self._asked, as_of=at)))
        except MisuseError:
            return False  # it has no readings
        return found.met and not found.only_as_asked


def _case(gathered: Gathered, record: BatchRecord, asked: Asked) -> Case:
    """Return the case of a batch's record, whole or as of an instant (`asked.as_of`)."""
    files, read, known, first = gathered.files, gathered.read, gathered.known, gathered.first
    settings, telling = gathered.settings, gathered.telling
    probes = tuple(
        without_clashes(
            replace(_probe(name, record, read.columns[name], settings, files), unread=gathered.unread(name)),
            [at for probe, at in read.conflicts if probe == name],
            known.rule,
        )
        for name in gathered.chosen
    )
    if asked.as_of is not None:
        probes = tuple(probe_as_of(one, asked.as_of) for one in probes)
    probes = with_retired(probes, dict(record.service))
    max_gap_ms = asked.max_gap_ms if asked.max_gap_ms is not None else RULE_GAP_MS
    gaps_ms = max_gap_ms, _hand_gap_ms(gathered, asked)
    by_reading = record.batch.built == first and not any(one.work.time == first for one, _ in record.works)
    said = [
        *(one for one in remarks(record, telling, 0) if not (by_reading and one.startswith("Nobody logged"))),
        *about_files(files, read, known, gathered.chosen, record),
        *_unheard(gathered, record),
        *_slips(gathered, record),
        *assumed(probes, gaps_ms),
        *said_of_spots(probes, (), [pile for pile, _, _ in record.spans]),
        *asked_about(probes),
    ]
    pile = record.spans[-1][0]
    origin = f"files: {', '.join(path.name for path in (*files.readings, *files.work))}"
    case = shared_case(asked, known, settings, (record, telling), probes, pile=pile, gaps_ms=gaps_ms, origin=origin)
    case = replace(
        case,
        pile=files.pile,
        lay_on=() if by_reading and len(record.spans) == 1 else case.lay_on,
        built=None if by_reading else record.batch.built,
        restarts=() if by_reading and len(record.restarts) == 1 else record.restarts,
        work=tuple(_work(record)),
        left_out=" ".join(
            filter(
                None,
                (
                    too_hot_to_be_so(probes),
                    *left_out_of(files, read, known, gathered.chosen, gathered.placed()),
                    gathered.disowned(),
                    case.left_out,
                ),
            )
        ),
        remarks=tuple(dict.fromkeys(said)),
    )
    return with_what_came_in(case, record, telling, gathered.unnamed)


def _never_heard(
    read: Read, asked: tuple[str, ...], files: Files, configuration: Configuration | None
) -> tuple[str, ...]:
    """Return the core probes that were in by configuration or work log, and of which the files hold no reading.

    As in the journal, such a probe leaves the time unproven while it is in. With probes named, only those count.
    """
    if not read.columns or files.by_hand:
        return ()
    known = configuration.settings.probes if configuration is not None else {}
    logged = {work.probe for work in read.works if work.probe and files.pile in (work.place, work.to)}
    if asked:
        found = [name for name in asked if name in logged or name in known]
    else:
        found = [name for name, one in known.items() if one.place == files.pile and is_core(one)]
    return tuple(name for name in found if name not in read.columns and not is_by_hand(name, files))


def _chosen(columns: Mapping[str, Columns], asked: tuple[str, ...], files: Files) -> tuple[str, ...]:
    named = ", ".join(str(path) for path in files.readings)
    if not columns:
        right = "it needs the columns time,probe,quantity,value,unit, such as 2026-03-01T09:00:00Z,a,temperature,61,Cel"
        raise MisuseError(f"There is no temperature in {named}; {right}.")
    cores = [name for name in columns if not is_by_hand(name, files)]
    if not asked and sum(columns[name].times.size > 0 for name in cores) > 1:
        raise MisuseError(f"Say which probes were in the core, with --probes; in {named} are {', '.join(columns)}.")
    for name in asked:
        if name not in columns:
            raise MisuseError(ended(f'There is no temperature of a probe "{name}" in {named}; {near(name, columns)}'))
    chosen = asked or tuple(cores)
    if asked and any(is_by_hand(name, files) for name in asked):
        return asked
    # Readings of the heap by hand prove while no probe was in.
    return (*chosen, *(name for name in columns if name not in chosen and is_by_hand(name, files)))


def _unheard(gathered: Gathered, record: BatchRecord) -> Iterator[str]:
    """Yield a remark on each probe that is in by the files' account and of which they hold no reading."""
    for name in gathered.chosen:
        if not gathered.read.columns[name].times.size and name in record.service and record.service[name].spans():
            yield (
                f'There is no reading of probe "{name}": while it is in, nothing is proven of its spot. If it was not in, '
                "log it as out from the building on."
            )


def _hand_gap_ms(gathered: Gathered, asked: Asked) -> int:
    """Return the longest time between two rounds; with a hand thermometer alone, `--max-gap` sets it too."""
    if asked.hand_gap_ms is not None:
        return asked.hand_gap_ms
    if asked.max_gap_ms is not None and all(is_by_hand(name, gathered.files) for name in gathered.chosen):
        return asked.max_gap_ms
    pile = gathered.known_piles.get(gathered.files.pile)
    return min((pile.thresholds if pile is not None else PileThresholds()).hand_gap_ms, RULE_HAND_GAP_MS)


def _probe(name: str, record: BatchRecord, columns: Columns, settings: Settings, files: Files) -> CaseProbe:
    if is_by_hand(name, files):
        return _read_by_hand(name, record, columns)
    configured = settings.probes[name]
    probe = with_service(columns.probe(name), record.service.get(name))
    return replace(
        probe,
        name=configured.name,
        depth_milli_m=configured.depth_milli_m,
        uncertainty_milli_k=configured.uncertainty_milli_k,
        entries=tuple(one for one in probe.entries if one.entered is not None or one.how in FAILINGS),
    )


def _read_by_hand(name: str, record: BatchRecord, columns: Columns) -> CaseProbe:
    """Return the readings by hand taken while the batch lay at that place, as rounds."""
    piles = {pile for pile, _, _ in record.spans}
    own = hand_spot(name, piles)
    lay = closed((start, end) for pile, start, end in record.spans if own is None or pile == own[0])
    return read_by_hand(columns.probe(name), own[1] if own is not None else "", lay, closed(record.rounds))


def _work(record: BatchRecord) -> Iterator[CaseWork]:
    for logged, _ in record.works:
        work = logged.work
        assert work.entered is not None
        yield CaseWork(work=work, entered=work.entered)


def _slips(gathered: Gathered, record: BatchRecord) -> Iterator[str]:
    """Yield the questions, as remarks, that the yard would have asked about the batch's work."""
    own = {one.work for one, _ in record.works}
    firsts = {**gathered.firsts(), gathered.files.pile: gathered.first}
    # Bare files do not say where probes are, so no question may rest on that.
    settings = replace(gathered.settings, probes={})
    for work, remark in remarks_on_work(settings, gathered.read.works, firsts):
        if work in own:
            yield remark

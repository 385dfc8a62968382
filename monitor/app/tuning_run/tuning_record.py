"""Gathers the record that `tune` works on: one place's, out of files or the journal, with its labels.

Rules: files, if given, are the record, and labels among them count as labels. Without files the journal is read, also while the
daemon runs. Only the place's own probes and work, and the ambient probes, are used. Today's settings come from the
configuration; a record of events brings its own, of which the last count.
"""

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from monitor.app.console.refusals import ended, near
from monitor.app.entries.label_file import stretches_of, yard_labels
from monitor.app.replay.replaying import imported_note, read_recording
from monitor.configuration import Configuration, settings_of
from monitor.engine.stretch import Commits, Piece, commits_from_events, for_place
from monitor.model.errors import MisuseError
from monitor.model.events import Event, EventKind
from monitor.model.readings import hand_series, is_hand
from monitor.model.settings import AMBIENT, Settings
from monitor.recordings import RECORDING, Kind, Label, Problems, SheetForms, read_labels, sniff
from monitor.tuning import Stretch

_READINGS = (EventKind.READINGS, EventKind.IMPORTED)


@dataclass(slots=True)
class Material:
    """One place's record.

    Attributes:
        place: The pile or bin.
        settings: Today's settings, reduced to the place.
        whole: Today's settings of the whole yard.
        pieces: The record, in order.
        events: Its answers and work.
        start, end: Its first and last instant, UTC ms.
        stretches: The labels of the place.
        problems: Sentences about rows that could not be read.
        mislabelled: Sentences about labels that could not be read, or whose place the yard does not have.
    """

    place: str
    settings: Settings
    whole: Settings
    pieces: list[Piece]
    events: list[Event]
    start: int
    end: int
    stretches: list[Stretch]
    problems: list[str] = field(default_factory=list)
    mislabelled: list[str] = field(default_factory=list)


def gather(
    files: Sequence[Path],
    work: Sequence[Path],
    label_files: Sequence[Path],
    place: str | None,
    settings: Callable[[], Configuration],
    forms: SheetForms = RECORDING,
) -> Material:
    """Return the record of a place.

    Args:
        files: Recordings; none: the journal.
        work: Work logs in CSV.
        label_files: Labels in CSV; none, here and among the files: those of the yard's data folder.
        place: Id of the place; None: the only place, or the only one with labels.
        settings: Loads the configuration.
        forms: How the CSV files are written.

    Raises:
        MisuseError: The files do not go together, there is no such place, or it has no readings.
    """
    records, given = _told_apart(files, label_files, forms)
    if given:
        forms = forms.in_zone(settings().settings.site.time_zone)
    problems: list[str] = []
    mislabelled: list[str] = []
    labels: list[Label] = []
    for path in given:
        found, trouble = read_labels(path, forms=forms)
        labels += found
        mislabelled += trouble.sentences()
    if records or work:
        recording = read_recording(records, work, settings, forms)
        problems = [*recording.problems, *problems]
        now = _last_settings(recording.events) or settings().settings
        labels = labels if given else yard_labels(settings())
        material = _material(_place(place, now, labels), now, recording.pieces, recording.mark)
    else:
        configuration = settings()
        labels = labels if given else yard_labels(configuration)
        material = _stored(configuration, _place(place, configuration.settings, labels))
    material.stretches = [one for one in stretches_of(labels) if one.place == material.place]
    material.problems = [*problems, *material.problems]
    places = {*material.whole.piles, *material.whole.bins}
    mislabelled += [
        f"{_count(sum(one.place == place for one in labels))} of {place}, which is no pile or bin of this yard."
        for place in sorted({one.place for one in labels} - places)
    ]
    material.mislabelled = mislabelled
    outside = [one for one in material.stretches if one.end < material.start or one.start > material.end]
    if outside:
        material.problems.append(f"{_count(len(outside))} before or after the record, and not counted.")
    return material


def _count(number: int) -> str:
    return "1 label is" if number == 1 else f"{number} labels are"


def _told_apart(files: Sequence[Path], label_files: Sequence[Path], forms: SheetForms) -> tuple[list[Path], list[Path]]:
    """Return the recordings and the label files among files."""
    problems = Problems()
    kinds = [sniff(path, problems, forms) for path in files]
    labels = [path for path, kind in zip(files, kinds, strict=True) if kind is Kind.LABELS]
    return [path for path in files if path not in labels], [*label_files, *labels]


def _last_settings(events: Iterable[Event]) -> Settings | None:
    last = None
    for event in events:
        if event.kind is EventKind.SETTINGS:
            last = event
    return None if last is None else settings_of(json.dumps(last.payload["settings"]))


def _place(place: str | None, settings: Settings, labels: Sequence[Label]) -> str:
    places = [*settings.piles, *settings.bins]
    if place is not None:
        if place not in places:
            raise MisuseError(ended(f'There is no pile or bin "{place}"; {near(place, places)}'))
        return place
    labelled = {label.place for label in labels} & {*places}
    for only in (places, sorted(labelled)):
        if len(only) == 1:
            return only[0]
    raise MisuseError(f"Say which place is meant: --place and one of {', '.join(places) or 'none'}.")


def _material(place: str, settings: Settings, record: Iterable[Piece], mark: int | None) -> Material:
    probes = _probes(place, settings)
    told: list[Event] = []
    imported, by_hand = 0, False
    waiting: list[Event] = []
    pieces: list[Piece] = []
    last = 0
    for piece in record:
        if isinstance(piece, Commits):
            last = max(last, int(piece.at[-1]) if len(piece) else 0)
            pieces += [*commits_from_events(waiting), piece]
            by_hand = by_hand or any(map(is_hand, piece.names))
            waiting = []
            continue
        last = max(last, piece.at)
        if piece.kind in (EventKind.ANSWER, EventKind.WORK):
            told.append(piece)
        if piece.kind is EventKind.SETTINGS:
            continue
        waiting.append(_only(piece, probes) if piece.kind in _READINGS else piece)
        by_hand = by_hand or any(is_hand(row[1]) for row in waiting[-1].payload.get("rows", ()))
        imported += len(waiting[-1].payload.get("rows", ())) if piece.kind is EventKind.IMPORTED else 0
    mine, reduced = for_place([*pieces, *commits_from_events(waiting)], settings, place)
    readings = [piece for piece in mine if isinstance(piece, Commits) and len(piece)]
    if not readings:
        more = f" but {imported} imported ones; name their file to tune." if imported else "; is it the right place?"
        if by_hand and not imported:
            more = ", only readings by hand, which are too few to tune on."
        raise MisuseError(f"The record holds no readings of a probe in {settings.place_and_id(place)}{more}")
    end = max(mark if mark is not None else last, int(readings[-1].at[-1]))
    first = int(readings[0].at[0])
    return Material(place, reduced, settings, mine, told, first, end, [], imported_note(imported, "tune"))


def _probes(place: str, settings: Settings) -> set[str]:
    """Return the series that matter to a place."""
    own = {name for name, probe in settings.probes.items() if probe.place in (place, AMBIENT)}
    return own | {hand_series(place, spot) for spot in ("", *settings.spots_of(place))}


def _only(event: Event, probes: set[str]) -> Event:
    rows = [row for row in event.payload.get("rows", ()) if row[1] in probes]
    ahead = [one for one in event.payload.get("ahead", ()) if one[0] in probes]
    return Event(event.at, event.kind, {**event.payload, "rows": rows, "ahead": ahead})


def _stored(configuration: Configuration, place: str) -> Material:
    from monitor.journal import open_reader  # noqa: PLC0415 (a recording needs no journal)
    from monitor.journal.columns import read_pieces  # noqa: PLC0415

    with open_reader(configuration.data) as store, store.view():
        pieces = read_pieces(store, probes=_probes(place, configuration.settings))
        return _material(place, configuration.settings, pieces, store.mark().latest())

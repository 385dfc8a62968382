"""Stretches marked on the page: the same label file that `label` and `tune` work on."""

import threading
from collections.abc import Callable, Sequence

from monitor.app.entries.label_file import labels_path, save_labels, yard_labels
from monitor.configuration import Configuration
from monitor.page import Mark
from monitor.recordings import Label, LabelKind


class LabelMarks:
    """Fills `monitor.page.Marking`; any thread."""

    def __init__(self, configuration: Callable[[], Configuration]) -> None:
        self._configuration = configuration
        self._lock = threading.Lock()

    def marks(self, place: str) -> Sequence[Mark]:
        """Return the stretches of a place, in order of their start."""
        return [_mark(label) for label in yard_labels(self._configuration()) if label.place == place]

    def mark(self, place: str, mark: Mark, by: str) -> None:
        """Keep a stretch; who marked it stands in its note, since a label has no place of its own for that.

        Raises:
            UnavailableError: It could not be kept.
        """
        note = f"{mark.note} ({by})" if mark.note else by
        label = Label(place=place, start=mark.start, end=mark.end, kind=LabelKind(mark.kind), note=note)
        with self._lock:
            configuration = self._configuration()
            save_labels(labels_path(configuration), [*yard_labels(configuration), label])

    def unmark(self, place: str, mark: Mark) -> None:
        """Drop a stretch that is kept; one that is not is no fault."""
        with self._lock:
            configuration = self._configuration()
            kept = yard_labels(configuration)
            left = [label for label in kept if label.place != place or _mark(label) != mark]
            if len(left) != len(kept):
                save_labels(labels_path(configuration), left)


def _mark(label: Label) -> Mark:
    return Mark(label.start, label.end, label.kind.value, label.note)

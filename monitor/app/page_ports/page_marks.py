"""Keeps stretches marked on the page in the label file that `label` and `tune` use."""

import threading
from collections.abc import Callable, Sequence

from monitor.app.entries.label_file import labels_path, save_labels, yard_labels
from monitor.configuration import Configuration
from monitor.page import Mark
from monitor.recordings import Label, LabelKind


class LabelMarks:
    """Fills `monitor.page.Marking`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration]) -> None:
        self._configuration = configuration
        self._lock = threading.Lock()

    def marks(self, place: str) -> Sequence[Mark]:
        """Return the stretches of a place, in order of their start."""
        return [_mark(label) for label in yard_labels(self._configuration()) if label.place == place]

    def mark(self, place: str, mark: Mark, by: str) -> None:
        """Keep a stretch; its note also names who marked it, because a label has no other field for that.

        Args:
            place: Id of the place.
            mark: The stretch.
            by: Who marked it.

        Raises:
            MisuseError: The file holds rows that cannot be read, or columns that would be lost.
            UnavailableError: The file cannot be written.
        """
        note = f"{mark.note} ({by})" if mark.note else by
        label = Label(place=place, start=mark.start, end=mark.end, kind=LabelKind(mark.kind), note=note)
        with self._lock:
            configuration = self._configuration()
            save_labels(labels_path(configuration), [*yard_labels(configuration), label])

    def unmark(self, place: str, mark: Mark) -> None:
        """Drop a stretch; one that is not kept is ignored."""
        with self._lock:
            configuration = self._configuration()
            kept = yard_labels(configuration)
            left = [label for label in kept if label.place != place or _mark(label) != mark]
            if len(left) != len(kept):
                save_labels(labels_path(configuration), left)


def _mark(label: Label) -> Mark:
    return Mark(label.start, label.end, label.kind.value, label.note)

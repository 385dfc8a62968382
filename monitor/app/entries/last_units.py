"""Finds the unit that somebody most likely means: the one used last for such work."""

from monitor.app.entries.entry_log import entry_log
from monitor.configuration import Configuration
from monitor.journal import journal_path, open_reader
from monitor.model.work import WorkKind


def last_unit(configuration: Configuration, kind: WorkKind, place: str, what: str) -> str:
    """Return the unit of the newest standing entry of a kind: of this material, else at this place, else of any; "" for none.

    Args:
        configuration: The yard's configuration.
        kind: The kind of work.
        place: Its place.
        what: Its material, or "".
    """
    if not journal_path(configuration.data).exists():
        return ""
    settings = configuration.settings
    with open_reader(configuration.data) as store:
        entries = entry_log(store, [*settings.piles, *settings.bins])
    works = [one.work for one in reversed(entries) if one.work is not None and not one.undone]
    alike = [work for work in works if work.kind is kind and work.unit]
    named = what.casefold().split()
    same = [work for work in alike if named and work.what.casefold().split() == named]
    here = [work for work in alike if work.place == place]
    return next((work.unit for work in (*same, *here, *alike)), "")

"""Makes copies of the journal: where they may lie, which files travel with them, which copies are kept."""

from datetime import UTC, datetime
from pathlib import Path

from monitor.configuration import Configuration
from monitor.journal import backup, private_folder
from monitor.model.errors import UnavailableError

BESIDE = ("labels.csv", "page.key", "page-guests.json", "page-calendars.json")
"""Small files of the data folder that travel in a copy. The configuration, password files, the signing key (`keys/`) and
certificates stay out: they are not the record, and secrets do not belong on a stick that lies about."""


def is_within(folder: Path, other: Path) -> bool:
    """Return whether a folder lies in another, or is the same."""
    return other.resolve() in (folder.resolve(), *folder.resolve().parents)


def copies_in(folder: Path) -> list[Path]:
    """Return the copies in a folder, the oldest first."""
    return sorted(folder.glob("journal-*.sqlite"))


def make_backup(configuration: Configuration, now_ms: int) -> tuple[Path, int]:
    """Make a copy, remove the oldest beyond the limit, and return the copy's path and its size in bytes.

    A missing folder is made only within the data folder. Elsewhere it belongs to a disk that is not mounted, and the copies
    would land on the journal's own disk, where nobody looks for them.

    Raises:
        UnavailableError: The folder is missing, the journal is damaged, or the copy cannot be written.
    """
    plan = configuration.backup
    if plan is None:
        raise UnavailableError("no [backup] is configured")
    if not plan.folder.is_dir():
        if plan.folder.exists() or not is_within(plan.folder, configuration.data):
            raise UnavailableError(f"the folder {plan.folder} is not there: is its disk mounted?")
        private_folder(plan.folder)
    stamp = datetime.fromtimestamp(now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%SZ")
    target = plan.folder / f"journal-{stamp}.sqlite"
    try:
        beside = {
            name: (configuration.data / name).read_bytes() for name in BESIDE if (configuration.data / name).is_file()
        }
        size = backup(configuration.data, target, beside)
        copies = copies_in(plan.folder)
        for old in copies[: max(0, len(copies) - plan.keep)]:
            old.unlink(missing_ok=True)
    except OSError as fault:
        raise UnavailableError(f"{fault.filename or target} cannot be used: {fault.strerror or fault}") from fault
    return target, size

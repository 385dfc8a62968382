"""Makes copies of the journal: where they may lie, which files travel with them, which copies are kept.

A damaged record is copied too, so that what came since the last good copy lies on two disks. That copy has another name,
takes the place of the damaged one before it, and no good one goes for it.
"""

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from monitor.app.upkeep.copy_manifest import manifest_path
from monitor.configuration import Backup, Configuration
from monitor.journal import Finding, Store, backup, private_folder
from monitor.model.errors import UnavailableError

BESIDE = ("labels.csv", "page.key", "page-guests.json", "page-calendars.json")
"""Small files of the data folder that travel in a copy. The configuration, password files, the signing key (`keys/`) and
certificates stay out: they are not the record, and secrets do not belong on a stick that lies about."""


def is_within(folder: Path, other: Path) -> bool:
    """Return whether a folder lies in another, or is the same."""
    return other.resolve() in (folder.resolve(), *folder.resolve().parents)


def copies_in(folder: Path) -> list[Path]:
    """Return the good copies in a folder, the oldest first."""
    return sorted(folder.glob("journal-*.sqlite"))


def damaged_in(folder: Path) -> list[Path]:
    """Return the copies of a damaged record in a folder, the oldest first."""
    return sorted(folder.glob("damaged-*.sqlite"))


def make_backup(
    configuration: Configuration, now_ms: int, look: Callable[[Store], list[Finding]] | None = None
) -> tuple[Path, int]:
    """Make a copy, remove the oldest beyond the limit, and return the copy's path and its size in bytes.

    A missing folder is made only within the data folder. Elsewhere it belongs to a disk that is not mounted, and the copies
    would land on the journal's own disk, where nobody looks for them.

    Args:
        configuration: The yard's configuration.
        now_ms: Now, UTC ms.
        look: Looks through the copy before it counts as one.

    Raises:
        UnsoundCopyError: The look found faults; no copy was made, and none removed.
        UnavailableError: The folder is missing, the journal is damaged, or the copy cannot be written.
    """
    plan = _plan(configuration)
    target = plan.folder / f"journal-{_stamp(now_ms)}.sqlite"
    try:
        _clear(plan.folder)
        size = backup(configuration.data, target, _beside(configuration), look)
        copies = copies_in(plan.folder)
        for old in copies[: max(0, len(copies) - plan.keep)]:
            _remove(old)
    except OSError as fault:
        raise UnavailableError(f"{fault.filename or target} cannot be used: {fault.strerror or fault}") from fault
    return target, size


def keep_damaged(configuration: Configuration, now_ms: int) -> Path:
    """Copy a damaged record beside the good copies, in place of an earlier one, and return the copy's path.

    Args:
        configuration: The yard's configuration.
        now_ms: Now, UTC ms.

    Raises:
        UnavailableError: The folder is missing, or the copy cannot be written.
    """
    plan = _plan(configuration)
    target = plan.folder / f"damaged-{_stamp(now_ms)}.sqlite"
    try:
        _clear(plan.folder)
        backup(configuration.data, target, _beside(configuration), anyway=True)
        for old in damaged_in(plan.folder):
            if old != target:
                _remove(old)
    except OSError as fault:
        raise UnavailableError(f"{fault.filename or target} cannot be used: {fault.strerror or fault}") from fault
    return target


def _plan(configuration: Configuration) -> Backup:
    plan = configuration.backup
    if plan is None:
        raise UnavailableError("no [backup] is configured")
    if not plan.folder.is_dir():
        if plan.folder.exists() or not is_within(plan.folder, configuration.data):
            raise UnavailableError(f"the folder {plan.folder} is not there: is its disk mounted?")
        private_folder(plan.folder)
    return plan


def _clear(folder: Path) -> None:
    """Remove what a daemon left behind that was stopped while it made a copy, which can take half an hour."""
    for kind in ("journal", "damaged"):
        for half in folder.glob(f"{kind}-*.sqlite.part"):
            half.unlink(missing_ok=True)


def _stamp(now_ms: int) -> str:
    return datetime.fromtimestamp(now_ms / 1000, UTC).strftime("%Y%m%dT%H%M%SZ")


def _beside(configuration: Configuration) -> dict[str, bytes]:
    paths = {name: configuration.data / name for name in BESIDE}
    return {name: path.read_bytes() for name, path in paths.items() if path.is_file()}


def _remove(copy: Path) -> None:
    manifest_path(copy).unlink(missing_ok=True)
    copy.unlink(missing_ok=True)

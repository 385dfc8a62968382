"""Checks the record and its surroundings: the journal as a whole, its copies, and who else on this computer can read them."""

import re
import stat
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from monitor.app.checks.check_finding import Finding
from monitor.app.checks.copy_checks import copy_checks
from monitor.app.checks.photo_checks import photo_checks
from monitor.app.console.progress_bar import progress_bar
from monitor.app.upkeep.backups import copies_in, damaged_in, is_within
from monitor.app.upkeep.own_folder import private_paths
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.journal import (
    WITHOUT_HASH,
    OlderTablesError,
    What,
    audit,
    days_of,
    journal_path,
    open_reader,
    refuse_newer,
)
from monitor.journal import Finding as Damage
from monitor.model.errors import UnavailableError
from monitor.model.times import show_duration

_SHOWN = 5


def record_checks(configuration: Configuration, *, quick: bool = False) -> Iterator[Finding]:
    """Yield findings about the record; `quick` does not read its days, pages and blocks through."""
    looks: dict[str, Callable[[], Iterator[Finding]]] = {
        "journal": lambda: _journal(configuration, quick=quick),
        "backup": lambda: _backup(configuration),
        "copies": lambda: copy_checks(configuration, quick=quick),
        "photos": lambda: photo_checks(configuration, quick=quick),
        "private files": lambda: _modes(configuration),
    }
    for name, look in looks.items():
        try:
            yield from look()
        except OSError as fault:
            # A file that this user may not read must not stop the other checks.
            where, why = fault.filename or configuration.data, fault.strerror or fault
            yield Finding(name, False, f"{where} cannot be looked at ({why}); let this user read it")


def _journal(configuration: Configuration, *, quick: bool) -> Iterator[Finding]:
    path = journal_path(configuration.data)
    if not path.exists():
        return
    size = f"{path.stat().st_size / 1e6:.1f} MB"
    try:
        with open_reader(configuration.data) as store:
            refuse_newer(path, store.mark().meaning, Engine.meaning)
            if quick:
                store.mark()
                words = f"{size}; its pages, days and blocks were not looked at (--quick)"
                yield Finding("journal", True, words, warning=True)
                return
            days = len(days_of(store))
            with progress_bar("Checking the record") as show:
                found = audit(store, show)
    except OlderTablesError:
        words = f"{size}, of an older version; copy it first, the next start of the daemon takes it over"
        yield Finding("journal", True, words, warning=True)
        return
    except UnavailableError as fault:
        yield Finding("journal", False, str(fault))
        return
    yield from _told(found, size, days)


def _told(found: list[Damage], size: str, days: int) -> Iterator[Finding]:
    faults = [one for one in found if one.is_fault()]
    if not faults:
        span = f"{days} {'day' if days == 1 else 'days'}"
        words = f"{size}; readings, entries and decisions of {span}, pages and blocks are what was written"
        yield Finding("journal", True, f"{words}; without a hash, so not verified: {', '.join(WITHOUT_HASH)}")
    for one in faults[:_SHOWN]:
        yield Finding("journal", False, one.sentence)
    if faults:
        rest = len(faults) - _SHOWN
        more = f"{rest} more {'finding' if rest == 1 else 'findings'}; " if rest > 0 else ""
        yield Finding("journal", False, f"{more}stop the daemon and put a copy back: `heaptender restore BACKUP`")
    for one in found:
        if one.what is What.NOT_HASHED:
            yield Finding("journal", True, one.sentence, warning=True)


def _backup(configuration: Configuration) -> Iterator[Finding]:
    plan = configuration.backup
    if plan is None:
        words = "none is made; name a folder on another disk in [backup], or what is on this one is all there is"
        yield Finding("backup", True, words, warning=True)
        return
    name, folder = f"backup folder {plan.folder}", plan.folder
    if not folder.is_dir():
        if is_within(folder, configuration.data) and not folder.exists():
            yield Finding(
                name, True, "will be made; on the journal's own disk: what takes the one takes both", warning=True
            )
        else:
            yield Finding(name, False, "is not there; mount its disk or make the folder, so that copies are made again")
        return
    try:
        with tempfile.TemporaryFile(dir=folder) as file:
            file.write(b"x")
    except OSError as fault:
        yield Finding(name, False, f"cannot be written ({fault.strerror}); let this user write there")
        return
    data = configuration.data if configuration.data.exists() else configuration.data.parent
    copies = copies_in(folder)
    words = f"{len(copies)} {'copy' if len(copies) == 1 else 'copies'}"
    late = _too_old(copies, plan.every_ms, journal_path(configuration.data))
    if late:
        yield Finding(name, False, f"{words}; {late}")
    elif data.exists() and folder.stat().st_dev == data.stat().st_dev:
        yield Finding(name, True, f"{words}, on the journal's own disk: what takes the one takes both", warning=True)
    else:
        yield Finding(name, True, words)


def _too_old(copies: list[Path], every_ms: int, journal: Path) -> str:
    """Return a sentence if the newest copy is older than two intervals although there is a journal to copy; else ""."""
    now, limit_s = time.time(), 2 * every_ms / 1000
    try:
        newest = max((copy.stat().st_mtime for copy in copies), default=None)
        used = journal.stat().st_mtime
    except OSError:
        return ""
    if newest is not None and used - newest > limit_s:
        age = show_duration(int(now - newest) * 1000)
        return f"the newest is {age} old, though one is due every {show_duration(every_ms)}; see the daemon's log"
    return ""


def _modes(configuration: Configuration) -> Iterator[Finding]:
    """Report files that others on this computer can read or change although they concern only the owner."""
    paths = [*private_paths(configuration), *configuration.secret_files]
    if configuration.source is not None and _holds_secrets(configuration):
        paths.append(configuration.source)
    yield from _open("private files", paths, warning=False)
    if configuration.backup is not None:
        # Only a warning: a stick may have no modes, and its holder can read it anyway.
        folder = configuration.backup.folder
        yield from _open("copies", [folder, *copies_in(folder), *damaged_in(folder)], warning=True)


def _open(what: str, paths: list[Path], *, warning: bool) -> Iterator[Finding]:
    open_to = [path for path in dict.fromkeys(paths) if _open_to_others(path)]
    if open_to:
        cures = [f"chmod {'700' if path.is_dir() else '600'} {path}" for path in open_to[:_SHOWN]]
        more = f" and {len(open_to) - _SHOWN} more" if len(open_to) > _SHOWN else ""
        words = f"others on this computer may look into {len(open_to)} of them; {'; '.join(cures)}{more}"
        yield Finding(what, warning, words, warning=warning)


def _open_to_others(path: Path) -> bool:
    """Return whether others have any right to a file or folder, and can reach it."""
    try:
        return bool(stat.S_IMODE(path.stat().st_mode) & 0o077) and _reached(path.resolve())
    except OSError:
        return False


def _reached(path: Path) -> bool:
    """Return whether others can reach a file: every folder on the way lets them through."""
    return all(stat.S_IMODE(folder.stat().st_mode) & 0o077 for folder in path.parents)


def _holds_secrets(configuration: Configuration) -> bool:
    """Return whether the configuration file itself contains a password, a token or an address with a secret."""
    mqtt, mirror, beat = configuration.mqtt, configuration.mirror, configuration.heartbeat
    secrets = [
        configuration.page.password,
        None if mirror is None else mirror.token,
        None if beat is None else beat.url,
    ]
    secrets += [channel.url for channel in configuration.channels.values()]
    texts = [one.get_secret_value() for one in secrets if one is not None]
    texts += [mqtt.password] if mqtt is not None and mqtt.password is not None else []
    try:
        written = configuration.source.read_text(encoding="utf-8") if configuration.source is not None else ""
    except (OSError, UnicodeDecodeError):
        return True
    # Secrets from the environment or from separate files do not stand in this one.
    return any(text in written for text in texts if not _OPEN_MAIL.fullmatch(text))


_OPEN_MAIL = re.compile(
    r"mailtos?://[\w.-]*(:\d+)?/?(\?((from|to|cc|bcc|reply|name|mode|format|smtp|verify)=[^&]*(&|$))*)?", re.IGNORECASE
)
"""A mail server without login; any other notification URL may hold a password or a token."""

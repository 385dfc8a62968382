"""`restore`: puts a backup in the place of the journal."""

import time
from pathlib import Path
from zoneinfo import ZoneInfo

import click

from monitor.app.console.options import config_option, json_option, load_configuration, print_json
from monitor.app.console.progress_bar import progress_bar
from monitor.app.upkeep.copy_manifest import held_against_manifest
from monitor.app.upkeep.photo_upkeep import photos_back
from monitor.configuration import Configuration
from monitor.journal import PHOTOS, WITHOUT_HASH, Missing, NotSoundError, Restored, What, restore
from monitor.model.errors import UnavailableError
from monitor.model.times import show_time
from monitor.notices import say_span, say_time

_KINDS = {
    "work": ("piece of work", "pieces of work"),
    "correction": ("correction", "corrections"),
    "answer": ("answer to an alarm", "answers to alarms"),
    "settings": ("change of settings", "changes of settings"),
    "imported": ("import", "imports"),
}
_ON = "Start the daemon now. `heaptender log` writes down again what was done since."


@click.command()
@click.argument("backup", type=click.Path(path_type=Path))
@click.option("--anyway", is_flag=True, help="Restore the backup even if something in it has changed.")
@config_option
@json_option
def command(backup: Path, anyway: bool, config_file: Path | None, as_json: bool) -> int:
    """Put a backup in place of the journal, and say what it lacks.

    The daemon must be stopped. The whole backup is checked first; the old journal moves aside with its log and is not deleted.
    Everything that came after the backup is missing from it: readings that nodes still hold arrive again, work must be written
    down again.

    \b
    Example:
      heaptender restore /mnt/stick/journal-20260301T090000Z.sqlite
    """
    configuration = load_configuration(config_file)
    now = time.time_ns() // 1_000_000
    differing = [] if anyway else _held_against_manifest(backup)
    if differing:
        if as_json:
            print_json({"restored": None, "faults": differing})
        else:
            click.echo("\n".join(f"{backup}: {one}." for one in differing))
            click.echo("Nothing was changed: take another backup. (--anyway takes it as it is.)")
        return 1
    try:
        with progress_bar("Checking the backup") as show:
            done = restore(configuration.data, backup, now, show, anyway=anyway)
    except NotSoundError as fault:
        if as_json:
            print_json({"restored": None, "faults": [one.sentence for one in fault.findings]})
        else:
            for finding in fault.findings[:20]:
                click.echo(finding.sentence)
            click.echo(f"{fault}. (--anyway takes it as it is.)")
        return 1
    came, lacking, trouble = _photos_back(configuration, backup)
    if as_json:
        print_json(_plain(done, backup) | {"photos": {"came": came, "missing": lacking, "trouble": trouble}})
    else:
        zone = ZoneInfo(configuration.settings.site.time_zone)
        for line in (*_lines(done, backup, now, zone), *_photo_lines(backup, came, lacking, trouble), _ON):
            click.echo(line)
    return 0


def _held_against_manifest(copy: Path) -> list[str]:
    """Return how a copy differs from the manifest beside it; nothing if there is none."""
    try:
        return held_against_manifest(copy, photos=False)
    except OSError:
        return []


def _plain(done: Restored, backup: Path) -> dict[str, object]:
    missing = done.missing
    return {
        "restored": str(backup),
        "until": None if done.until is None else show_time(done.until),
        "old": None if done.old is None else str(done.old),
        "missing": None
        if missing is None
        else {"until": show_time(missing.until), "readings": missing.readings, "events": dict(missing.events)},
        "beside": done.beside,
        "faults": [finding.sentence for finding in done.findings if finding.is_fault()],
        "not_verified": _not_verified(done),
    }


def _lines(done: Restored, backup: Path, now: int, zone: ZoneInfo) -> list[str]:
    faults = [finding.sentence for finding in done.findings if finding.is_fault()]
    found = (
        "it is damaged, and was taken anyway" if faults else "its readings, entries and decisions are what was written"
    )
    lines = [f"{backup} was looked at: {found}."]
    lines += faults[:20]
    lines += [f"Not verified: {one}." for one in _not_verified(done)]
    if done.until is None:
        lines.append("It is in its place. Its record is empty.")
    else:
        ends, ago = say_time(done.until, now, zone), say_span(max(0, now - done.until))
        lines.append(f"It is in its place. Its record ends {ends}, {ago} ago.")
    if done.beside:
        lines.append(f"With it came back: {', '.join(done.beside)}.")
    if done.kept:
        lines.append(f"Left as they are, though the backup has others: {', '.join(done.kept)}.")
    if done.old is not None:
        lines.append(f"The journal that was there lies in {done.old}, with its log.")
        lines.append(_said(done.missing, now, zone))
    return lines


def _photos_back(configuration: Configuration, backup: Path) -> tuple[int, int, str]:
    """Return how many photos came back, how many lack, and why it could not be done, or ""."""
    try:
        return *photos_back(configuration, backup), ""
    except UnavailableError as fault:
        return 0, 0, str(fault)


def _photo_lines(backup: Path, came: int, lacking: int, trouble: str) -> list[str]:
    if trouble:
        return [f"The photos beside it were not brought back: {trouble.removesuffix('.')}."]
    lines = [f"{came} {'photo' if came == 1 else 'photos'} came back from beside it."] if came else []
    if lacking:
        where = backup.absolute().parent / PHOTOS
        lines.append(
            f"{lacking} of the photos that it names are not here, nor in {where}; the entries stand without them."
        )
    return lines


def _not_verified(done: Restored) -> list[str]:
    """Return the parts that cannot be verified: those without a hash, and days that an older version kept without one."""
    rest = "; ".join([*WITHOUT_HASH, *([", ".join(done.beside)] if done.beside else [])])
    return [f"{rest} (kept without a hash)", *(one.sentence for one in done.findings if one.what is What.NOT_HASHED)]


def _said(missing: Missing | None, now: int, zone: ZoneInfo) -> str:
    if missing is None:
        return "What came since the backup cannot be told: the old journal cannot be read as it is."
    parts = [f"{missing.readings} readings"] if missing.readings else []
    for kind, (one, many) in _KINDS.items():
        count = missing.events.get(kind, 0)
        parts += [f"{count} {one if count == 1 else many}"] if count else []
    if not parts:
        return "Nothing is missing: the old journal has no reading and no work after it."
    return f"Missing since then, up to {say_time(missing.until, now, zone)}: {', '.join(parts)}."

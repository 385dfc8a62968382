"""Checks the photos of remarks: those that entries name and that are missing or changed, and those that nothing names."""

from collections.abc import Iterator

from monitor.app.checks.check_finding import Finding
from monitor.app.entries.photo_taken import photos_named, photos_of
from monitor.configuration import Configuration
from monitor.journal import journal_path, open_reader
from monitor.model.errors import UnavailableError

_WHAT = "photos"
_SHOWN = 5


def photo_checks(configuration: Configuration, *, quick: bool = False) -> Iterator[Finding]:
    """Yield findings about the photos; `quick` looks whether they are there, and does not read them."""
    photos = photos_of(configuration)
    if not journal_path(configuration.data).exists():
        return
    try:
        with open_reader(configuration.data) as store:
            named = photos_named(store)
    except UnavailableError:
        return  # said of the journal already
    sizes = {sha256: size for sha256, size, _ in photos.listed()}
    if not named and not sizes:
        return
    missing = sorted(named - sizes.keys())
    changed = [] if quick else sorted(one for one in sizes if photos.read(one) is None)
    for words, some in (("missing", missing), ("not what was kept", changed)):
        if some:
            yield Finding(_WHAT, False, f"{len(some)} {words} ({_names(some)}); {_cure(configuration)}")
    if missing or changed:
        return
    size = f"{len(sizes)}, {sum(sizes.values()) / 1e6:.1f} MB of {configuration.photos_most / 1e6:.0f} MB"
    whole = "there, but not read (--quick)" if quick else "what was kept"
    unnamed = len(sizes.keys() - named)
    beside = f"; {unnamed} of them named by no entry, which go after 30 days" if unnamed else ""
    yield Finding(_WHAT, True, f"{size}; {whole}{beside}", warning=quick)


def _names(some: list[str]) -> str:
    more = f" and {len(some) - _SHOWN} more" if len(some) > _SHOWN else ""
    return ", ".join(f"{one[:12]}…" for one in some[:_SHOWN]) + more


def _cure(configuration: Configuration) -> str:
    plan = configuration.backup
    if plan is None:
        return "there are no copies ([backup]); the entries stand without them"
    return f"remove a changed one; the next copy brings back what lies in {plan.folder}/photos"

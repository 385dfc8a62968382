"""Refuses to certify from a damaged record: the days behind a case are first compared with their hashes."""

from monitor.certificate import Case
from monitor.journal import DamagedError, Store, audit_days
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS


def refuse_damaged(store: Store, case: Case) -> None:
    """Check the days on which the data of a case arrived.

    Args:
        store: The record that the case was gathered from.
        case: The case.

    Raises:
        DamagedError: A day does not match its hash; the sentence names it.
    """
    faults = [one.sentence for one in audit_days(store, days_behind(store, case)) if one.is_fault()]
    if faults:
        rest = len(faults) - 1
        more = f" and {rest} more {'finding' if rest == 1 else 'findings'}" if rest else ""
        raise DamagedError(
            f"The record is damaged, and no certificate is made of it ({faults[0]}{more}); `heaptender check` says all, "
            "`heaptender restore BACKUP` puts a copy back."
        )


def days_behind(store: Store, case: Case) -> set[int]:
    """Return the UTC days (since 1970-01-01) on which a case's readings, work and settings arrived."""
    days = {entry.entered // DAY_MS for entry in case.work}
    days |= {entry.corrected // DAY_MS for entry in case.work if entry.corrected is not None}
    for probe in case.probes:
        if len(probe.times):
            for columns in store.columns(probe.probe, int(probe.times[0]), int(probe.times[-1])):
                days |= set((columns.at // DAY_MS).tolist())
    # Calibrations and rules stand in the settings.
    return days | {event.at // DAY_MS for event in store.events_of(EventKind.SETTINGS)}

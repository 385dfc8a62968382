"""Compares the mirror with the journal hour by hour and sends missing readings again: a server's confirmation is no proof."""

from collections.abc import Callable

from monitor.app.connections.mirror_source import JournalSource, Unsettled
from monitor.app.connections.sources import plain
from monitor.conditioning import ConditioningState
from monitor.configuration import Configuration
from monitor.mirror import Cursor, InfluxServer, Mirror, Unreadable, WriteError, check, reader_of
from monitor.model.times import DAY_MS, HOUR_MS

LOOK_BACK_MS = 2 * DAY_MS
"""How far a check looks back; it runs daily, so it sees every hour twice."""

SETTLED_MS = 2 * HOUR_MS
"""The newest hours are left out, because their readings are still on the way."""


class _NoCursor:
    """Keeps no cursor, because a check must not move the mirror's."""

    def load_cursor(self) -> Cursor | None:
        """Return none."""
        return None

    def save_cursor(self, cursor: Cursor) -> None:
        """Keep nothing."""


def check_mirror(configuration: Configuration, now_ms: int, say: Callable[[str], None]) -> None:
    """Check the last two days and say the result in one sentence; runs on any thread.

    Args:
        configuration: The yard's configuration; without a mirror nothing happens.
        now_ms: Now, UTC ms.
        say: Called with each sentence.
    """
    mirror = configuration.mirror
    if mirror is None:
        return
    token = plain(mirror.token)
    source = JournalSource(configuration.data, lambda: configuration.settings, Unsettled(ConditioningState()))
    try:
        server = InfluxServer(mirror.url, org=mirror.org, bucket=mirror.bucket, token=token, yard=mirror.yard)
        sender = Mirror(
            source,
            _NoCursor(),
            server,
            link_changed=lambda up, why: None,  # noqa: ARG005 (the mirror's own thread reports links)
            set_aside=lambda line, why: say(f"the mirror does not take {line}: {why}"),
        )
        reader = reader_of(mirror.url, org=mirror.org, bucket=mirror.bucket, token=token, at=now_ms, yard=mirror.yard)
        say(check(source, reader, sender, now_ms - LOOK_BACK_MS, now_ms - SETTLED_MS).sentence())
    except (Unreadable, WriteError) as fault:
        say(f"the mirror could not be checked: {fault}")
    finally:
        source.close()

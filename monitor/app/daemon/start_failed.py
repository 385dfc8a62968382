"""Tells people once, past the record, that the start failed because nothing can be stored: no daemon is there to tell them.

A service manager tries again and again; the time of the lock file, which needs no space, remembers that people were told.
"""

import logging
import threading
import time

from monitor.app.connections.deliveries import build_channels, composer
from monitor.app.loop.loop_faults import fault_letter
from monitor.app.loop.storing import is_marked_failing, mark_storing, why_unstored
from monitor.configuration import PAGE_CHANNEL, Configuration
from monitor.journal import notice_id
from monitor.model.alarm_kinds import Alarm
from monitor.model.effects import Occasion
from monitor.model.notice_rows import NoticeRow
from monitor.model.words import Priority
from monitor.outbox import Channel, Letter

LIMIT_S = 20.0
"""How long, in seconds, all channels together may take (our choice)."""

log = logging.getLogger("heaptender")


class FailedStart:
    """The report of a failed start. Make it before the attempt, which itself changes the lock file's time."""

    def __init__(self, configuration: Configuration) -> None:
        self._configuration = configuration
        self._was_told = is_marked_failing(configuration.data)

    def tell(self, why: str) -> None:
        """Tell everybody who has a channel that nothing can be stored, unless the disk is fine or people were told before."""
        configuration = self._configuration
        if not why_unstored(configuration.data, None):
            return
        mark_storing(configuration.data, works=False)
        if self._was_told:
            return
        now = time.time_ns() // 1_000_000
        text = fault_letter(Alarm.DISK, why.rstrip("."), configuration.settings, now, now).text
        compose, channels = composer(lambda: configuration, lambda: ""), build_channels(configuration)
        threads = []
        for contact, known in configuration.settings.contacts.items():
            for name in known.channels:
                if name in channels and name != PAGE_CHANNEL:
                    letter = compose(_row(now, contact, name, text))
                    sending = threading.Thread(target=_send, args=(name, channels[name], letter), daemon=True)
                    sending.start()
                    threads.append(sending)
        until = time.monotonic() + LIMIT_S
        for sending in threads:
            sending.join(max(0.0, until - time.monotonic()))


def _row(now: int, contact: str, channel: str, text: str) -> NoticeRow:
    return NoticeRow(
        id=-1, at=now, contact=contact, channel=channel, notice=notice_id(now, 0), occasion=str(Occasion.NEW),
        priority=Priority.HIGH, text=text, next_try=now,
    )  # fmt: skip


def _send(name: str, channel: Channel, letter: Letter) -> None:
    try:
        channel.send(letter)
        log.info("A message by %s was accepted: nothing can be stored.", name)
    except Exception as fault:  # noqa: BLE001 - the other channels go on, whatever this one raises
        log.error("Messages do not get through by %s: %s", name, str(fault) or type(fault).__name__)

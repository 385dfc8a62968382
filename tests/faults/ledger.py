"""What the world knows that the program has promised: what it acknowledged, answered, delivered and copied."""

from collections import defaultdict
from datetime import datetime

from monitor.model.times import DAY_MS


class Broken(AssertionError):
    """Something does not hold that must."""


class Ledger:
    """The world's own books; nothing in them comes from the record.

    Attributes:
        sent: Every reading that a node sent, as (probe, time, micro): the first day on which the program was given it, or None.
        acknowledged: Those that the program acknowledged: the day on which it did.
        letters: The letters that each (channel, contact, notice, at, text) got: whether each said that it may be a repeat.
        unstored: Letters that went out past the record: (contact, channel, when).
        asked: Requests that were entered and not answered yet: id -> (kind, payload, note).
        taken: Notes of entries that were taken in, by their event.
    """

    def __init__(self, counts):
        self.counts = counts
        self.sent = {}
        self.acknowledged = {}
        self.letters = defaultdict(list)
        self.unstored = []
        self.asked = {}
        self.taken = {}
        self.today = 0
        self.now_ms = 0

    def offered(self, message):
        for key in message.readings:
            if self.sent.get(key) is None:
                self.sent[key] = self.today

    def took(self, message):
        self.counts.note("messages acknowledged")
        for key in message.readings:
            if key not in self.acknowledged:
                self.acknowledged[key] = self.today

    def accepted(self, channel, row, letter):
        """Enter a letter that a channel's server took.

        Raises:
            Broken: It came before, and does not say that it may be a repeat.
        """
        contact, repeat = letter["contact"], letter["may_be_a_repeat"]
        self.counts.note("letters taken", detail=f"{channel} {contact} {letter['notice']} {repeat}")
        if row < 0:
            self.unstored.append((contact, channel, self.now_ms, letter["text"]))
            self.counts.note("letters taken past the record")
        at = round(datetime.fromisoformat(letter["at"]).timestamp() * 1000)
        got = self.letters[channel, contact, letter["notice"], at, letter["text"]]
        if got and not repeat:
            raise Broken(
                f"{contact} got notice {letter['notice']} by {channel} again, and it does not say so: {letter['text']}"
            )
        if got:
            self.counts.note("letters taken again, marked")
        got.append(repeat)

    def copy(self):
        """Return what a backup made now must hold."""
        return dict(self.acknowledged), dict(self.taken)

    def restored(self, held):
        """Forget what the program knew after the backup that was put back."""
        self.acknowledged, self.taken = dict(held[0]), dict(held[1])
        self.asked.clear()


def day_of(at):
    return at // DAY_MS

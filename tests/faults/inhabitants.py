"""What the nodes send and what the people ask for, and what becomes of it: the lively part of a world."""

from monitor.app.loop.asking import ask
from monitor.configuration import load
from monitor.journal import Inbox
from monitor.model.errors import MonitorError
from monitor.model.events import EventKind
from monitor.proof.rules import rule_ids

from .broker import Message
from .disk import Crash
from .yard import PROBES, noise, senml

SPACING_S = 900


class Inhabitants:
    """Nodes and people, as methods of `World`."""

    # The nodes.

    def speak(self, place):
        """Have a place's node send its readings, if the broker takes them; else keep them."""
        self.time.after(SPACING_S + self.chance.uniform(-2, 2), lambda: self.speak(place))
        if place in self.weather.dumb:
            return
        at = self.time.true_ms() // 1000 * 1000
        rows = [(probe, at, self.truth.milli(probe, at)) for probe in PROBES[place]]
        for row in rows:
            self.ledger.sent[row[0], row[1], row[2] * 1000] = None
        message = Message(f"nodes/{place}/senml", senml(rows), [(p, t, m * 1000) for p, t, m in rows])
        self.counts.note("readings sent", len(rows))
        self.kept_by_nodes.append(message)
        if not self.weather.nodes_held:
            self.send_kept()

    def send_kept(self):
        """Send what the nodes kept: sometimes out of order, sometimes twice."""
        kept, self.kept_by_nodes = self.kept_by_nodes, []
        if len(kept) > 1 and self.chance.random() < 0.5:
            self.chance.shuffle(kept)
            self.counts.note("messages sent out of order", len(kept))
        for message in kept:
            if not self.broker.publish(message):
                self.kept_by_nodes.append(message)
            elif self.chance.random() < 0.03:
                self.counts.note("messages sent twice")
                self.broker.publish(message)
        self.step_soon()

    def step_soon(self):
        self.time.after(self.chance.choice([0.01, 1.0, 5.0]), self.step)

    def clutter(self):
        """Put noise on the wire."""
        self.time.after(self.chance.expovariate(1 / (3 * 3600)), self.clutter)
        self.counts.note("messages of noise")
        self.broker.publish(Message("nodes/x/senml", noise(self.chance, self.time.true_ms()), []))

    # The people.

    def wish(self):
        """Have somebody ask for something, by the running program or, if none runs, without it."""
        if self.nobody_asks:
            return
        self.time.after(self.chance.expovariate(1 / (5 * 3600)), self.wish)
        if self.busy:
            return
        alarms = []
        if self.daemon is not None:
            alarms = sorted(self.daemon.engine().state.alarms)
        kind, payload, what = self.people.wish(self.time.wall_ms(), alarms, self.truth)
        self.counts.note(f"asked: {what}")
        note = str(payload.get("note", ""))
        try:
            if self.daemon is not None:
                self.ledger.asked[Inbox(self.data).submit(kind, payload)] = (kind, payload, note)
            elif self.chance.random() < 0.5 and (self.data / "journal.db").exists():
                self.ask_alone(kind, payload, note)
        except (MonitorError, ValueError):
            self.counts.note("asked in vain")
        except Crash:
            self.after_crash()

    def ask_alone(self, kind, payload, note):
        configuration = load(self.toml, {}, rules=rule_ids())
        self.busy = True
        try:
            taken = ask(configuration, kind, payload, self.time.wall_ms, again=True)
        finally:
            self.busy = False
        self.counts.note("entered while no daemon ran")
        self.entered(kind, note, taken.at)

    def entered(self, kind, note, at):
        if at is not None and kind is EventKind.WORK and note:
            self.ledger.taken[note] = at
            self.people.entries.append(at)

    def read_answers(self):
        """Read the answers to requests; a question is answered by asking again."""
        self.time.after(1800, self.read_answers)
        if self.busy or self.daemon is None:
            return
        inbox = Inbox(self.data)
        for number, (kind, payload, note) in list(self.ledger.asked.items()):
            try:
                reply = inbox.answer(number)
                if reply is None:
                    continue
                if reply.question:
                    self.counts.note("questions asked back")
                    self.ledger.asked[inbox.submit(kind, payload, again=True)] = (kind, payload, note)
                elif not reply.refusal:
                    self.entered(kind, note, reply.at)
                self.counts.note("requests refused" if reply.refusal else "requests answered")
                del self.ledger.asked[number]
            except MonitorError:
                self.counts.note("answers that could not be read")
            except Crash:
                self.after_crash()
                return

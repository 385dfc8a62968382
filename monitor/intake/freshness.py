"""Decides whether a message's arrival reveals its time, and whether the message was taken before.

Both matter only for messages without a time of their own; (probe, time) identifies the others.
"""

QUIET_S = 1.0
"""A queue counts as drained at the first second without a message."""


class Backlog:
    """Tells whether messages may still be coming out of the broker's queue. Used by one thread alone.

    From a connect with the session present until the first second without a message, arriving messages may have waited. Time
    spent on handling a message is not silence.
    """

    def __init__(self) -> None:
        """Begin without a queue."""
        self.draining = False
        self._quiet_since_s = 0.0

    def connected(self, session_present: bool, now_s: float) -> None:
        """Note that a connection was made, at monotonic seconds `now_s`."""
        self.draining = session_present
        self._quiet_since_s = now_s

    def arriving(self, now_s: float) -> bool:
        """Note that a message came; return whether it may have waited in a queue."""
        if self.draining and now_s - self._quiet_since_s >= QUIET_S:
            self.draining = False
        return self.draining

    def handled(self, now_s: float) -> None:
        """Note that the message is dealt with; the wait for the next begins."""
        self._quiet_since_s = now_s


class Taken:
    """Remembers the untimed messages taken in one session, by packet id and digest. Used by one thread alone.

    An entry outlives its acknowledgement, which may be lost with the connection, and ends when its packet id comes with
    a new message. Packet ids are 16 bits, so at most 65,535 are held. The digest is Python's keyed 64-bit hash: it
    never leaves the process.
    """

    def __init__(self) -> None:
        """Begin with nothing taken."""
        self._digests: dict[int, int] = {}

    def forget_all(self) -> None:
        """Note that the session was lost: packet ids begin anew."""
        self._digests.clear()

    def was_taken(self, packet_id: int, topic: str, payload: bytes) -> bool:
        """Return whether a redelivered message was taken before.

        Args:
            packet_id: Packet id of the redelivery, 16 bits.
            topic: Its topic.
            payload: Its payload.

        Returns:
            True if the same untimed message was taken under this packet id.
        """
        return self._digests.get(packet_id) == hash((topic, payload))

    def take(self, packet_id: int, topic: str, payload: bytes, *, untimed: bool) -> None:
        """Note that a message was handed on.

        Args:
            packet_id: Its packet id, 16 bits.
            topic: Its topic.
            payload: Its payload.
            untimed: Whether it needs remembering because it has no time of its own.
        """
        if untimed:
            self._digests[packet_id] = hash((topic, payload))
        elif self._digests:
            self._digests.pop(packet_id, None)

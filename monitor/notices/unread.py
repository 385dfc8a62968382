"""A desk whose words nobody reads: the same messages to the same people at the same instants, but without texts."""

from monitor.notices.desk import NoticeDesk
from monitor.notices.letters import Letters
from monitor.notices.state import BLANK, LineKind, Message, Slip, Telling


class UnreadLetters(Letters):
    """Drafts of notices without their texts."""

    __slots__ = ()

    def ended(self, telling: Telling, at: int) -> Message:
        """Return no words."""
        del telling, at
        return BLANK

    def _text(self, slip: Slip, telling: Telling, at: int) -> str:
        del slip, telling, at
        return ""

    def _group_text(self, pairs: list[tuple[Slip, Telling]], at: int) -> str:
        del pairs, at
        return ""


class UnreadDesk(NoticeDesk):
    """Keeps no lines and sends no digest."""

    letters = UnreadLetters

    def begin(self, at: int) -> None:
        """Arm no digest."""
        del at

    def line(self, at: int, place: str, text: str, kind: LineKind = LineKind.NOTED) -> None:
        """Note nothing."""
        del at, place, text, kind

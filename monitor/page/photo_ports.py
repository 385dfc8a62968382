"""The port to the photos of remarks."""

from typing import Protocol


class Photos(Protocol):
    """Keeps photos and gives them out; any thread may call it."""

    @property
    def wanted(self) -> bool:
        """Whether the yard takes photos at all."""

    def keep(self, data: bytes) -> str:
        """Keep a photo as it was sent, and return its name for the entry.

        Raises:
            FieldError: It is no such photo, or there is no room for it; the sentence says what would be right.
            UnavailableError: The disk does not take it.
        """

    def has(self, name: str) -> bool:
        """Return whether a photo of this name is there."""

    def shown(self, name: str) -> bytes | None:
        """Return a photo as browsers show it upright; None if it is missing, or not what was kept."""

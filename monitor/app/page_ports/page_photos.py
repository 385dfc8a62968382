"""Keeps and shows the photos of remarks for the page, by the same rules as the command line."""

from collections.abc import Callable

from monitor.app.entries.photo_taken import keep_photo, photos_of
from monitor.codec import lying
from monitor.configuration import Configuration
from monitor.model.photo_names import photo_parts


class YardPhotos:
    """Fills `monitor.page.Photos`; any thread may call it."""

    def __init__(self, configuration: Callable[[], Configuration]) -> None:
        self._configuration = configuration

    @property
    def wanted(self) -> bool:
        """Whether the yard takes photos at all."""
        return self._configuration().photos_most > 0

    def keep(self, data: bytes) -> str:
        """Keep a photo as it was sent, and return its name for the entry.

        Raises:
            FieldError: It is no such photo, or there is no room for it; the sentence says what would be right.
            UnavailableError: The disk does not take it.
        """
        return keep_photo(self._configuration(), data)

    def has(self, name: str) -> bool:
        """Return whether a photo of this name is there."""
        parts = photo_parts(name)
        return parts is not None and photos_of(self._configuration()).path(parts[0]).is_file()

    def shown(self, name: str) -> bytes | None:
        """Return a photo as browsers show it upright; None if it is missing, or not what was kept."""
        parts = photo_parts(name)
        data = None if parts is None else photos_of(self._configuration()).read(parts[0])
        return None if data is None or parts is None else lying(data, parts[1])

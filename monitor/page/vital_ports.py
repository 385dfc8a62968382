"""The page's need of the daemon's signs of life, for programs that watch the daemon; `app` fills it."""

from typing import Protocol

OPENMETRICS = "application/openmetrics-text; version=1.0.0; charset=utf-8"
"""The content type of the measurements (OpenMetrics 1.0)."""


class Vitals(Protocol):
    """The daemon's signs of life; any thread may ask, any number of times."""

    def trouble(self) -> str:
        """Return why the daemon stores nothing, a sentence; "" while it does."""

    def measurements(self) -> bytes:
        """Return the daemon's figures as OpenMetrics text."""

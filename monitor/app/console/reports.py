"""Writes a report or a picture to a file that a person named."""

from pathlib import Path

from monitor.model.errors import UnavailableError


def write_report(path: Path, text: str) -> None:
    """Write a text into a file; missing folders are made.

    Raises:
        UnavailableError: The file cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    except OSError as fault:
        raise UnavailableError(f"{path} cannot be written ({fault.strerror}); name another file.") from fault

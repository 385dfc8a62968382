"""Files and folders that nobody but their owner may read, from their first moment on."""

import os
from pathlib import Path

FILE_MODE = 0o600
FOLDER_MODE = 0o700


def private_folder(folder: Path) -> None:
    """Make a folder that only its owner may look into, and sync its name to the disk; an existing folder is left alone."""
    if folder.is_dir():
        return
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(mode=FOLDER_MODE, exist_ok=True)
    to_disk(folder.parent)


def private_file(path: Path) -> None:
    """Make an empty file that only its owner may read, and sync its name to the disk; an existing file is left alone."""
    try:
        os.close(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC | os.O_NOFOLLOW, FILE_MODE))
    except FileExistsError:
        return
    to_disk(path.parent)


def to_disk(path: Path) -> None:
    """Bring a file, or the names in a folder, to the disk."""
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)

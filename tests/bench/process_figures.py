"""Memory and processor time of a process, from proc(5)."""

import os
from pathlib import Path


def cpu_s(pid: int) -> float:
    """Return the processor time that a process has used, seconds; 0 for a process that is gone."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def memory_mib(pid: int, what: str = "VmRSS") -> float:
    """Return a process's resident memory, or another line of its `status`, MiB; 0 for a process that is gone."""
    try:
        text = Path(f"/proc/{pid}/status").read_text()
    except OSError:
        return 0.0
    return next((int(line.split()[1]) / 1024 for line in text.splitlines() if line.startswith(what)), 0.0)

"""Plays rounds of the campaign one after another, and says what was done and which failed."""

import shutil
import tempfile
import time
import traceback
from pathlib import Path

from tests.faults.counts import Counts

from .rounds import play

LASTING = Path("/var/tmp")  # noqa: S108 - a real disk, where /tmp may lie in memory; each run makes a folder of its own


def campaign(seed, *, rounds=None, minutes=None, kinds=()):
    """Play rounds from `seed` on: so many, or for so many minutes, else one. Return whether all that must hold did."""
    begun, counts, failed = time.monotonic(), Counts(), []
    root = Path(tempfile.mkdtemp(prefix="heaptender-campaign-", dir=LASTING if LASTING.is_dir() else None))
    number = 0
    while number < (rounds or 1) if minutes is None else time.monotonic() - begun < minutes * 60:
        now, folder = seed + number, root / f"round-{seed + number}"
        number += 1
        before = time.monotonic()
        try:
            one = play(now, folder, kinds=kinds)
        except Exception as fault:  # noqa: BLE001 - whatever is raised, the other rounds go on
            failed.append(now)
            print("".join(traceback.format_tb(fault.__traceback__, limit=-6)))
            named = "".join(f' --kind "{kind}"' for kind in kinds)
            print(f"seed {now} failed: {type(fault).__name__}: {str(fault)[:3000]}\nits files: {folder}")
            print(f"again: python -m tests.faults campaign --seed {now}{named}", flush=True)
        else:
            counts.add(one.counts)
            done = one.counts.of
            said = f"{done['readings checked']} readings, {done['letters taken']} letters, {done['starts']} starts"
            print(f"seed {now}: {', '.join(one.kinds)}: {said}, {time.monotonic() - before:.0f} s", flush=True)
            shutil.rmtree(folder, ignore_errors=True)
    print(counts.table())
    took = f"{time.monotonic() - begun:.0f} s, {time.process_time():.0f} s of this process"
    print(f"{number} rounds, {took}, {len(failed)} failed {failed or ''}")
    if not failed:
        shutil.rmtree(root, ignore_errors=True)
    return not failed

"""Runs simulated yards (`simulate`), or rounds of faults with real processes (`campaign`), each from a seed.

`python -m tests.faults simulate --seed 7 --days 20`, `--seeds 1..50`, or `--minutes 60`;
`python -m tests.faults campaign --seed 7 --rounds 5`, `--minutes 60`, or `--kind "power cut"`.

A failing seed is named with the command that runs it again; the exit code is then 1.
"""

import argparse
import random
import signal
import sys
import time
import traceback

from .counts import Counts
from .simulation import live


def main(argv=None):
    """Run lives one after another and print what was done, and which failed."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("what", choices=["simulate", "campaign"])
    parser.add_argument("--seed", type=int, help="one life")
    parser.add_argument("--seeds", help="lives from A to B, both included: A..B")
    parser.add_argument(
        "--minutes", type=float, help="lives one after another, from --seed on (else from any), for so long"
    )
    parser.add_argument("--days", type=float, default=6.0, help="how long each life is, in simulated days (default: 6)")
    parser.add_argument("--rounds", type=int, help="of the campaign: so many rounds, from --seed on (default: one)")
    parser.add_argument(
        "--kind", action="append", default=[], help="of the campaign: what goes wrong, instead of what is drawn"
    )
    asked = parser.parse_args(argv)
    if asked.what == "campaign":
        # It needs the servers that the tests need; the simulation does not.
        from .campaign.run import campaign

        # Asked to end, it ends its servers and the daemon too.
        signal.signal(signal.SIGTERM, signal.default_int_handler)

        seed = asked.seed if asked.seed is not None else random.randrange(1 << 30)
        return 0 if campaign(seed, rounds=asked.rounds, minutes=asked.minutes, kinds=asked.kind) else 1
    begun, counts, failed = time.monotonic(), Counts(), []
    for seed in _seeds(asked, begun):
        try:
            one = live(seed, asked.days)
        except Exception as fault:  # noqa: BLE001 - whatever is raised, the others go on
            failed.append(seed)
            traceback.print_exc(limit=-6)
            print(f"seed {seed} failed: {type(fault).__name__}: {str(fault)[:400]}")
            print(f"again: python -m tests.faults simulate --seed {seed} --days {asked.days:g}", flush=True)
        else:
            counts.add(one)
            print(f"seed {seed}: {one.digest()[:16]}, after {time.monotonic() - begun:.0f} s", flush=True)
    print(counts.table())
    took = f"{time.monotonic() - begun:.0f} s, {time.process_time():.0f} s of them at work"
    print(f"digest {counts.digest()[:16]}, {took}, {len(failed)} failed {failed or ''}")
    return 1 if failed else 0


def _seeds(asked, begun):
    if asked.seeds:
        first, _, last = asked.seeds.partition("..")
        yield from range(int(first), int(last) + 1)
    elif asked.minutes is None:
        yield asked.seed if asked.seed is not None else random.randrange(1 << 30)
    else:
        seed = asked.seed if asked.seed is not None else random.randrange(1 << 30)
        while time.monotonic() - begun < asked.minutes * 60:
            yield seed
            seed += 1


if __name__ == "__main__":
    sys.exit(main())

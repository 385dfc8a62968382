"""The search itself, in a process of its own: Atheris counts the edges of `monitor/` that an input walks, libFuzzer changes
inputs.

A finding does not end the search: it is kept by its kind and place, once, and the search goes on. What cannot be caught (a
hang, memory beyond the limit) ends this process; `__main__` sees that and begins another one.
"""

import hashlib
import sys
import traceback
from pathlib import Path

from tests.fuzz.contract import parser_of, tried, where

MEMORY_MB = 1500
"""More than that taken by this process is a finding; the imports and the corpus take some 300 MB of it."""


def main(name, seconds, seed, work, found):
    """Search for so many seconds from a seed; new inputs go into the folder `work`, findings into `found`."""
    import atheris

    with atheris.instrument_imports(include=["monitor"], enable_loader_override=False):
        parser = parser_of(name)
    words = Path(found) / "words.txt"
    words.write_text("".join('"' + "".join(map("\\x{:02x}".format, word)) + '"\n' for word in parser.words))
    seen = set()

    def one(data):
        fault = tried(parser, data)
        if fault is not None and (place := where(fault)) not in seen:
            seen.add(place)
            known = Path(found) / hashlib.sha256(place.encode()).hexdigest()[:12]
            if not known.exists():
                known.write_bytes(data)
                told = "".join(traceback.format_exception(fault, limit=-8))
                known.with_suffix(".txt").write_text(f"{place}\n\n{told}")
                print(f"FOUND {place}: {str(fault)[:300]}", file=sys.stderr, flush=True)

    flags = {
        "max_total_time": seconds, "seed": seed, "max_len": parser.longest, "timeout": parser.seconds,
        "rss_limit_mb": MEMORY_MB, "dict": words, "print_final_stats": 1, "len_control": 20,
        "artifact_prefix": f"{found}/ended-",
    }  # fmt: skip
    atheris.Setup([sys.argv[0], *(f"-{flag}={value}" for flag, value in flags.items()), str(work)], one)
    atheris.Fuzz()


if __name__ == "__main__":
    main(*sys.argv[1:])

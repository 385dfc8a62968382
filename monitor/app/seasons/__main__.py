"""Works out the courses of heaps: `python -m monitor.app.seasons CONFIGURATION`. The daemon runs this as a child, niced.

Each line that it reads names a heap and the present (UTC ms) in JSON; each line that it writes is a course.
"""

import json
import os
import sys
from pathlib import Path

from monitor.app.cases.from_store import WholeRecord
from monitor.app.seasons.heap_heat import heat_course
from monitor.app.seasons.heat_lines import line_of_heat
from monitor.app.yard.in_force import load_or_in_force
from monitor.app.yard.yard_view import yard_view


def main() -> int:
    """Work them out."""
    if hasattr(os, "nice"):
        os.nice(10)  # readings and messages go first
    asked = [json.loads(line) for line in sys.stdin]
    configuration = load_or_in_force(Path(sys.argv[1]))
    with yard_view(configuration) as view:
        whole = WholeRecord(view)
        for batch, now in asked:
            if batch in view.engine.state.batches.batches:
                print(line_of_heat(batch, heat_course(view, configuration, batch, now, whole)), flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

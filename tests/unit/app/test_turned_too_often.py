"""What the page says, from the engine, of a heap that is turned each day and is long on its way back to its heat."""

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, core, yard

from monitor.model.settings import Pile
from monitor.model.words import Method
from monitor.page.places.rule_progress import progress_of


@pytest.mark.parametrize(("cold_h", "told"), [(4, "today counts so far"), (8, "2 days do not count")])
def test_days_that_stand_still_are_explained_while_the_batch_lies_there(tmp_path, cold_h, told):
    piles = {"p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED)}
    journal = Journal(tmp_path, yard(piles=piles, probes={"p1-a": core("p1")}))
    journal.work(T0 - HOUR, "p1", "built")
    for day in range(13):
        start, turned = T0 + day * DAY, T0 + day * DAY + (24 - cold_h) * HOUR
        journal.hold(start, turned - MIN, p1_a=60)
        journal.work(turned, "p1", "turned")
        journal.work(turned + MIN, "p1", "probe in", probe="p1-a")
        journal.hold(turned + HOUR, start + DAY - MIN, p1_a=40)
    journal.hold(T0 + 13 * DAY, T0 + 13 * DAY + 5 * HOUR, p1_a=60)
    (run,) = journal.engine.state.runs.values()
    progress = progress_of(run, "degC", T0 + 13 * DAY + 5 * HOUR)
    journal.writer.close()
    assert progress.today.startswith(told)
    assert progress.today.endswith("so turn it less often") is (cold_h == 8)

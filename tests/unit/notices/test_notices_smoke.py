"""The number of the fire service stands beside each alarm that speaks of smoke: those that shut a heap, and no others."""

import pytest

from monitor.model.alarm_kinds import SHUT, Alarm
from monitor.notices.heap_words import HEAP_WORDS
from monitor.notices.heat_cautions import mind_fire, mind_smoke


@pytest.mark.parametrize("alarm", sorted(HEAP_WORDS))
def test_smoke_is_spoken_of_where_a_heap_may_burn(alarm):
    assert (HEAP_WORDS[alarm].mind in (mind_smoke, mind_fire)) is (alarm in SHUT)


def test_only_a_heap_or_its_probe_shuts():
    assert set(HEAP_WORDS) >= {alarm for alarm in Alarm if alarm.kind.shuts}

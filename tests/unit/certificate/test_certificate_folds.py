"""What the pages fold and soften: outings and probes in one line, weeks after the verdict, and a batch that is under way."""

from dataclasses import replace

import certificate_scenes as scenes
import pytest
from test_certificate_pages import pages

from monitor.app.cases.verdict_words import verdict_json, verdict_lines
from monitor.certificate.judged.case import ServiceEntry
from monitor.certificate.judged.judging import judge_case
from monitor.certificate.pages.interim import is_interim
from monitor.certificate.pages.outing_words import outings_together, probes_together
from monitor.certificate.pages.sheet_wording import Wording, cubed
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.work import WorkKind
from monitor.proof.report import DayRow, by_week_after


def young(days, **more):
    """Return a heap of the journal that lies there still, so many days old."""
    probes = tuple(
        scenes.probe(f"p1-{one}", scenes.course(days, seed=at, every_ms=HOUR_MS), every_ms=HOUR_MS)
        for at, one in enumerate("ab")
    )
    known = {
        "probes": probes,
        "turnings": (),
        "work": scenes.case().work[:1],
        "lay_on": (("Bay 1", scenes.START, None),),
        "as_of": scenes.START + days * DAY_MS,
    }
    return scenes.case(**{**known, **more})


def test_a_batch_that_is_under_way_has_an_interim_record():
    case = young(5)
    shown = pages(case)
    assert judge_case(case).finding.outcome.value == "not met", "the verdict itself is what it was"
    assert shown.startswith(
        "Interim record of time above temperature, self-declared while the batch goes on NOT MET YET"
    )
    assert "So far: 3 of 15 days, 0 of 5 turnings, as of " in shown
    assert "The batch lies in Bay 1 still, and its rule goes on." in shown
    assert "  Not met yet: 3 of 15 days, 0 of 5 turnings. " in "\n".join(verdict_lines(case, judge_case(case)))
    told = verdict_json(case, judge_case(case))
    assert (told["verdict"], told["interim"]) == ("not met", True)


@pytest.mark.parametrize(
    "more",
    [
        {"lay_on": (("Bay 1", scenes.START, scenes.START + 5 * DAY_MS),)},
        {"lay_on": (), "batch": ""},
        {"as_of": scenes.START + 13 * DAY_MS},
    ],
    ids=["taken away", "files", "cold for a week"],
)
def test_one_that_is_not_has_none(more):
    case = young(5, **more)
    assert not is_interim(case, judge_case(case))
    assert "NOT MET By its probes" in pages(case)


def test_one_that_met_its_rule_has_none():
    case = scenes.case(lay_on=(("Bay 1", scenes.START, None),))
    assert not is_interim(case, judge_case(case))


def entry(hour, into, how="turning", **more):
    return ServiceEntry(time=scenes.START + hour * HOUR_MS, into=into, how=how, by="Ann", **more)


def test_probes_that_went_out_together_stand_in_one_line_with_when_each_was_back():
    a, b = (scenes.case().probes[at] for at in (0, 1))
    built = entry(0, True, "built")
    a = replace(a, entries=(built, entry(70, False), entry(71, True, "probe in"), entry(99, False)))
    b = replace(b, entries=(built, entry(70, False), entry(73, True, "back by itself"), entry(99, False)))
    first, turned, out = outings_together([a, b])
    assert (first.out, first.probes, [*first.backs]) == (None, ["Probe A", "Probe B"], [built])
    assert turned.probes == ["Probe A", "Probe B"]
    assert [(one.how, names) for one, names in turned.backs.items()] == [
        ("probe in", ["Probe A"]), ("back by itself", ["Probe B"]),
    ]  # fmt: skip
    assert (out.probes, out.backs) == (["Probe A", "Probe B"], {})
    shown = pages(replace(scenes.small(), probes=(a, b)))
    assert "2026-03-08 04:00 Probe A; 2026-03-08 06:00 Probe B" in shown.replace("\n", " ")
    assert "not recorded" in shown


def test_probes_that_one_person_put_in_at_one_time_stand_in_one_line_of_the_log():
    some = [scenes.work(WorkKind.PROBE_IN, 3, probe=one) for one in ("p1-a", "p1-b")]
    some += [
        scenes.work(WorkKind.WATERED, 3, amount="60", measure="L"),
        scenes.work(WorkKind.PROBE_IN, 4, probe="p1-a"),
    ]
    assert [one.work.probe for one in probes_together(some)] == ["p1-a, p1-b", "", "p1-a"]
    assert "p1-a, p1-b put in" in pages(replace(scenes.small(), work=tuple(some)))


def test_days_after_the_rule_was_met_are_told_by_the_week():
    case = scenes.case(
        probes=tuple(scenes.probe(f"p1-{one}", scenes.course(60, seed=at)) for at, one in enumerate("ab"))
    )
    met_at = judge_case(case).finding.met_at
    assert met_at is not None
    shown = pages(case)
    assert "2026-03-20 " in shown
    assert "2026-04-20 " not in shown.split("Day by day")[1].split("Gaps")[0]
    assert " to 2026-04-" in shown.split("Day by day")[1].split("Gaps")[0]


def test_a_week_has_the_lowest_and_highest_of_its_days_and_their_sums():
    def day(number, low, high, hold, proven):
        return DayRow(
            day=f"2026-03-{number:02}", start=number * DAY_MS, end=(number + 1) * DAY_MS, min_milli_c=low,
            mean_milli_c=None, max_milli_c=high, hold_ms=hold, proven_ms=proven,
        )  # fmt: skip

    table = [day(number, 50_000 + number, 60_000 + number, 1, 2) for number in range(1, 11)]
    rows = by_week_after(table, DAY_MS, [])
    assert [one.day for one in rows] == ["2026-03-01", "2026-03-02 to 2026-03-08", "2026-03-09 to 2026-03-10"]
    assert (rows[1].min_milli_c, rows[1].max_milli_c, rows[1].hold_ms, rows[1].proven_ms) == (50_002, 60_008, 7, 14)
    assert [one.day for one in by_week_after(table, None, [])] == [one.day for one in table]


def test_a_column_has_one_decimal_throughout():
    wording = Wording.of(scenes.case())
    assert [wording.even(one) for one in (18_900, 18_889, None)] == ["66.0 °F (18.9 °C)", "66.0 °F (18.9 °C)", "–"]
    assert wording.even(55_000) == "131.0 °F (55.0 °C)"


def test_cubic_measures_have_a_raised_figure_and_no_shorthand_of_ours_is_printed():
    assert cubed("4.5 m3, 12 yd3 and p3") == "4.5 m³, 12 yd³ and p3"
    shown = pages(scenes.small())
    assert "3 m³" in shown
    assert "seen-2nd" not in shown.split("Lethality")[0]
    assert "read where another source restates the text" in shown

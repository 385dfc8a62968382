"""What a person reads of a heap and of a bin: at its head, among its needs, of its probes, in its table and its log."""

import re

from page_visitor import browser, words_of
from page_yard_for_tests import page_of

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.words import AlarmState

WAY = ["built Fri 08:00", "heating", "holding", "cooling", "cool enough for worms"]
PROGRESS = "2 of 15 days, 0 of 5 turnings"
WORMS = "WORMS IN DANGER, 93 °F since 05:55, rising (b1-t)."
ICE = (
    "Shade it now (sheet, board; move it if two people can), then open it, take hot food out, lay cool wet bedding and closed "
    "bottles of ice on top; do not flood it. The air reached 68 °F in 24 h; with the sun on it that may be the cause."
)
DANGER = ["urgent", WORMS, ICE, "I'll see to it", "Put off …", "for 2 h"]
LATER = ["Put off …", "for 2 h", "until 18:00", "until tomorrow 07:00", "for a week"]


def sheet(near, place, part):
    return words_of(near.get(f"/place/{place}").text, part)


def glance(near):
    """Return of each place its mark, and what is said of it to people who cannot see that."""
    found = re.findall(
        r'<li id="at-(\w+)" class="ground (\w+)">.*?<h3><a[^>]*><i[^>]*></i>(.*?)</a>', near.get("/").text, re.S
    )
    return [(place, mark, re.sub(r"<[^>]+>", "", words).partition(", ")[2].strip()) for place, mark, words in found]


def heat(yard, celsius, hours=1, *, every_ms=HOUR_MS):
    for _ in range(hours):
        yard.read(("p1-a", celsius + 1, "Cel"), ("p1-b", celsius, "Cel"), after_ms=every_ms)


def test_a_heap_that_holds_says_all_that_is_known_of_it(near):
    assert sheet(near, "p1", "head") == [
        "Bay 1", "holding, 3 days old", "inside: coldest 136.4 °F, hottest 140 °F", PROGRESS, *WAY,
    ]  # fmt: skip
    assert sheet(near, "p1", "needs") == []
    assert sheet(near, "p1", "probes") == [
        "p1-a 140 °F core, 24 in deep; 5 min ago", "Taken out", "p1-b 136.4 °F core; 5 min ago", "Taken out",
    ]  # fmt: skip
    assert sheet(near, "p1", "table")[1:] == [
        "Day", "p1-a", "p1-b",
        "Mon 20 Jul", "140 °F", "136.4 °F",
        "Sun 19 Jul", "140 °F", "136.4 °F",
        "Sat 18 Jul", "122.9 to 140 °F", "119.3 to 136.4 °F",
        "Fri 17 Jul", "79.7 to 120.2 °F", "76.1 to 116.6 °F",
    ]  # fmt: skip
    assert sheet(near, "p1", "log") == ["Log", "Nothing was written down in the last 90 days."]


def test_a_bin_in_danger_says_all_that_is_known_of_it(near):
    assert sheet(near, "b1", "head") == ["Sunny wall bin", "overheating", "93.2 °F in the bedding, 72 % moisture"]
    assert sheet(near, "b1", "needs") == DANGER
    assert sheet(near, "b1", "probes") == [
        "b1-m 72 % moisture; 5 min ago", "Taken out", "b1-t 93.2 °F bedding; 5 min ago", "Taken out",
    ]  # fmt: skip
    assert sheet(near, "b1", "remarks") == [f"06:10 {WORMS[:-1]}"]


def test_the_yard_shows_each_place_by_its_mark(yard, near):
    assert glance(near) == [("p1", "well", ""), ("p2", "well", ""), ("b1", "act", "needs you now")]
    heat(yard, 49.0, 24)
    assert glance(near) == [("p1", "soon", "needs you"), ("p2", "well", ""), ("b1", "act", "needs you now")]
    (cold,) = (
        key for key, one in yard.alarms.items() if key.startswith("p1/") and one.state is AlarmState.UNACKNOWLEDGED
    )
    near.send("/do/answer", alarm=cold, answer="put off", until="week", by="Ann")
    assert glance(near)[:2] == [("p1", "watch", "put off until 28 Jul 08:00"), ("p2", "well", "")]


def test_a_heap_that_was_turned_says_where_its_probes_are_until_they_count_again(yard, near):
    near.send("/do/work", place="p1", kind="turned", by="Ann")
    told = sheet(near, "p1", "head")
    waits = f"{PROGRESS}; the 1st counts when it is back at temperature"
    assert told[1:5] == [
        "holding, 3 days old", "Its core probes are outside", waits, "Turned 08:00; its probes lie outside",
    ]  # fmt: skip
    assert sheet(near, "p1", "needs") == [
        "2 probes have been outside since 08:00.",
        "Put them back in when the work is done; until then what they show counts for nothing.",
    ]
    assert sheet(near, "p1", "probes")[0::2] == [
        "p1-a 140 °F core, 24 in deep; 5 min ago, outside", "p1-b 136.4 °F core; 5 min ago, outside",
    ]  # fmt: skip
    assert sheet(near, "p1", "probes")[1::2] == ["Back in", "Back in"]
    yard.clock += 20 * MINUTE_MS
    near.send("/do/probes", place="p1", by="Bo")
    assert sheet(near, "p1", "head")[2:5] == [
        "inside: coldest 136.4 °F, hottest 140 °F", waits, "Getting warm again since the turning 08:00",
    ]  # fmt: skip
    assert sheet(near, "p1", "probes")[0] == "p1-a 140 °F core, 24 in deep; 25 min ago, counts again from 09:20"
    assert sheet(near, "p1", "log") == ["Log", "08:20 p1-a, p1-b put in, Bo", "08:00 turned, Ann"]
    heat(yard, 40.0, every_ms=HOUR_MS)
    assert sheet(near, "p1", "probes")[0] == "p1-a 105.8 °F core, 24 in deep; just now"
    heat(yard, 60.0, 4)
    assert sheet(near, "p1", "head")[2:5] == [
        "inside: coldest 140 °F, hottest 141.8 °F",
        "2 of 15 days, 1 of 5 turnings",
        WAY[0],
    ]


def test_one_probe_alone_is_named_with_its_value(yard, near):
    near.send("/do/work", place="p1", kind="probe out", probe="p1-a")
    assert sheet(near, "p1", "head")[2] == "136.4 °F at p1-b"
    assert sheet(near, "p1", "needs") == [
        "A probe has been outside since 08:00.",
        "Put it back in when the work is done; until then what it shows counts for nothing.",
    ]
    near.send("/do/work", place="b1", kind="probe out", probe="b1-m")
    assert sheet(near, "b1", "needs")[-2:] == [
        "A probe has been outside since 08:00.", "Put it back in; until then no alarm takes account of what it shows.",
    ]  # fmt: skip
    assert sheet(near, "b1", "head")[1:] == ["overheating, moisture unknown", "93.2 °F in the bedding"]


def test_a_fire_comes_first_and_its_answers_stand_with_who_gave_them(yard, near):
    yard.burn()
    fire = "FIRE DANGER at Bay 1: 184.1 °F since 08:09, rising 18.2 °F an hour."
    text = near.get("/").text
    told = words_of(text, "today")
    assert told[:3] == ["Bay 1, a fire, now: keep people off", fire, "Smoke or a burnt smell? Call the fire service."]
    assert told[3] == "Keep people off. It may be hollow: do not climb on it."
    assert told[4].startswith("Do not dig or turn it: air feeds it.")
    assert told[told.index("I'll keep people off") + 1 :][:3] == [
        "Sunny wall bin, now: 93 °F danger from 90 °F cool it",
        "Worms in danger since 05:55.",
        "Shade it; lay bottles of ice on top.",
    ]
    assert "<title>(2) Tern Hollow allotments</title>" in text
    assert sheet(near, "p1", "head")[1] == "fire danger, holding, 3 days old"
    assert sheet(near, "p1", "needs")[:3] == ["urgent", fire, "Smoke or a burnt smell? Call the fire service."]
    assert sheet(near, "p1", "needs")[4:] == ["I'll see to it", "Put off …", "for 2 h"]
    near.send("/do/answer", alarm="p1/fire", answer="seen", by="Ann")
    assert sheet(near, "p1", "needs")[4:] == [
        "Ann is on it.",
        "Not me after all",
        "Put off …",
        "for 2 h",
    ]
    near.send("/do/answer", alarm="p1/fire", answer="put off", until="2h", by="Bo")
    assert sheet(near, "p1", "needs")[4:] == ["Put off until 10:20 by Bo.", "Open it again", "Put off …", "for 2 h"]
    near.send("/do/answer", alarm="p1/fire", answer="taken up again", by="Bo")
    assert sheet(near, "p1", "needs")[4:] == ["I'll see to it", "Put off …", "for 2 h"]


def test_what_is_over_waits_to_be_seen_at_its_place_or_in_the_whole_yard(yard, near):
    yard.burn()
    for _ in range(16):
        yard.read(
            ("p1-a", 61.0, "Cel"), ("p1-b", 60.0, "Cel"), ("b1-t", 22.0, "Cel"), ("b1-m", 72.0, "%"), after_ms=HOUR_MS
        )
    over = "2 alarms ended before anyone replied"
    assert words_of(near.get("/").text, "over") == [
        over, "Bay 1: Fire danger", "Sunny wall bin: Worms in danger", "Clear these",
    ]  # fmt: skip
    one = "1 alarm ended before anyone replied"
    assert sheet(near, "p1", "over") == [one, "Fire danger", "Clear these"]
    assert sheet(near, "p1", "needs") == ["Nothing now."]
    assert {mark for _, mark, _ in glance(near)} == {"well"}
    answer = near.send("/do/seen", place="p1", back="/place/p1")
    assert "1 seen." in near.get(answer.headers["location"]).text
    assert sheet(near, "p1", "over") == []
    assert sheet(near, "b1", "over") == [one, "Worms in danger", "Clear these"]
    assert "0 seen." in near.get(near.send("/do/seen", place="p1").headers["location"]).text
    assert "1 seen." in near.get(near.send("/do/seen").headers["location"]).text
    assert words_of(near.get("/").text, "over") == []


def test_a_heap_that_went_cold_is_offered_its_turning_with_the_caution(yard, near):
    heat(yard, 49.0, 26)
    told = sheet(near, "p1", "needs")
    assert told[0].startswith("Gone cold before its rule was met, hottest 122 °F")
    assert told[1].startswith("Take all probes out first")
    assert told[2].startswith("Hot inside, and its steam scalds")
    assert told[3:] == ["Turning now", "I'll see to it", *LATER]
    assert sheet(near, "p1", "head")[1:4] == [
        "cooling, 4 days old",
        "inside: coldest 120.2 °F, hottest 122 °F",
        PROGRESS,
    ]
    assert near.get("/place/p1").text.count(">Turning now<") == 1, "offered where it is asked for, not twice"


def test_a_dry_or_wet_bin_says_so_beside_its_heat(yard, near):
    for percent, words, moist in (
        (45.0, "comfort, too dry", "45 % moisture"),
        (92.0, "comfort, too wet", "92 % moisture"),
    ):
        for _ in range(26):
            yard.read(("b1-t", 22.0, "Cel"), ("b1-m", percent, "%"), after_ms=HOUR_MS)
        assert sheet(near, "b1", "head") == ["Sunny wall bin", words, f"71.6 °F in the bedding, {moist}"]


def test_when_all_probes_are_silent_the_last_value_stays_with_its_age(yard, near):
    yard.read(("amb", 20.0, "Cel"), after_ms=9 * HOUR_MS)
    assert sheet(near, "p1", "head")[1:4] == [
        "holding, 3 days old", "136.4 °F at p1-b, 9 h 5 min ago, not known since", PROGRESS,
    ]  # fmt: skip
    unknown = "93.2 °F at b1-t, 9 h 5 min ago, not known since, 72 % at b1-m, 9 h 5 min ago, not known since"
    assert sheet(near, "b1", "head")[1:] == ["temperature unknown, moisture unknown", unknown]
    assert sheet(near, "p1", "probes")[0] == "p1-a 140 °F core, 24 in deep; 9 h 5 min ago, silent"
    (watched,) = words_of(near.get("/").text, "watched")
    assert watched == "1 place empty, 2 not known now."
    assert near.get("/").text.count("<em>measure it by hand</em>") >= 2
    needs = sheet(near, "p1", "needs")
    assert needs[:2] == [
        "No word from a probe since 07:55, last reading 140 °F (p1-a).",
        "Check its battery, cable and radio. Until it is back, measure the pile by hand.",
    ]
    assert needs[3:8] == ["Put off …", "until 18:00", "for 2 h", "until tomorrow 07:00", "for a week"]


def test_an_empty_bay_and_an_emptied_bin_say_what_to_log(yard, near):
    assert sheet(near, "p2", "head") == [
        "Bay 2",
        "empty",
        "By the log nothing lies here; log a heap as built when it is made.",
    ]
    near.send("/do/work", place="b1", kind="emptied", again="1")
    assert sheet(near, "b1", "head") == [
        "Sunny wall bin", "empty", "It was emptied; log bedding or food when worms live here again.",
    ]  # fmt: skip
    for _ in range(14):
        rest = (("p1-a", 60.0, "Cel"), ("p1-b", 60.0, "Cel"), ("b1-m", 72.0, "%"), ("amb", 12.0, "Cel"))
        yard.read(("b1-t", 31.0, "Cel"), *rest, after_ms=HOUR_MS)
    warm = "Empty by the log, but b1-t reads 88 °F: log what was put in (bedded, fed), or the probe as taken out."
    assert sheet(near, "b1", "head") == ["Sunny wall bin", "empty by the log", warm]
    assert glance(near)[-1] == ("b1", "watch", "not as it should be")
    assert "Nobody knows how Sunny wall bin is now" in near.get("/").text


def test_what_was_fed_is_said_with_its_age(yard, near):
    near.send("/do/work", place="b1", kind="fed", amount="2", measure="lb", by="Ann")
    yard.clock += 3 * HOUR_MS
    assert sheet(near, "b1", "head")[2].endswith(", fed 3 h ago")
    assert sheet(near, "b1", "log") == ["Log", "08:00 fed 2 lb, Ann"]


def test_two_probes_of_a_bin_are_told_from_the_coldest_to_the_hottest_and_the_wettest(tmp_path, monkeypatch):
    import page_yard_for_tests

    more = '[probes.b1-u]\nplace = "b1"\nrole = "bedding"\n'
    more += more.replace("-u", "-n") + 'quantity = "moisture"\n'
    monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML + more)
    yard = page_yard_for_tests.TestYard(tmp_path)
    near = browser(page_of(yard)[0])
    assert sheet(near, "b1", "probes")[2] == "b1-n – moisture; never heard"
    yard.read(("b1-t", 24.0, "Cel"), ("b1-u", 21.0, "Cel"), ("b1-m", 72.0, "%"), ("b1-n", 76.0, "%"), after_ms=HOUR_MS)
    assert sheet(near, "b1", "head")[2] == "69.8 °F to 75.2 °F in the bedding, 76 % moisture"
    assert re.findall(r'<h2 id="probes">', near.get("/place/b1").text)
    yard.close()


def note(yard, number, *, at=None, by="Ann"):
    payload = {
        "time": yard.clock if at is None else at,
        "place": "p1",
        "kind": "note",
        "note": f"note {number}",
        "by": by,
    }
    yard.put(EventKind.WORK, payload, again=True)


def test_the_log_shows_thirty_entries_of_ninety_days_twelve_of_them_unfolded(yard, near):
    now = yard.clock
    note(yard, "too old", at=now - 90 * DAY_MS - MINUTE_MS)
    note(yard, "old", at=now - 89 * DAY_MS)
    assert sheet(near, "p1", "log") == ["Log", "22 Apr 08:00 note old, Ann"]
    for number in range(12):
        note(yard, number, at=now - number * HOUR_MS)
    assert sheet(near, "p1", "log")[-2:] == ["1 older", "22 Apr 08:00 note old, Ann"]
    assert sheet(near, "p1", "log")[1] == "08:00 note 0, Ann"
    for number in range(12, 32):
        note(yard, number, at=now - number * HOUR_MS)
    told = sheet(near, "p1", "log")
    assert (len(told), told[13], told[-1]) == (32, "18 older", "yesterday 03:00 note 29, Ann")


def test_probes_of_one_tap_share_a_line_and_other_work_does_not(yard, near):
    at = yard.clock
    for probe, by, more in (("p1-b", "Ann", ""), ("p1-a", "Ann", ""), ("p1-a", "Bo", ""), ("p1-b", "Ann", "wet")):
        payload = {"time": at, "place": "p1", "kind": "probe out", "probe": probe, "by": by, "note": more}
        yard.put(EventKind.WORK, payload, again=True)
    told = sheet(near, "p1", "log")[1:]
    assert sorted(told) == [
        "08:00 p1-a taken out, Bo", "08:00 p1-a, p1-b taken out, Ann", "08:00 p1-b taken out (wet), Ann",
    ]  # fmt: skip


def test_two_waterings_of_one_minute_stand_apart_in_the_log(yard, near):
    for amount in ("20", "30"):
        payload = {
            "time": yard.clock,
            "place": "p1",
            "kind": "watered",
            "amount": amount,
            "measure": "gal",
            "by": "Ann",
        }
        at = yard.clock
        yard.put(EventKind.WORK, payload, again=True)
        yard.clock = at
    assert sorted(sheet(near, "p1", "log")[1:]) == ["08:00 watered 20 gal, Ann", "08:00 watered 30 gal, Ann"]


def test_a_well_heap_whose_turning_was_put_off_is_watched(yard, near):
    heat(yard, 60.0, 26)
    assert yard.alarms["p1/turning-due"].state is AlarmState.UNACKNOWLEDGED
    near.send("/do/answer", alarm="p1/turning-due", answer="put off", until="week", by="Ann")
    assert [one for one in glance(near) if one[0] == "p1"] == [("p1", "watch", "put off until 28 Jul 10:00")]
    assert "1 put off" in near.get("/").text


def test_a_reading_by_hand_stands_in_the_log_with_all_that_was_said(yard, near):
    form = {"value_2": "141", "by": "Ann", "note": "steam", "with": "long dial", "again": "1"}
    near.send("/do/reading", place="p2", **form)
    near.send("/do/reading", place="b1", value="84.5", by="Bo")
    assert sheet(near, "p2", "log") == ["Log", "08:00 141 °F by hand at middle (with long dial; steam), Ann"]
    assert sheet(near, "b1", "log") == ["Log", "08:00 84.5 °F by hand, Bo"]


def test_a_probe_of_moisture_that_lies_outside_says_nothing_of_the_turning(tmp_path, monkeypatch):
    import page_yard_for_tests

    more = '[probes.p1-m]\nplace = "p1"\nrole = "core"\nquantity = "moisture"\nname = "' + "m" * 30 + '"\n'
    monkeypatch.setattr(page_yard_for_tests, "TOML", page_yard_for_tests.TOML + more)
    yard = page_yard_for_tests.TestYard(tmp_path)
    near = browser(page_of(yard)[0])
    near.send("/do/work", place="p1", kind="turned")
    for probe in ("p1-a", "p1-b"):
        near.send("/do/work", place="p1", kind="probe in", probe=probe, again="1")
    near.send("/do/work", place="p1", kind="probe out", probe="p1-m", again="1")
    told = sheet(near, "p1", "head")
    assert "Getting warm again since the turning 08:00" in told
    (name,) = [one.split(" ")[0] for one in sheet(near, "p1", "probes") if one.startswith("mm")]
    assert len(name) == 24, "cut to what a line holds"
    assert sheet(near, "p1", "needs")[0] == "A probe has been outside since 08:00."
    yard.close()


def test_before_anything_was_seen_a_sheet_bears_the_programs_name(yard):
    near = browser(page_of(yard)[0])
    assert '<p class="book"><a href="/">Heaptender</a></p>' in near.get("/nothing").text
    near.get("/")
    assert '<p class="book"><a href="/">Tern Hollow allotments</a></p>' in near.get("/nothing").text

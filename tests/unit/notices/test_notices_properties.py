"""What must hold of the desk whatever happens: nothing lost, nothing twice, nothing urgent late, no storm."""

import itertools
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from monitor.model.events import Answer
from monitor.model.settings import Contact, DutyWindow, NoticePolicy
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, SECOND_MS, parse_time
from monitor.model.words import Priority
from monitor.notices import Cause, DeskState, NoticeDesk
from monitor.notices.roster import Roster
from tests.worlds.notice_cases import yard

START = parse_time("2026-03-07T20:00:00Z")  # the evening before clocks go forward in New York
STATE = TypeAdapter(DeskState)
KEYS = ["p1/fire/p1-a", "p1/too-hot/p1-a", "p1/hot", "p2/silent/x", "b1/too-wet", "b1/worms-in-danger", "/link/shed"]
RANK = {
    "fire": Priority.HIGHEST,
    "worms-in-danger": Priority.HIGHEST,
    "too-hot": Priority.HIGH,
    "hot": Priority.MEDIUM,
    "silent": Priority.MEDIUM,
    "too-wet": Priority.MEDIUM,
    "link": Priority.LOW,
}

minutes = st.integers(0, 95).map(lambda quarter: quarter * 15)
duties = st.lists(
    st.builds(
        DutyWindow,
        days=st.lists(st.integers(1, 7), min_size=1, unique=True).map(tuple),
        start_minute=minutes,
        end_minute=minutes,
    ),
    max_size=2,
).map(tuple)
people = st.builds(
    Contact,
    name=st.just("One"),
    places=st.sampled_from([(), ("p1",), ("b1", "p2")]),
    order=st.integers(1, 3),
    duty=duties,
    quiet_start_minute=minutes,
    quiet_end_minute=minutes,
    digest=st.booleans(),
)
yards = st.dictionaries(st.sampled_from(["ann", "ben", "cleo", "dan"]), people, max_size=4)
steps = st.lists(
    st.tuples(
        st.one_of(st.integers(1, 90 * SECOND_MS), st.integers(1, 40 * HOUR_MS)),
        st.sampled_from(["cause", "cause", "cause", "once", "over", "seen", "put off", "taken up again", "serve"]),
        st.sampled_from(KEYS),
    ),
    max_size=25,
)


@dataclass
class Play:
    """Drives a desk as the engine does, and remembers what it said."""

    contacts: dict
    restart: bool = False
    poke: bool = False
    at: int = START
    said: list = field(default_factory=list)
    owed: dict = field(default_factory=dict)  # key -> instant from which somebody must be told
    told_new: set = field(default_factory=set)
    put_off: dict = field(default_factory=dict)

    def __post_init__(self):
        self.settings = yard(contacts=self.contacts, notices=NoticePolicy())
        self.roster = Roster(self.settings)
        self.desk = NoticeDesk(DeskState(), self.settings)
        self.desk.begin(self.at)

    def note(self, drafts):
        for draft in drafts:
            self.said.append((self.at, draft))
            for key in draft.values["keys"]:
                if draft.reason == "came on" and draft.axis == "new" and "one time" not in draft.text:
                    assert (key, draft.after) not in self.told_new
                    self.told_new.add((key, draft.after))
                if draft.reason != "over":
                    self.owed.pop(key, None)
        return drafts

    def renew(self):
        if self.restart:
            plain = STATE.dump_json(self.desk.state)
            self.desk = NoticeDesk(STATE.validate_json(plain), self.settings)
            assert STATE.dump_json(self.desk.state) == plain

    def advance(self, to):
        while (due := self.desk.due()) is not None and due <= to:
            assert due >= self.at
            if self.poke and due - 1 > self.at:
                self.at = due - 1
                assert self.desk.serve(due - 1) == []
            self.at = due
            self.note(self.desk.serve(due))
            self.renew()
            assert self.desk.due() is None or self.desk.due() > due
        self.at = to

    def step(self, wait, what, key):
        self.advance(self.at + wait)
        alarm = key.split("/")[1]
        if what in ("cause", "once"):
            self.tell(key, alarm, once=what == "once")
        elif what == "over":
            self.note(self.desk.over(self.at, key))
            self.owed.pop(key, None)
            self.told_new = {pair for pair in self.told_new if pair[0] != key}
        elif what in ("seen", "put off"):
            answer = Answer(what)
            self.desk.answered(self.at, key, answer, self.at + HOUR_MS if what == "put off" else None, "Ann")
            if key in self.desk.state.tellings:
                self.owed.pop(key, None)
        elif what == "taken up again":
            self.note(self.desk.answered(self.at, key, Answer.TAKEN_UP))
        self.renew()

    def tell(self, key, alarm, *, once):
        known = self.desk.state.tellings.get(key)
        fresh = known is None or not known.standing
        cause = Cause(
            key=key,
            place=key.split("/")[0],
            alarm=alarm,
            priority=RANK[alarm],
            since=self.at,
            text="one time" if once else "full",
            short="one time short" if once else "short",
            one_time=once,
        )
        if fresh and not once:
            self.told_new = {pair for pair in self.told_new if pair[0] != key}
        if fresh or once:
            self.owed[key] = self.at
        drafts = self.note(self.desk.cause(self.at, cause))
        if RANK[alarm] is Priority.HIGHEST and (fresh or once):
            first = self.roster.first(cause.place, self.at)
            assert [one.after for one in drafts] == first
            assert all(one.values["priority"] == "highest" and one.axis == "new" for one in drafts)


def played(contacts, plan, **how):
    play = Play(contacts, **how)
    for wait, what, key in plan:
        play.step(wait, what, key)
    play.advance(play.at + 4 * DAY_MS)
    return play


@settings(max_examples=150, deadline=None)
@given(yards, steps)
def test_nothing_is_lost_and_nothing_is_new_twice(contacts, plan):
    play = played(contacts, plan)
    assert play.owed == {}


@settings(max_examples=150, deadline=None)
@given(yards, steps)
def test_no_storm_and_no_waking(contacts, plan):
    play = played(contacts, plan)
    gather = NoticePolicy().gather_ms
    last = {}
    for at, draft in play.said:
        priority, who = draft.values["priority"], draft.after
        if draft.axis == "digest":
            assert play.roster.quiet_until(who, at) is None
            continue
        if priority == "highest":
            assert len(draft.values["keys"]) == 1
            continue
        assert at - last.get(who, 0) >= gather
        last[who] = at
        if priority == "medium" or (priority == "low" and draft.reason not in ("over", "gathered")):
            assert play.roster.quiet_until(who, at) is None
        assert who in play.roster.contacts


@settings(max_examples=100, deadline=None)
@given(yards, steps)
def test_nobody_off_duty_is_called_unless_nobody_is_on_duty(contacts, plan):
    # Without quiet hours nothing waits long enough to outlast a duty, so the rule has no exception but two.
    awake = {
        key: Contact(**{**_fields(one), "quiet_start_minute": 0, "quiet_end_minute": 0})
        for key, one in contacts.items()
    }
    play = played(awake, plan)
    for at, draft in play.said:
        if draft.axis in ("digest", "group") or draft.reason == "over" or draft.values["priority"] == "highest":
            continue
        waited = [at, at - MINUTE_MS]  # gathered for up to a minute
        assert any(play.roster.answers_for(draft.after, draft.place, moment) for moment in waited)


@settings(max_examples=100, deadline=None)
@given(yards, steps)
def test_a_restart_or_a_look_in_between_changes_nothing(contacts, plan):
    plain = played(contacts, plan).said
    assert played(contacts, plan, restart=True).said == plain
    assert played(contacts, plan, poke=True).said == plain


@settings(max_examples=50, deadline=None)
@given(
    st.sampled_from(["America/New_York", "Europe/Berlin", "Australia/Lord_Howe", "Pacific/Apia"]),
    minutes,
    st.integers(0, 365 * 24),
)
def test_one_digest_a_local_date_whatever_the_clock_does(zone, minute, hour):
    from dataclasses import replace

    base = yard(contacts={"ann": Contact(name="Ann", quiet_start_minute=0, quiet_end_minute=0)})
    told = replace(base, site=replace(base.site, time_zone=zone), notices=NoticePolicy(digest_minute=minute))
    desk = NoticeDesk(DeskState(), told)
    at = parse_time("2026-01-01T00:00:00Z") + hour * HOUR_MS
    desk.begin(at)
    seen = []
    for _ in range(10):
        at = desk.due()
        seen += [(at, draft.axis) for draft in desk.serve(at)]
        desk.begin(at)
    assert [axis for _, axis in seen] == ["digest"] * 10
    assert all(22 * HOUR_MS < late - early < 26 * HOUR_MS for (early, _), (late, _) in itertools.pairwise(seen))


def test_a_digest_in_the_repeated_or_missing_hour_goes_once():
    for start, minute, expected in (
        ("2026-10-31T12:00:00Z", 90, ["2026-11-01T05:30:00Z", "2026-11-02T06:30:00Z"]),
        ("2026-03-07T12:00:00Z", 150, ["2026-03-08T07:30:00Z", "2026-03-09T06:30:00Z"]),
    ):
        contacts = {"ann": Contact(name="Ann", quiet_start_minute=0, quiet_end_minute=0)}
        desk = NoticeDesk(DeskState(), yard(contacts=contacts, notices=NoticePolicy(digest_minute=minute)))
        desk.begin(parse_time(start))
        for instant in expected:
            assert desk.due() == parse_time(instant)
            assert len(desk.serve(desk.due())) == 1


def _fields(contact):
    return {name: getattr(contact, name) for name in Contact.__slots__}

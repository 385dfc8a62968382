"""Rows to channels: at least once, by urgency, one channel never waiting for another."""

import threading
from pathlib import Path

import pytest
from outbox_fakes import MINUTE, REFUSED, START, Box, Row, Rows

from monitor.model.notice_rows import NoticeRow
from monitor.outbox import Deliverer, Letter, PageChannel, letter, retry_at


class Yard:
    """A deliverer with its rows, its callbacks noted, and a way to wait for results without sleeping."""

    def __init__(self, rows: Rows, down: tuple[str, ...] = (), **channels: object) -> None:
        self.rows = rows
        self.links: list[tuple[str, bool, str]] = []
        self.lost: list[tuple[int, str]] = []
        self.back = threading.Semaphore(0)
        self.now = START
        self.deliverer = Deliverer(
            channels,  # type: ignore[arg-type]
            self.compose,
            link_changed=lambda channel, up, why: self.links.append((channel, up, why)),
            given_up=lambda row, why: self.lost.append((row.id, why)),
            wake=self.back.release,
            down=down,
        )

    def compose(self, row: NoticeRow) -> Letter:
        return letter(row, site="Tern Hollow", place="Sunny wall bin", link=f"http://x/{row.notice}", head="ab12")

    def step(self, results: int = 0) -> int:
        """Wait for so many results, then step."""
        for _ in range(results):
            assert self.back.acquire(timeout=20)
        return self.deliverer.step(self.rows, self.now, self.rows.transaction)


def test_a_row_goes_out_and_is_done() -> None:
    mail = Box()
    yard = Yard(Rows(Row(1)), mail=mail)
    assert yard.step() == 1
    assert yard.rows.states() == {1: "handed"}
    assert yard.step(results=1) == 0
    assert yard.rows.states() == {1: "delivered"}
    assert [sent.row for sent in mail.sent] == [1]
    assert (yard.links, yard.lost, yard.deliverer.waiting()) == ([], [], 0)


def test_the_row_is_begun_before_the_letter_is_handed_over() -> None:
    mail = Box()
    yard = Yard(Rows(Row(1)), mail=mail)
    yard.rows.broken = True
    with pytest.raises(OSError, match="disk full"):
        yard.step()
    assert yard.deliverer.waiting() == 0
    yard.deliverer.close()
    assert mail.tried == 0
    yard.rows.broken = False
    assert yard.step() == 1


def test_a_result_is_not_lost_when_the_disk_is_full() -> None:
    yard = Yard(Rows(Row(1)), mail=Box())
    yard.step()
    assert yard.back.acquire(timeout=20)
    yard.rows.broken = True
    with pytest.raises(OSError, match="disk full"):
        yard.step()
    assert yard.rows.states() == {1: "handed"}
    yard.rows.broken = False
    yard.step()
    assert yard.rows.states() == {1: "delivered"}


def test_a_slow_channel_delays_no_other() -> None:
    slow, fast = Box(), Box()
    slow.gate.clear()
    rows = Rows(*(Row(number, channel="slow", priority=4) for number in range(300)), Row(900, channel="fast"))
    yard = Yard(rows, slow=slow, fast=fast)
    yard.step()
    yard.step(results=1)
    assert rows.kept[900].state == "delivered"
    assert sum(state == "handed" for state in rows.states().values()) == 20
    slow.gate.set()
    yard.deliverer.close()


def test_the_most_urgent_goes_first_then_the_oldest() -> None:
    mail = Box()
    mail.gate.clear()
    rows = Rows(Row(1, priority=1), Row(2, priority=4, at=START + 5), Row(3, priority=4, at=START + 1), Row(4))
    yard = Yard(rows, mail=mail)
    yard.step()
    mail.gate.set()
    yard.step(results=4)
    assert [sent.row for sent in mail.sent] == [3, 2, 4, 1]


def test_refused_rows_go_again_after_a_growing_pause() -> None:
    mail = Box(fault=REFUSED)
    yard = Yard(Rows(Row(1)), mail=mail)
    waits = []
    for _ in range(8):
        yard.step()
        yard.step(results=1)
        row = yard.rows.kept[1]
        assert (row.state, row.why) == ("waiting", "refused")
        waits.append((row.next_try - yard.now) // MINUTE)
        yard.now = row.next_try
    assert waits == [1, 2, 4, 8, 16, 32, 60, 60]
    mail.fault = None
    yard.step()
    yard.step(results=1)
    assert yard.rows.states() == {1: "delivered"}


def test_after_three_days_a_row_is_given_up_and_told() -> None:
    yard = Yard(Rows(Row(1)), mail=Box(fault=REFUSED))
    tries = 0
    while yard.rows.kept[1].state == "waiting":
        yard.step()
        yard.step(results=1)
        tries += 1
        yard.now = max(yard.now, yard.rows.kept[1].next_try)
    assert yard.rows.states() == {1: "failed"}
    assert yard.lost == [(1, "refused")]
    assert 70 < tries < 80
    assert yard.now - START <= 3 * 24 * 60 * MINUTE


def test_an_old_row_still_gets_its_tries() -> None:
    assert retry_at(START + 10**10, START, 1) is not None
    assert retry_at(START + 10**10, START, 24) is None
    assert retry_at(START, START, 10_000) == START + 60 * MINUTE


def test_down_and_up_are_told_once_each() -> None:
    mail = Box(fault=REFUSED)
    rows = Rows(*(Row(number) for number in range(5)))
    yard = Yard(rows, mail=mail)
    yard.step()
    yard.step(results=5)
    assert yard.links == [("mail", False, "refused")]
    yard.now += MINUTE
    mail.gate.clear()
    assert yard.step() == 1  # while it is down, one letter at a time feels its way
    mail.fault = None
    mail.gate.set()
    assert yard.step(results=1) == 4
    yard.step(results=4)
    assert set(rows.states().values()) == {"delivered"}
    assert yard.links == [("mail", False, "refused"), ("mail", True, "")]


def test_one_refusal_is_not_yet_down() -> None:
    mail = Box(fault=REFUSED)
    yard = Yard(Rows(Row(1)), mail=mail)
    yard.step()
    yard.step(results=1)
    assert yard.links == []


def test_coming_up_after_a_restart_is_told() -> None:
    yard = Yard(Rows(Row(1)), ("mail",), mail=Box())
    yard.step()
    yard.step(results=1)
    assert yard.links == [("mail", True, "")]


def test_what_was_half_handed_over_goes_again_and_says_so() -> None:
    hung = Box()
    hung.gate.clear()
    rows = Rows(Row(1))
    first = Yard(rows, mail=hung)
    first.step()
    assert rows.states() == {1: "handed"}  # here the program dies
    rows.restart()
    mail = Box()
    second = Yard(rows, mail=mail)
    second.step()
    second.step(results=1)
    assert rows.states() == {1: "delivered"}
    assert "may be a repeat" in mail.sent[0].title
    assert "may be a repeat" in mail.sent[0].body
    hung.gate.set()


def test_a_letter_without_an_answer_says_that_it_may_be_a_repeat() -> None:
    mail = Box(fault=TimeoutError())
    yard = Yard(Rows(Row(1)), mail=mail)
    yard.step()
    yard.step(results=1)
    assert yard.rows.kept[1].why == "no answer in time"
    mail.fault = None
    yard.now += MINUTE
    yard.step()
    yard.step(results=1)
    assert "may be a repeat" in mail.sent[0].body


def test_once_a_letter_may_have_arrived_every_later_one_says_so() -> None:
    mail = Box(fault=TimeoutError())
    yard = Yard(Rows(Row(1)), mail=mail)
    yard.step()
    yard.step(results=1)
    mail.fault = REFUSED
    yard.now += MINUTE
    yard.step()
    yard.step(results=1)
    assert yard.rows.kept[1].why == "refused"
    mail.fault = None
    yard.now += 2 * MINUTE
    yard.step()
    yard.step(results=1)
    assert "may be a repeat" in mail.sent[0].title


def test_a_strangers_fault_is_told_by_its_kind_only() -> None:
    yard = Yard(Rows(Row(1)), mail=Box(fault=ValueError("https://host/hunter2")))
    yard.step()
    yard.step(results=1)
    assert yard.rows.kept[1].why == "the channel failed (ValueError)"


def test_the_page_needs_no_thread_and_no_waiting() -> None:
    rows = Rows(Row(1, channel="page"))
    yard = Yard(rows, page=PageChannel())
    assert yard.step() == 0
    assert rows.states() == {1: "delivered"}


def test_a_channel_that_is_gone_fails_for_good() -> None:
    yard = Yard(Rows(Row(1, channel="pager")), page=PageChannel())
    yard.step()
    assert yard.rows.states() == {1: "failed"}
    assert yard.lost == [(1, 'the channel "pager" is no longer configured')]


def test_a_row_that_somebody_took_is_not_sent() -> None:
    mail = Box()
    rows = Rows(Row(1))
    rows.begin = lambda row: False  # type: ignore[method-assign]
    yard = Yard(rows, mail=mail)
    assert yard.step() == 0


def test_the_journals_rows_serve(tmp_path: Path) -> None:
    from contextlib import contextmanager

    from monitor.journal.outbox_rows import Dispatch
    from monitor.journal.schema import connect
    from monitor.model.effects import Draft, Effect, EffectKind
    from monitor.model.notice_rows import Delivery

    connection = connect(tmp_path)
    rows = Dispatch(connection, tmp_path)

    @contextmanager
    def transaction():
        connection.execute("BEGIN IMMEDIATE")
        yield
        connection.execute("COMMIT")

    with transaction():
        draft = Draft(
            place="b1",
            kind=EffectKind.NOTICE,
            axis="new",
            before=None,
            after="anna",
            why="",
            since=START,
            reason="new",
            values={"channels": ["mail", "page"], "priority": "high"},
            text="Sunny wall bin: overheating.",
        )
        rows.enter([Effect(at=START, ordinal=1, draft=draft)])
    mail = Box()
    yard = Yard(Rows(), mail=mail, page=PageChannel())
    assert yard.deliverer.step(rows, START, transaction) == 1
    assert yard.back.acquire(timeout=20)
    assert yard.deliverer.step(rows, START, transaction) == 0
    assert [row.state for row in rows.rows()] == [Delivery.DELIVERED] * 2
    assert mail.sent[0].title.startswith("Sunny wall bin: overheating [")
    connection.close()

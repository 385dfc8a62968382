"""The sentences of faults of the watch itself: first the fault, then what to do. `texts` has the rules."""

from monitor.model.alarm_kinds import Alarm
from monitor.notices.facts import Phrases
from monitor.notices.sentences import Sentence, Words, always


def _fault(what: str) -> Sentence:
    def write(say: Phrases) -> str:
        why = f" ({say.reason})" if say.reason else ""
        return f"{say.place}: {what} {say.since}{why}"

    return write


def _disk(_: Phrases) -> str:
    return "Make room on the disk now. Until then readings wait unstored and no alarm is certain: look at the yard yourself."


def _record(_: Phrases) -> str:
    return (
        "Copy the data folder away as it is, then put the newest backup back (heaptender restore BACKUP). "
        "Until then trust no certificate."
    )


def _backup(_: Phrases) -> str:
    return "Check the backup's folder and disk; the record itself goes on, with no fresh copy."


def _filling(_: Phrases) -> str:
    return "Make room on the disk before it is full, or have old readings dropped ([retention] in the configuration)."


def _page(_: Phrases) -> str:
    return "Free its port or give it another (page.port); messages go on without it."


def _flood(_: Phrases) -> str:
    return "Look for the node that sends them, or shut it out at the broker; until then readings may come late."


FAULT_WORDS: dict[str, Words] = {
    Alarm.DISK: Words(
        head=_fault("nothing has been stored"),
        advice=_disk,
        act=always("Make room on the disk now."),
        deed=always("make room"),
    ),
    Alarm.RECORD: Words(
        head=_fault("the record is damaged, known"),
        advice=_record,
        act=always("Copy the folder away, restore the newest backup."),
        deed=always("mend the record"),
    ),
    Alarm.BACKUP: Words(
        head=_fault("the backup has been failing"),
        advice=_backup,
        act=always("Check the backup's folder and disk."),
        deed=always("mend the backup"),
    ),
    Alarm.FILLING: Words(
        head=_fault("the disk has been filling up"),
        advice=_filling,
        act=always("Make room on the disk this week."),
        deed=always("make room"),
    ),
    Alarm.FLOOD: Words(
        head=_fault("messages have been flooding in"),
        advice=_flood,
        act=always("Look for the node that floods the broker."),
        deed=always("stop the flood"),
    ),
    Alarm.PAGE: Words(
        head=_fault("the page has been away"),
        advice=_page,
        act=always("Free its port or change page.port."),
        deed=always("free the port"),
    ),
}

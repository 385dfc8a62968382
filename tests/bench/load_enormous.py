"""One enormous message, over both versions of MQTT; then messages just short enough to be read, full of unknown names."""

from tests.bench.load_flood import flood
from tests.bench.load_watch import loaded, outcome, report
from tests.bench.load_wire import CRAMMED, sending


def main() -> None:
    for version in ("5", "3.1.1"):
        print(f"one message of 200 MB, MQTT {version}:")
        with loaded(version=version) as one:
            before = one.counted()
            with one.watched() as seen:
                said = outcome(sending(one.port, "enormous", 1, 1, 1))
                one.settled(one.spoken + sum(before) + 240)
            report(one, seen, int(said["sent"]), before)
    print("300 messages of 64 KB, each full of unknown names, 200 a second, QoS 1:")
    flood("crammed", 1, 200, 1.5, CRAMMED + 1)

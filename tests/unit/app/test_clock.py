"""The daemon's clock across jumps, set-backs and confirmation."""

from monitor.app.loop.clock import AGREE_MS, JUMP_MS, ClockNews, ScaledClock, YardClock

WALL = 1_800_000_000_000


class World:
    def __init__(self, synchronised=None):
        self.wall, self.mono, self.synchronised = WALL, 100.0, synchronised
        self.clock = YardClock(lambda: self.wall, lambda: self.mono, lambda: self.synchronised)

    def pass_s(self, seconds, wall_too=True):
        self.mono += seconds
        if wall_too:
            self.wall += int(seconds * 1000)
        return self.clock.look()


def test_it_follows_a_small_step_forward_and_waits_out_one_back():
    world = World(synchronised=True)
    world.wall += JUMP_MS
    assert world.pass_s(1) == []
    assert world.clock.now_ms() == WALL + JUMP_MS + 1000
    world.wall -= 60_000
    assert world.pass_s(1) == []
    assert world.clock.now_ms() == WALL + JUMP_MS + 1000, "never backward"
    world.pass_s(60)
    assert world.clock.now_ms() == world.wall


def test_a_jump_is_told_once_and_not_followed():
    world = World(synchronised=False)
    world.wall += JUMP_MS + 1
    assert world.pass_s(0) == [ClockNews("jumped", JUMP_MS + 1)]
    assert world.pass_s(1) == []
    assert world.clock.now_ms() == WALL + 1000
    assert not world.clock.confirmed


def test_a_jump_is_followed_after_ten_minutes_of_agreement_with_the_system():
    world = World(synchronised=False)
    world.wall += 3_600_000
    world.pass_s(1)
    world.synchronised = True
    world.pass_s(1)
    assert world.pass_s(AGREE_MS / 1000 - 1) == []
    assert world.pass_s(1) == [ClockNews("confirmed", 3_600_000, 3_600_000)]
    assert world.clock.now_ms() == world.wall


def test_a_jump_is_followed_after_ten_minutes_of_agreement_with_probes():
    world = World()
    world.wall += 3_600_000
    world.pass_s(1)
    for _ in range(11):
        world.clock.probe_says(world.wall)
        news = world.pass_s(60)
    assert news == [ClockNews("confirmed", 3_600_000, 3_600_000)]


def test_probes_that_disagree_do_not_confirm():
    world = World()
    world.wall += 3_600_000
    world.pass_s(1)
    for _ in range(30):
        world.clock.probe_says(world.wall - 3_600_000)
        assert world.pass_s(60) == []


def test_a_jump_that_comes_back_is_over():
    world = World(synchronised=True)
    world.wall += 3_600_000
    world.pass_s(1)
    world.wall -= 3_600_000
    assert world.pass_s(1) == [ClockNews("confirmed", 0)]


def test_unconfirmed_at_boot_without_a_synchronised_system():
    assert not World(synchronised=None).clock.confirmed
    assert World(synchronised=True).clock.confirmed


def test_a_scaled_clock_runs_faster():
    mono = [5.0]
    clock = ScaledClock(WALL, 60, lambda: mono[0])
    mono[0] += 2
    assert clock.now_ms() == WALL + 120_000
    assert clock.seconds_until(WALL + 180_000) == 1.0


def test_a_scaled_clock_that_is_held_stands_still_and_makes_nothing_up():
    mono = [5.0]
    clock = ScaledClock(WALL, 60, lambda: mono[0])
    clock.hold_at(WALL + 60_000)
    mono[0] += 100
    assert clock.now_ms() == WALL + 60_000
    assert clock.seconds_until(WALL + 60_001) >= 0.01, "whoever waits for it asks with pauses"
    clock.hold_at(WALL + 600_000)
    assert clock.now_ms() == WALL + 60_000
    mono[0] += 1
    assert clock.now_ms() == WALL + 120_000
    clock.go_on(120)
    mono[0] += 100
    assert clock.now_ms() == WALL + 600_000

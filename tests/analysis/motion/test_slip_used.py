"""What of a slip could not be used is told, by hand-made slips."""

from passband.analysis.given.car import Slip
from passband.analysis.motion.slip_used import tell_slips_left_over, tell_unused_slip

SLIP = Slip(t60_s=1.5, t1320_s=10.0, v1320="140 mph")


def test_a_slip_within_the_logs_is_not_spoken_of():
    assert tell_unused_slip(SLIP, end_s=10.4) == [] and tell_unused_slip(None, end_s=None) == []


def test_a_slip_without_ground_speed_or_past_the_logs_end_is_told():
    assert "no log shows" in tell_unused_slip(SLIP, end_s=None)[0].text
    (found,) = tell_unused_slip(SLIP, end_s=1.2)
    assert found.code == "slip-not-used" and "60 ft at 1.500 s, lies past the end of the logs, 1.20 s" in found.text


def test_a_speed_without_its_time_is_told():
    (found,) = tell_unused_slip(Slip(v1320="140 mph"), end_s=10.0)
    assert (found.code, found.level) == ("slip-speed-without-time", "caution")


def test_slips_beyond_the_runs_are_told():
    assert tell_slips_left_over([SLIP], 1) == []
    assert "2 timing slips were given and the logs hold 1 run: the last one was not used" in (
        tell_slips_left_over([SLIP, SLIP], 1)[0].text
    )

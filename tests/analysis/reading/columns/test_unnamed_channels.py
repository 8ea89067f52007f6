"""Columns whose names tell nothing: taken where the gearing proves it, else asked about, never silent.

*Planted*: the hard run, its columns under names that mean nothing.
"""

import numpy as np
import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.columns.answers import answer_text
from tests.analysis.reading.hard_run import hard_run, printed, table, usual

RUN = hard_run()
TIME = {"Time [s]": printed(RUN.time_s, 3)}
SPEED = {"Ground Speed [km/h]": printed(RUN.ground_speed * 3.6, 2)}
TURNING = printed(RUN.engine_speed, 0)


def read(columns, **said):
    (log,) = read_log(table({**TIME, **columns}), name="x.csv", **said)
    return log


def without(start):
    return {name: cells for name, cells in usual(RUN).items() if not name.startswith(start)}


def codes(log):
    return [finding.code for finding in log.findings]


def test_a_nameless_column_that_follows_a_speed_in_steps_is_taken_for_engine_speed():
    log = read({"CH07": TURNING, **SPEED})
    speed = log.get("engine_speed")
    assert speed is not None and np.allclose(speed.values, RUN.engine_speed, atol=1.0)
    assert "engine-speed-assumed" in codes(log)


def test_a_nameless_column_without_a_speed_is_asked_about_and_the_answer_holds():
    log = read({"CH07": TURNING, **without("Engine")})
    (doubt,) = log.doubts
    assert log.get("engine_speed") is None and codes(log) == ["engine-speed-unclear"]
    assert doubt.column == "CH07" and "engine_speed" in doubt.channels
    said = {log.layout: {"CH07": answer_text("engine_speed", "rpm")}}
    assert read({"CH07": TURNING, **without("Engine")}, layouts=said).get("engine_speed") is not None


def test_a_shaft_with_one_ratio_to_the_road_is_not_taken_for_the_engine():
    shaft = printed(RUN.ground_speed / 2.1 * 60.0 * 4.1 + 10.0 * np.sin(9.0 * RUN.time_s), 0)
    log = read({"CH07": shaft, **SPEED, **without("Engine")})
    assert log.get("engine_speed") is None


@pytest.mark.parametrize(
    ("start", "header", "values", "code", "channels"),
    [
        ("Throttle", "Ana3", 100 * RUN.throttle, "throttle-unclear", {"throttle"}),
        ("Throttle", "Ana3 [%]", 100 * RUN.throttle, "throttle-unclear", {"throttle"}),
        ("MAP", "X12 [kPa]", RUN.manifold_pressure / 1e3, "manifold-pressure-unclear", {"manifold_pressure", "boost"}),
        ("MAP", "X12", (RUN.manifold_pressure - 101.3e3) / 6894.757, "manifold-pressure-unclear", {"boost"}),
    ],
)
def test_what_could_be_the_throttle_or_the_manifolds_pressure_is_asked(start, header, values, code, channels):
    log = read({header: printed(values, 1), **without(start)})
    assert codes(log) == [code]
    (doubt,) = log.doubts
    assert doubt.column == header and channels <= set(doubt.channels)


def test_nothing_is_asked_where_the_channel_is_named_or_the_values_cannot_be_it():
    assert read({"Ana3": printed(100 * RUN.throttle, 1), **usual(RUN)}).doubts == ()
    switch = printed(100.0 * (RUN.throttle > 0.5), 0)
    assert codes(read({"Ana3": switch, **without("Throttle")})) == ["names-not-known"]


def test_names_that_mean_nothing_are_told_in_one_note():
    others = {name: printed(RUN.coolant_temperature - 273.15, 1) for name in ("Nhiệt độ", "Joto la injini")}
    (told,) = read({**others, **usual(RUN)}).findings
    assert (told.code, told.level) == ("names-not-known", "note")
    assert all(name in told.text for name in others)


@pytest.mark.parametrize(
    ("header", "values", "channel", "truth"),
    [
        ("Lambda x1000", 1000 * RUN.lambda_, "lambda", RUN.lambda_),
        ("Coolant x10 [°C]", 10 * (RUN.coolant_temperature - 273.15), "coolant_temperature", RUN.coolant_temperature),
        ("RPM*0.25", 4 * RUN.engine_speed, "engine_speed", RUN.engine_speed),
    ],
)
def test_a_factor_in_a_name_is_taken_the_only_way_that_is_usual(header, values, channel, truth):
    log = read({header: printed(values, 1), **without("Engine")})
    found = log.get(channel)
    assert found is not None and np.allclose(found.values, truth, rtol=2e-3)
    assert "scale-in-name" in codes(log)


def test_a_factor_that_may_go_either_way_is_told_and_not_taken():
    log = read({"Coolant x10 [°C]": printed(RUN.coolant_temperature - 273.15, 1), **usual(RUN)})
    assert log.get("coolant_temperature") is None and codes(log) == ["scale-unclear"]


def test_a_few_whole_numbers_are_no_pressure():
    # Planted: a state of 0 to 4 under a name that tells nothing, without a manifold's pressure; as psi it would do
    states = np.clip(np.arange(RUN.time_s.size) * 5 // RUN.time_s.size, 0, 4).astype(float)
    log = read({**without("MAP"), "X12": printed(states, 0)})
    assert "manifold-pressure-unclear" not in codes(log)

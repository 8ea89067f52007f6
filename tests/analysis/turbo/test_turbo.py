"""A run on a compressor's map: maps planted from a formula, runs whose place on them is known by hand."""

import numpy as np
import pytest

from passband.analysis.channels.log import NotALog
from passband.analysis.results.findings import Finding
from passband.analysis.turbo.map import REGIONS, place_on_map, read_compressor_map
from passband.analysis.turbo.path import MapPath, RunAir, TurboGiven, follow_on_map

HEAD = (
    "Reference temperature,288.15 K\nReference pressure,100 kPa\n"
    "Speed (rpm),Flow (kg/s),Pressure ratio,Efficiency (%)\n"
)


def straight_map(head=HEAD):
    """Lines of equal ratio: at ratio r, surge at 0.1 r, choke at 0.2 r, efficiency 60 % at the ends, 70 % between."""
    rows = [
        f"{40_000 * ratio:.0f},{ratio * (0.1 + 0.1 * share):.4f},{ratio - 0.02 * share:.4f},"
        f"{60 + 40 * share * (1 - share):.2f}"
        for ratio in (1.5, 2.0, 2.5, 3.0)
        for share in np.linspace(0, 1, 5)
    ]
    return read_compressor_map((head + "\n".join(rows) + "\n").encode(), name="map.csv")


def air(seconds=2.0, **changed):
    time_s = np.arange(0.0, seconds, 0.01)
    same = np.ones(time_s.size)
    values = {
        "time_s": time_s, "distance_m": 30.0 * time_s, "gear": 3.0 * same, "engine_rpm": 6000.0 * same,
        "manifold_pa": 220e3 * same, "manifold_k": 320.0 * same, "throttle": same, "shifting": same < 0.0,
        "fuel_kgps": np.nan * same, "mixture": np.nan * same, "ambient_pa": 100e3, "ambient_k": 288.15,
        "displacement_m3": 0.003, "stoichiometric_afr": 14.7,
    }  # fmt: skip
    return RunAir(**values | changed)


def test_points_find_their_place():
    placed = place_on_map(
        straight_map(),
        np.array([0.30, 0.20, 0.05, 0.60, 0.20, 0.40, np.nan]),
        np.array([2.0, 1.2, 2.0, 2.0, 3.4, 2.99, 2.0]),
    )
    named = ["unknown" if one < 0 else REGIONS[one] for one in placed.region]
    assert named == [
        "on the map", "below the map", "past surge", "past choke", "above the map", "on the map", "unknown",
    ]  # fmt: skip
    assert placed.surge_margin[0] == pytest.approx(1 - 0.2 / 0.3, abs=0.01)
    assert placed.choke_margin[0] == pytest.approx(0.4 / 0.3 - 1, abs=0.02)
    assert placed.efficiency[0] == pytest.approx(0.70, abs=0.003)
    assert placed.speed_rpm[0] == pytest.approx(80_000, rel=0.01)
    assert np.isnan(placed.efficiency[2])


def test_a_point_of_the_map_is_itself():
    compressor = straight_map()
    for line in compressor.lines:
        placed = place_on_map(compressor, line.flow_kgps, line.pressure_ratio)
        inner = slice(1, -1)
        assert placed.efficiency[inner] == pytest.approx(line.efficiency[inner], abs=0.006)
        assert placed.speed_rpm[inner] == pytest.approx(np.full(3, line.speed_rpm), rel=1e-6)


def test_speed_and_density_by_hand():
    # 0.95 x 220 kPa / (287.05287 x 320) x 3 l x 50 fillings a second = 0.3413 kg/s, at the map's own air
    way = follow_on_map(straight_map(), air(), TurboGiven(volumetric_efficiency=0.95))
    assert isinstance(way, MapPath)
    assert way.flow_basis == "speed and density"
    assert way.flow_kgps == pytest.approx(
        np.full(way.flow_kgps.size, 0.95 * 220e3 / (287.05287 * 320) * 0.003 * 50), rel=1e-6
    )
    assert way.pressure_ratio == pytest.approx(np.full(way.flow_kgps.size, 2.2))
    assert sum(one.time_s for one in way.efficiency_time) == pytest.approx(2.0, abs=0.02)
    assert way.time_past_surge_s == way.time_off_s == 0.0
    assert way.surge is not None
    assert way.surge.gear == 3
    # one cause at a time: 0.05 of 0.95 in flow moves the margin of 1 - 0.22 / 0.341 by 0.645 x 0.0526 / 1.0526
    assert dict(way.surge.causes)["volumetric efficiency"] == pytest.approx(0.645 * 0.05 / 1.0, abs=0.003)


def test_two_compressors_share_and_losses_widen_the_ratio():
    one = follow_on_map(straight_map(), air(), TurboGiven(volumetric_efficiency=0.95))
    two = follow_on_map(
        straight_map(), air(),
        TurboGiven(compressors=2, volumetric_efficiency=0.95, inlet_loss_pa=2e3, charge_loss_pa=8e3),
    )  # fmt: skip
    assert isinstance(one, MapPath)
    assert isinstance(two, MapPath)
    assert two.pressure_ratio == pytest.approx(np.full(two.flow_kgps.size, 228 / 98))
    assert two.flow_kgps == pytest.approx(one.flow_kgps / 2 / 0.98)


def test_fuel_and_lambda_go_before_speed_and_density():
    same = np.ones(200)
    way = follow_on_map(straight_map(), air(fuel_kgps=0.025 * same, mixture=0.8 * same), TurboGiven())
    assert isinstance(way, MapPath)
    assert way.flow_basis == "fuel flow and lambda"
    assert way.flow_kgps == pytest.approx(0.025 * 0.8 * 14.7 * same)


def test_a_closed_plate_and_a_shift_are_left_out():
    throttle, shifting = np.ones(200), np.zeros(200, dtype=bool)
    throttle[:50], shifting[100:120] = 0.1, True
    way = follow_on_map(
        straight_map(), air(throttle=throttle, shifting=shifting), TurboGiven(volumetric_efficiency=0.9)
    )
    assert isinstance(way, MapPath)
    assert way.time_s.size == 130


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"manifold_pa": np.full(200, np.nan)}, "manifold pressure"),
        ({"displacement_m3": None}, "bore, stroke and cylinders"),
        ({"manifold_pa": np.full(200, 98e3)}, "nothing lies on the map"),
    ],
)
def test_what_is_missing_is_said(changed, said):
    way = follow_on_map(straight_map(), air(**changed), TurboGiven(volumetric_efficiency=0.9))
    assert isinstance(way, Finding)
    assert said in way.text


def test_no_efficiency_is_taken_that_nobody_stated():
    way = follow_on_map(straight_map(), air(), TurboGiven())
    assert isinstance(way, Finding)
    assert "volumetric efficiency, stated" in way.text


def test_a_map_without_its_conditions_says_what_was_taken():
    compressor = straight_map(HEAD.split("\n", 2)[2])
    assert compressor.reference_k == 298.0
    assert compressor.findings[0].code == "map-conditions-not-given"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("Speed (rpm),Flow (kg/s),Pressure ratio\n1,2,3\n4,5,6\n", "needs a column 'efficiency'"),
        (HEAD + "50000,0.1,1.5,70\n50000,0.15,1.4,72\n50000,0.2,1.3,60\n", "a map needs two"),
        (HEAD.replace("kg/s", "psi") + "50000,0.1,1.5,70\n50000,0.15,1.4,72\n", "which is none"),
        (
            HEAD.replace("288.15 K", "288.15") + "50000,0.1,1.5,70\n50000,0.15,1.4,72\n60000,0.2,1.3,60\n",
            "a map needs two",
        ),
    ],
)
def test_a_map_that_cannot_be_is_refused(text, said):
    with pytest.raises(NotALog, match=said):
        read_compressor_map(text.encode(), name="m.csv")

"""A bench's sheets: read in any form, refused in words, laid beside a run's power. Hand-made sheets, planted curves."""

import numpy as np
import pytest

from passband.analysis.bench.beside_track import lay_beside_track
from passband.analysis.bench.head import measure_head
from passband.analysis.bench.sheets import DynoCurve, read_dyno_curve, read_flow_sheet
from passband.analysis.channels.log import NotALog
from passband.analysis.results.findings import Finding
from passband.analysis.results.power import GearCurve, Power
from passband.analysis.results.unknown import Unknown

SHEET = """Port 3, second cut
Depression,{depression}
Valve diameter,50 mm

Lift (mm),Intake flow (cfm),Exhaust flow (cfm)
2,60,50
6,170,130
10,230,170
14,250,180
"""


def power_of(*curves):
    """A run's power that is known by its curves alone."""
    why = Unknown(Finding("power-by-slip-alone", "caution", "Known by its curves alone."))
    nothing = dict.fromkeys(
        ("average_w", "average_pulling_w", "average_over_distance_w", "average_wheel_w", "peak_w", "work_j",
         "corrected_average_w", "correction_factor", "correction_rule", "from_trap_speed_w", "balance_error",
         "mean_piston_speed_mps", "bmep_pa"),
        why,
    )  # fmt: skip
    return Power(**nothing, shares=(), curves=curves)


def test_flow_is_brought_to_one_depression():
    # Hand: four times the depression is twice the flow
    low, high = (
        measure_head(read_flow_sheet(SHEET.format(depression=one).encode(), name="a.csv"), bore_m=0.1, stroke_m=0.09)
        for one in ("7 inH2O", "28 inH2O")
    )
    assert low.rows[1].intake_m3ps == pytest.approx(2 * high.rows[1].intake_m3ps, rel=1e-3)
    assert high.rows[1].exhaust_over_intake == pytest.approx(130 / 170)
    assert high.rows[1].lift_over_diameter == pytest.approx(0.12)


def test_areas_and_the_port_s_speed_are_by_geometry():
    # Hand: curtain pi x 50 x 14 mm2 = 21.99 cm2, circle less a stem of 8 mm pi/4 (50^2 - 8^2) mm2 = 19.13 cm2; a stroke
    # of 90 mm at 1,000 rpm is 3 m/s, a bore of 100 mm (78.54 cm2) over a port of 12 cm2 6.545 times that: 19.63 m/s
    text = SHEET.format(depression="28 inH2O").replace("Valve diameter", "Stem,8 mm\nPort area,12 cm^2\nValve diameter")
    head = measure_head(read_flow_sheet(text.encode(), name="a"), bore_m=0.1, stroke_m=0.09)
    assert head.curtain_m2 == pytest.approx(21.99e-4, abs=6e-7)
    assert head.seat_m2 == pytest.approx(19.13e-4, abs=6e-7)
    assert head.port_speed_at_1000_rpm_mps == pytest.approx(19.63, abs=0.005)


def test_a_head_without_its_valve_has_flow_and_no_index():
    sheet = read_flow_sheet(
        SHEET.format(depression="28 inH2O").replace("Valve diameter,50 mm\n", "").encode(), name="a"
    )
    head = measure_head(sheet, bore_m=0.1, stroke_m=0.09)
    assert head.rpm_at_limit is None
    assert head.rows[0].curtain_coefficient is None
    assert head.rows[0].intake_m3ps == pytest.approx(60 * 0.3048**3 / 60, rel=1e-3)
    assert "valve's diameter" in head.findings[0].text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SHEET.format(depression="28"), "says no unit"),
        (SHEET.replace("Depression,{depression}\n", ""), "no depression"),
        (SHEET.replace(" (cfm)", "").format(depression="28 inH2O"), "says no unit"),
        (SHEET.replace("(cfm)", "(kPa)").format(depression="28 inH2O"), "which is none"),
        (SHEET.replace("Lift (mm)", "Angle (deg)").format(depression="28 inH2O"), "needs a column 'lift'"),
        (SHEET.format(depression="28 inH2O") + "Inlet valves,9\n", ""),
    ],
)
def test_a_sheet_that_says_too_little_is_refused_in_words(text, said):
    if not said:
        assert read_flow_sheet(text.encode(), name="s.csv").inlet_valves == 1  # what stands behind the rows is none
        return
    with pytest.raises(NotALog, match=said):
        read_flow_sheet(text.encode(), name="s.csv")


@pytest.mark.parametrize(
    "text",
    [
        "rpm,torque (Nm)\n5000,600\n6000,620\n7000,580\n",
        "Drehzahl;Leistung [kW];Drehmoment [Nm]\n5000;314,16;600\n6000;389,56;620\n7000;425,16;580\n",
        "n\tkW\n5000\t314.16\n6000\t389.56\n7000\t425.16\n",
        "Engine speed (rpm),Torque (lb-ft)\n7000,427.786\n5000,442.537\n6000,457.289\n",
    ],
)
def test_a_curve_reads_alike_in_any_form(text):
    # Hand: 600 Nm at 5,000 rpm are 314.16 kW
    curve = read_dyno_curve(text.encode(), name="c.csv")
    assert curve.engine_rpm.tolist() == [5000.0, 6000.0, 7000.0]
    assert curve.power_w / 1000 == pytest.approx([314.16, 389.56, 425.16], rel=1e-4)


def test_a_curve_without_unit_or_names_is_refused():
    with pytest.raises(NotALog, match="says no unit"):
        read_dyno_curve(b"rpm,power\n5000,400\n6000,450\n7000,440\n", name="c.csv")
    with pytest.raises(NotALog, match="no row names"):
        read_dyno_curve(b"5000,400\n6000,450\n7000,440\n", name="c.csv")
    with pytest.raises(NotALog, match="3 or more"):
        read_dyno_curve(b"rpm,kW\n5000,400\n6000,450\n", name="c.csv")


def test_where_each_falls_off_and_how_long_the_run_is_past_it():
    # Planted: the bench falls through 95 % of 400 kW at 7,000 + 0.5 x 500; the track holds 390 kW to the end
    curve = DynoCurve("c.csv", np.array([6000.0, 6500, 7000, 7500]), np.array([380e3, 400e3, 390e3, 370e3]), "")
    rpm = (6125.0, 6625.0, 7125.0, 7375.0, 7625.0)
    third = GearCurve(3, rpm, (370e3, 380e3, 390e3, 390e3, 390e3), (8e3,) * 5, (0.2, 0.4, 0.2, 0.1, 0.1))
    beside = lay_beside_track(curve, power_of(third))
    assert beside.bench_peak_rpm == 6500.0
    assert beside.bench_falls_off_rpm == pytest.approx(7250.0)
    assert beside.track_falls_off_rpm is None
    assert beside.share_past_bench == pytest.approx(0.2)
    assert beside.points[-1].bench_w is None
    assert beside.points[1].track_over_bench == pytest.approx(380 / 397.5)


def test_gears_are_weighed_by_their_time():
    curve = DynoCurve("c.csv", np.array([6000.0, 6500, 7000]), np.array([380e3, 400e3, 390e3]), "")
    second = GearCurve(2, (6125.0,), (300e3,), (9e3,), (0.1,))
    third = GearCurve(3, (6125.0,), (340e3,), (9e3,), (0.3,))
    assert lay_beside_track(curve, power_of(second, third)).points[0].track_w == pytest.approx(330e3)


def test_a_run_without_power_says_so():
    curve = DynoCurve("c.csv", np.array([6000.0, 6500, 7000]), np.array([380e3, 400e3, 390e3]), "STD")
    beside = lay_beside_track(curve, None)
    assert beside.points == ()
    assert beside.share_past_track is None
    assert {one.code for one in beside.findings} == {"bench-and-track-air", "bench-without-track"}

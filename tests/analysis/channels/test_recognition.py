"""From headers to channels, by words alone."""

import pytest

from passband.analysis.channels.catalogue import CATALOGUE, family_of
from passband.analysis.channels.recognition import channel_named, recognise_name
from passband.analysis.reading.text.name_and_unit import split_name_and_unit

# Planted: the trade's own ways to write a channel's name.
NAMES = {
    "engine_speed": "RPM; Engine RPM; ENG_SPD; nMot; Motordrehzahl; Régime moteur; Giri Motore; EngineSpeed_rpm; Tach",
    "throttle": "TPS; Throttle Pos %; Accelerator; Pedal Pos; APP; ThrottlePosition; Drosselklappe",
    "manifold_pressure": "MAP; Intake Pressure; Man Press; Manifold Absolute Pressure; Abs Manifold Pressure",
    "boost": "Boost; Boost Press; Charge Pressure; Ladedruck",
    "barometer": "Baro; Atm Pressure; Barometric Pressure",
    "ground_speed": "Ground Speed; Vehicle Speed; Speed; Undriven Wheel Speed",
    "gps_speed": "GPS Speed; GPS_Spd; Speed GPS; gpsSpeed; GNSS Velocity",
    "wheel_speed_driven": "Driven Wheel Speed; Vehicle Speed (driven); Drive Speed; Wheel Speed",
    "wheel_speed_fl": "Wheel Speed FL; LF Wheel Speed; WheelSpeedFrontLeft; vWheelFL; WS_FL; Whl Spd FL; Front Left",
    "wheel_speed_rr": "Wheel Speed RR; Right Rear Wheel Speed; WSPD_RR",
    "driveshaft_speed": "Driveshaft RPM; Prop Shaft Speed; DS RPM; Tailshaft RPM; Output Shaft Speed",
    "acceleration": "Accel X; G Long; Long G; Longitudinal; ax; Inline Acc; X Accel",
    "acceleration_lateral": "Accel Y; Lat G; Lateral Acceleration",
    "gear": "Gear; Gear Pos; Current Gear",
    "shift_cut": "Shift Cut; Shift Cut Active; Gear Cut; Upshift Cut; Cut",
    "shift_lever": "Shift Lever Strain; Gear Lever Force; Strain",
    "lambda": "Lambda; AFR; A/F; Wideband O2",
    "lambda_2": "Lambda 2; AFR Bank 2; O2 #2; Lambda Right",
    "fuel_pressure": "Fuel Press; pFuel; Fuel Rail Pressure; Benzindruck",
    "oil_pressure": "Oil Press; Oil P; Engine Oil Pressure; Öldruck",
    "oil_temperature": "Oil Temp; tOil; EOT",
    "coolant_temperature": "Coolant; ECT; CLT; Water Temp; H2O Temp; Engine Coolant Temperature",
    "coolant_pressure": "Coolant Press; Water Pressure",
    "intake_temperature": "IAT; Inlet Air Temp; Charge Temp; Air Temp; MAT",
    "exhaust_temperature_3": "EGT 3; EGT3; Exh Temp Cyl 3; Exhaust Gas Temp #3; Cyl 3 EGT",
    "ignition_advance": "Ign Angle; Ignition Timing; Spark Advance; Timing; Zündwinkel",
    "injector_duty": "Inj Duty; Injector Duty Cycle; IDC",
    "battery": "Battery; Batt V; VBatt; Battery Voltage",
    "back_pressure": "EMAP; Exhaust Back Press",
    "crankcase_pressure": "Crankcase Press",
    "turbo_speed": "Turbo RPM",
    "launch_switch": "Launch; 2-Step; Trans Brake",
    "satellites": "GPS Satellites; Num Sats",
    "clutch": "Clutch Sw; Clutch Pedal Switch; Clutch Line Press",
    "brake": "Brake Sw; Front Brake Press; Brake Pedal Switch",
    "knock": "Knock Level; KNK; Det Level; Knock Volts",
    "fuel_flow": "Fuel Flow; Fuel Mass Flow Rate; Total Fuel Flow; Fuel Flow Meter",
    "latitude": "GPS Lat; Latitude",
    "longitude": "GPS Long; Lng; Position Lon",
}
STRANGERS = (
    "Boost Target; RPM Limit; Lambda Target; GPS Altitude; GPS Heading; Fuel Temp; Trans Temp; Gearbox Oil Temp; "
    "Throttle Rate; Wastegate Duty; Fuel Trim; Low Oil Pressure Alarm; Steering Angle; Damper FL; Tyre Pressure FL; "
    "Tire Temp RR; Knock Retard; Inj Pulse Width; Dwell; Nitrous Pressure; Bottle Pressure; Wheel Slip; Lap Time; "
    "GPS Speed Accuracy; Distance; RPM Rate; Engine Hours; EGT Spread; MAP Switch; Boost Map; Shift Light; "
    "Turbine Speed; Ambient Temp; Torque; Rev Limiter; Cylinder Pressure 1; Oil Temp Status; "
    "Pressure; Temp; Duty; Brake Temp; Trans Oil Pressure; Diff Oil Temp; Oil Level; Pan Vacuum; Turbine RPM; "
    "Injection Angle; Cam Timing; Turbo Inlet Pressure; Compressor Outlet Temp; Fuel Pressure Differential; "
    "Line Pressure; Converter Pressure; Dome Pressure; Gear Ratio; Gear Voltage; Map Number; Fuel Map; Clutch Slip; "
    "Battery Current; Idle RPM; Launch Timer; Launch Retard; Baro Correction; Peak Boost; Long Term Fuel Trim; "
    "Air Bottle Pressure; Shift Solenoid; Water Pump RPM; Fan Speed; Wind Speed; Pit Speed; Return Fuel Pressure"
)
# The same words parted, joined or marked otherwise: understood by rule, not by a list.
WRITTEN_OTHERWISE = {
    "oil_temperature": "OILTEMPERATURE; oil-temperature; Oil_Temp_1",
    "driveshaft_speed": "DSRPM; Tail Shaft RPM; nDriveshaft; Driveshaft Revs; DRIVESHAFTSPEED",
    "wheel_speed_fl": "WSFL; Wheel Speed F/L; WHEELSPEEDFL",
    "shift_cut": "Flatshift; Up Shift Cut; SHIFTCUTACTIVE",
    "turbo_speed": "nTurbo; N Turbo; Turbo Rev; TURBOSPEED",
    "gear": "nGear; N Gear; GEARPOSITION; Gear Ind",
    "engine_speed": "nEngine; n Engine; ENGINESPEED; engine.speed",
    "exhaust_temperature_1": "Exhaust T 1; EGT_1; T_EXH_1; Cyl1 EGT; EGT Number 1",
    "acceleration": "In-line G; X-Axis Accel; G Meter; LONGITUDINALACCELERATION",
    "boost": "Boost rel; Rel Boost; BOOSTPRESSURE",
}


@pytest.mark.parametrize(
    ("header", "channel"), [(name.strip(), channel) for channel, names in NAMES.items() for name in names.split(";")]
)
def test_many_aliases_mean_one_channel(header, channel):
    found = recognise_name(split_name_and_unit(header)[0])
    assert found and found[0].channel == channel


@pytest.mark.parametrize(
    ("header", "channel"),
    [(name.strip(), channel) for channel, names in WRITTEN_OTHERWISE.items() for name in names.split(";")],
)
def test_words_written_otherwise_mean_the_same(header, channel):
    assert [match.channel for match in recognise_name(split_name_and_unit(header)[0])] == [channel]


@pytest.mark.parametrize("header", [name.strip() for name in STRANGERS.split(";")])
def test_what_only_sounds_like_a_channel_is_none(header):
    assert recognise_name(header) == ()


def test_every_catalogue_name_and_title_means_itself():
    for name in CATALOGUE:
        assert name in [match.channel for match in recognise_name(name)]
        assert channel_named(name) == name


def test_a_filler_word_costs_confidence():
    # By hand: a name that stands in the catalogue is 0.95 sure, each filler word takes 0.06
    assert recognise_name("Engine Speed")[0].confidence == pytest.approx(0.95)
    assert recognise_name("ECU Engine Speed")[0].confidence == pytest.approx(0.89)


def test_a_second_copy_is_less_sure_than_the_first():
    assert recognise_name("Oil Pressure 2")[0].confidence < recognise_name("Oil Pressure 1")[0].confidence < 0.95


@pytest.mark.parametrize(
    ("header", "either"), [("Lat", {"latitude", "acceleration_lateral"}), ("Long", {"longitude", "acceleration"})]
)
def test_lat_and_long_may_be_either_and_the_unit_will_tell(header, either):
    assert {match.channel for match in recognise_name(header)} == either


@pytest.mark.parametrize(
    ("text", "channel"),
    [
        ("battery voltage", "battery"),
        ("exhaust gas temperature", "exhaust_temperature"),
        ("exhaust_temperature_4", "exhaust_temperature_4"),
        ("intake air temperature", "intake_temperature"),
        ("Boost Pressure", "boost"),
        ("Nitrous Bottle", None),
    ],
)
def test_names_a_user_writes(text, channel):
    assert channel_named(text) == channel
    assert channel is None or family_of(channel) in CATALOGUE


@pytest.mark.parametrize(
    ("header", "channel"),
    [
        ("Ign Cut", "shift_cut"),
        ("Spark Kill", "shift_cut"),
        ("Drv Shft", "driveshaft_speed"),
        ("DrvShft RPM", "driveshaft_speed"),
        ("Out Shft Spd", "driveshaft_speed"),
        ("Prop Shft", "driveshaft_speed"),
        ("Gear Shft Cut", "shift_cut"),
        ("Displayed Gear", "gear"),
        ("Front Wheel L", "wheel_speed_fl"),
        ("Front Wheel R", "wheel_speed_fr"),
        ("Rear Wheel RH Speed", "wheel_speed_rr"),
    ],
)
def test_trade_words_cut_short_mean_what_they_do_in_their_company(header, channel):
    # Hand: "Shft" is a shaft behind a word for what turns, and a shift elsewhere; a letter beside an axle is a side
    assert recognise_name(header)[0].channel == channel


@pytest.mark.parametrize("header", ["Front R Shock", "Front Brake R", "Input Shft Speed", "Wheel R", "Up Shft"])
def test_the_same_words_in_other_company_mean_none_of_these(header):
    assert recognise_name(header) == ()


@pytest.mark.parametrize(
    "header",
    ["n_soll", "p_L_soll", "T_vor_LLK", "v_soll", "U_Lambda", "Oil Pressure (low)", "Throttle, desired",
     "Coolant temperature at radiator outlet", "Intake temperature before intercooler", "Lambda at idle", "Launch N",
     "Exhaust gas temperature, target"],
)  # fmt: skip
def test_a_sign_a_place_or_a_clause_of_something_else_names_no_channel(header):
    assert not [match for match in recognise_name(header) if match.channel != "launch_switch"]

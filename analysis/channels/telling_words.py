"""What words of a header tell beside what it is of: nothing, something else, that it may be another thing.

Public: `FILLER`, `SAYS_ABSOLUTE`, `SAYS_GAUGE`, `BETWEEN`, `SYSTEMS`, `COUNTING`, `CHANGES_MEANING`, `OF_OTHER_THINGS`,
`OF_WHAT_UNSAID`, `OF_ANOTHER_TOGETHER`, `SHORT_FOR`, `VOLTS`, `VAGUE_NAMES`.
"""

from __future__ import annotations

SAYS_ABSOLUTE = frozenset(
    "abs absolute absolut absolu absolue absoluta absoluto assoluta assoluto абс абсолютное bezwzgl bezwzględne "
    "bezwzgledne absolutni abszolut abszolút mutlak απολυτη 绝对 絕對 絶対 절대 מוחלט مطلق".split()
)
"""Words that say that a pressure is counted from nothing."""
SAYS_GAUGE = frozenset(
    "relative relativ relatif relativa relativo gauge gage 表压 表壓 ゲージ圧 게이지압 изб избыточное "
    "надлишковий nadcisnienie pretlak tulnyomas overtryk ubertryck overtrykk".split()
)
"""Words that say that it is counted from the air outside."""
FILLER = (
    frozenset(
        "sensor sens signal value val channel ch chan input in actual act measured meas average avg mean filtered "
        "filt smoothed smooth corrected corr ecu ems ecm pcm dash can can1 can2 bus analog analogue an main live "
        "absolute driver calculated logger log data reading raw the of and e car system sys engine position primary "
        "instantaneous inst now total pickup bank cylinder filter display displayed shown disp logged final lin linear "
        "hex hexadecimal cal calibrated scaled vehicle overall meter axis ist istwert zyl zylinder "
        "henger hengeru цилиндр цилиндра цил valec valce cylindra cylindre cilindro cil silindir silindri sylinteri "
        "cilinder cilindru "
        "de du des del della dello dell di da do van het der".split()
    )
    | SAYS_ABSOLUTE
)
"""Words that a name says no less without."""
BETWEEN = frozenset("no na nos nas em en au aux al alla allo nel nella im am w we la las le les los el il lo".split())
"""Words of other languages that mean in, on or at where they stand between two others."""
SYSTEMS = FILLER | frozenset(
    "intake inlet exhaust cooling coolant lubrication oil fuel fueling ignition chassis body wheels wheel brakes brake "
    "drivetrain powertrain driveline transmission controls pedals motion gps inputs sensors channels measured values "
    "boost air turbo electrical electric power drive "
    "motor moteur motore silnik bil auto wagen fahrzeug voiture véhicule coche carro vettura macchina".split()
)
"""Words that part a car into its systems: before a stroke they tell where a channel is of."""
COUNTING = frozenset({"no", "nr", "num", "number", "hash"})
"""Words before a number."""
CHANGES_MEANING = frozenset(
    "target tgt limit lim limiter error err trim max min peak demand desired request requested setpoint aim goal "
    "delta diff difference rate correction comp compensation pwm solenoid output command commanded desire warning "
    "soll sollwert consigne consigna obiettivo objetivo "
    "alarm fault flag base table index offset adder multiplier gain closed open loop control".split()
)
"""Words that make of a channel's name something else's."""
OF_OTHER_THINGS = frozenset(
    "nitrous n2o bottle wastegate valve wg bov nozzle stage methanol ethanol flex content level tank pump alternator "
    "starter fan relay lap sector distance odometer altitude height heading course yaw pitch roll gyro magnetic "
    "steering damper suspension shock ride travel corner camber torque power load mass flow volume idle vvt vct cam "
    "camshaft intake exhaust angle dwell coil map1 map2 mode switch button status state counter trigger marker beacon "
    "event ambient humidity density dew wind time date hour minute day temperature pressure current ground battery "
    "sync tooth teeth crank pulse frequency period width duty percent slip traction differential diff gearbox "
    "converter slave master logger memory free cpu supply ref rail strain axle pinion rotor disc pad caliper "
    "interior exterior internal external cabin cockpit retard retarded "
    "note notes remark remarks comment comments bemerkung bemerkungen kommentar remarque commentaire nota notas".split()
)
"""Words of things that a log holds and no channel here is of: a name of these is known, and known to be none."""
OF_WHAT_UNSAID = frozenset("pressure temperature position angle".split())
"""Words of a quantity, which alone do not say of what: "Press A" may be the manifold's."""
VOLTS = frozenset("v mv volt volts voltage millivolt millivolts".split())
"""Words for what a sensor gives."""
OF_ANOTHER_TOGETHER = (
    (frozenset({"input", "primary"}), frozenset({"shaft", "axle"})),
    (frozenset({"sensor", "sensors"}), frozenset({"supply"})),
)
"""Words of which one of each makes a name of no channel here, whatever else it says."""
VAGUE_NAMES = frozenset(
    "cut strain lever shift speed velocity timing advance water exhaust voltage volts launch vertical lateral "
    "longitudinal tp ax ay az gx gy gz in_air spark shifter pedal act mat timing_advance fp v battery_voltage "
    "ignition shaft_rpm case_pressure pan_pressure sump_pressure system_voltage input_voltage rail_pressure "
    "engine_temperature block_temperature intake_air motor_temperature emp tit vss fl fr rl rr a_f "
    "accelerometer shift_sensor injector_pressure front_wheel_speed rear_wheel_speed launch_g accel g_accel "
    "tacho dash_voltage shift_active shifting gear_shift_active butterfly aps frp fuel_pump_pressure "
    "fuel_supply_pressure oil_pump_pressure oil_rail_pressure oil_pan_temperature oil_tank_temperature ait "
    "exhaust_header_temperature oss toss pinion_rpm pinion_speed driveline_speed g_meter lc_active lc_switch "
    "knock_count knock_noise ignition_cut ignition_cut_active ignition_kill spark_cut spark_kill "
    "op ot wt h2o bst g_force gs output_rpm atm "
    "bap long position_long brake_on launch_mode launch_status launch_state start_switch line_lock".split()
)
"""Names, words joined by underscores, that mean a channel, but perhaps another one: "Speed" or "Water" alone."""
SHORT_FOR: dict[str, tuple[str, tuple[str, ...]]] = {
    "duty": ("injector_duty", ("wastegate duty",)),
    "duty cycle": ("injector_duty", ("wastegate duty",)),
}
"""Words that stand alone for a channel, and what else they may be short for: such a column is asked about."""

"""What channels go by in logs, in English; each word of another language stands once, in `languages`.

Lower case, words parted by one blank; `analysis.channels.recognition` evens out case, order, abbreviations, numbers
and filler words before it compares, so one alias stands for many. A wheel's corner is written `fl fr rl rr` here
whatever the log calls it.

Public: `GOES_BY`, `aliases_of`.
"""

from __future__ import annotations

from passband.analysis.channels.languages import foreign_aliases_of

# Aliases parted by bars.
GOES_BY: dict[str, str] = {
    "time": (
        "time | t | ts | t log | tlog | timestamp | time stamp | log time | elapsed time | session time | record "
        "time | sample time | run "
        "time | clock | clock time | date time | utc | utc time | gps time | time of day | seconds | sec | "
        "milliseconds | ms | time offset | datetime | local time | relative time | system time | time axis | abs time "
        "| absolute time | rel time | logger time | recording time | date and time | gps seconds | gps tow | "
        "time of week "
        "| tow | itow | gps week seconds | gps time of week | seconds of week | time from trigger | "
        "time since trigger | trigger time | time rel trigger | time rel to trigger | time rel to start | "
        "time rel start | time rel to launch | time since start | time from start | time since launch | "
        "t rel | measurement time | "
        "measuring time | test time | elapsed time since trigger | elapsed time since start | "
        "elapsed time since launch | "
        "elapsed | epoch | epoch time | unix | unix time | unix timestamp | unix epoch | posix time | datenum | "
        "serial date | serial day | timestamp utc | utc timestamp"
    ),
    "engine_speed": (
        "engine speed | engine rpm | rpm | engine revs | revs | engine revolutions | crank speed | crankshaft speed | "
        "crank rpm | motor speed | motor rpm | engine speed rpm | rev counter | tacho | tachometer | tach | rpm "
        "engine | n mot | nmot | engine n | krpm | crank revs | omega engine | engine omega | omega motor | omega crank"
        " | erpm"
    ),
    "throttle": (
        "driver throttle | throttle | throttle position | tps | throttle pos | throttle angle | throttle opening | "
        "throttle blade | throttle plate | accelerator | accelerator pedal | accelerator position | accelerator pedal "
        "position | pedal | pedal position | accel pedal | accel pedal position | app | pps | throttle pedal | gas "
        "pedal | throttle body | tps driver | driver demand pedal | tp | etb position | dbw position | throttle "
        "butterfly | dbw throttle | butterfly | aps | throttle valve | throttle valve angle | "
        "throttle valve position | "
        "throttle valve opening | throttle opening angle | throttle flap | throttle flap angle | throttle flap position"
        " | throttle pot | throttle potentiometer"
    ),
    "manifold_pressure": (
        "map | manifold pressure | manifold absolute pressure | manifold air pressure | intake pressure | inlet "
        "pressure | intake manifold pressure | inlet manifold pressure | plenum pressure | absolute manifold pressure "
        "| boost absolute | absolute boost | boost pressure absolute | manifold abs | intake manifold absolute "
        "pressure | engine map | inlet air pressure | airbox pressure | map absolute | collector pressure | intake "
        "air pressure | intake absolute pressure | plenum air pressure | intake plenum pressure | "
        "inlet plenum pressure | map sensor | map pressure | pman | p man | p manifold | p map"
    ),
    "boost": (
        "boost | boost pressure | boost gauge | charge pressure | turbo boost | turbo pressure | manifold gauge "
        "pressure | gauge boost | boost gauge pressure | map gauge | mgp | manifold pressure gauge | supercharger "
        "boost | blower boost | engine boost | boost press | relative manifold pressure | intake boost | charge air "
        "pressure | boost relative | relative boost | boost vac | boost vacuum | vacuum boost | manifold vacuum boost"
        " | bst"
    ),
    "barometer": (
        "barometer | barometric pressure | baro | baro pressure | atmospheric pressure | ambient pressure | ambient "
        "air pressure | air pressure ambient | barometric | atmosphere | outside pressure | bap | outside air "
        "pressure"
        " | atm | atm p"
    ),
    "ground_speed": (
        "ground speed | vehicle speed | car speed | speed | road speed | speed over ground | true speed | undriven "
        "wheel speed | wheel speed undriven | undriven speed | free wheel speed | velocity | corrected speed | "
        "vehicle velocity | reference speed | speed vehicle | vss | vehicle speed sensor | corr speed | v car | vcar | "
        "v x | longitudinal velocity | longitudinal speed | v vehicle | v veh "
        "| ref wheel speed | non driven wheel speed | undriven wheels | ground velocity | optical speed | radar speed "
        "| fifth wheel speed | fifth wheel | speed reference | front undriven speed | rear undriven speed | front "
        "undriven wheel speed | rear undriven wheel speed"
    ),
    "gps_speed": (
        "gps speed | gps velocity | speed gps | gps ground speed | gps speed over ground | gps g speed | "
        "gnss speed | gnss velocity "
        "| sog | gps vel | gps vehicle speed | gps 2d speed | gps 3d speed | gps v | gps sog"
    ),
    "wheel_speed_driven": (
        "driven wheel speed | wheel speed driven | driven wheels | drive wheel speed | vehicle speed driven | driven "
        "speed | speed driven | driving wheel speed | driven axle speed | wheel speed | wheel speed drive | drive "
        "speed | driven wheel | wheelspeed | wheel speed driven axle | drive wheels speed | driven wheel velocity | "
        "wheel rpm | driven wheel rpm | powered wheel speed | tire speed | tyre speed | slick speed | drive wheel rpm "
        "| rear driven speed | front driven speed | rear driven wheel speed | front driven wheel speed"
    ),
    "driveshaft_speed": (
        "driveshaft rpm | driveshaft speed | driveshaft | drive shaft speed | drive shaft rpm | drive shaft | prop "
        "shaft speed | prop shaft rpm | propshaft speed | propshaft rpm | propshaft | prop shaft | ds rpm | ds speed "
        "| d s rpm | tailshaft rpm | tailshaft speed | output shaft speed | output shaft rpm | gearbox output speed | "
        "gearbox output rpm | transmission output speed | trans output speed | gearbox output shaft speed | cardan "
        "speed | dshaft rpm | dshaft speed | transmission output shaft speed | shaft rpm | gearbox output shaft rpm | "
        "trans output rpm | driveshaft revs | prop rpm | driveline rpm | driveline speed | cardan shaft speed | "
        "pinion rpm | pinion speed | omega driveshaft | driveshaft omega | omega prop shaft | "
        "oss | toss | tail shaft rpm | front prop shaft | rear prop shaft | front prop shaft rpm | rear prop shaft "
        "rpm | front prop shaft speed | rear prop shaft speed | front propshaft rpm | rear propshaft rpm | front "
        "propshaft speed | rear propshaft speed | front driveshaft rpm | rear driveshaft rpm | front driveshaft "
        "speed | rear driveshaft speed"
        " | output rpm | tailshaft | tail shaft"
    ),
    "acceleration": (
        "acceleration | accel x | acceleration x | x accel | x acceleration | longitudinal acceleration | "
        "acceleration longitudinal | accel longitudinal | longitudinal accel | longitudinal g | g longitudinal | "
        "longitudinal | long g | g long | long accel | accel long | long acceleration | g force longitudinal | "
        "longitudinal g force | inline g | inline acceleration | g x | x g | gx | ax | acc x | x acc | accx | accelx "
        "| a x | "
        "gforce x | g force x | imu accel x | forward acceleration | forward g | accel g | acceleration g | accel | "
        "acc long | imu x accel | accelerometer x | accelerometer | in line acc | inline acc | inline accel | "
        "accelerometer longitudinal | forward accel | fore aft g | fore aft acceleration | g forward | gps "
        "longitudinal acceleration | launch g | vehicle acceleration | in line g | g meter"
        " | g force | gs | lon g | lon acc | lon accel | fwd g | fwd accel | fwd acc"
    ),
    "acceleration_lateral": (
        "accel y | acceleration y | y accel | y acceleration | lateral acceleration | acceleration lateral | lateral "
        "accel | accel lateral | lateral g | g lateral | lat g | g lat | lat accel | accel lat | lateral | gy | g y | "
        "y g | ay | acc y | acc lat | lateral g force | sideways acceleration | sideways g | accelerometer y | imu "
        "accel y | cross acceleration | g force y | accy | accely | lat acc | cross accel"
    ),
    "acceleration_vertical": (
        "accel z | acceleration z | z accel | z acceleration | vertical acceleration | acceleration vertical | "
        "vertical accel | accel vertical | vertical g | g vertical | vert g | g vert | gz | g z | z g | az | acc "
        "z | acc vert | accelerometer z | imu accel z | vertical | g force z | accz | accelz"
    ),
    "gear": (
        "gear | gear position | current gear | gear pos | gear number | gear selected | selected gear | engaged gear "
        "| gear no | gear engaged | gear indicator | actual gear | gearbox gear | gear calculated | gear estimated | "
        "transmission gear | gear status | gear current | gear detected"
        " | gear select | gear sel | gears"
    ),
    "shift_cut": (
        "cut | gearcut | shift | shift cut | shift cut active | gear cut | gear cut active | gearshift cut | "
        "gearshift cut active | gear shift cut | gear shift cut active | upshift cut | upshift cut active | flat "
        "shift | flat shift active | torque cut | torque cut active | cut active | shift cut flag | shift cut "
        "state | shift cut status | shift kill | ignition cut shift | quickshift | quick shift | quickshifter | "
        "shift ignition cut | shift active | shifting | gear shift active | gear change cut | power shift | power "
        "shift active | flat shift cut | gear cut status | shift interrupt | shift cut output | gear change "
        "active | ignition cut | ignition cut active | ignition kill | spark cut | spark kill "
        "| shift cut on | shift torque cut | quickshift cut | up shift cut"
    ),
    "shift_lever": (
        "strain | lever | lever load | gear lever load | shift lever load cell | shift lever | shift lever strain | "
        "shift lever force | gear lever | gear lever strain | gear lever force | lever strain | lever force | shifter "
        "| shifter force | shifter load | shifter strain | shift force | gear knob | gear knob force | shift knob | "
        "shift knob force | strain gauge | gear lever load cell | shift load | shift strain | gear stick force | "
        "shift load cell | gear lever position | gear shift force | shift sensor | gear shift lever | gearstick | "
        "shift lever load | shifter position | knob force | gear force | shift lever strain gauge | shifter load cell "
        "| knob strain | lever load cell"
    ),
    "lambda": (
        "afr gasoline | afr petrol | gasoline afr | petrol afr | wb | wb afr | λ | "
        "lambda | afr | air fuel ratio | air fuel | wideband | wideband lambda | wideband afr | wbo2 | wb o2 | "
        "wideband o2 | o2 | lam | exhaust lambda | lambda actual | measured lambda | afr actual | lambda bank | afr "
        "bank | air to fuel ratio | a f ratio | af ratio | a f | wideband oxygen | lambda cylinder | lambda value | "
        "oxygen lambda | lambda probe | equivalence lambda"
        " | o2 afr | afr o2 | o2 lambda | wideband air fuel ratio"
    ),
    "fuel_pressure": (
        "fuel pressure | fuel rail pressure | rail pressure | fuel press | fuel p | fp | fuel line pressure | "
        "injector pressure | fuel rail | frp | fuel pump pressure | fuel supply pressure | injector rail pressure | "
        "fuel feed pressure"
    ),
    "oil_pressure": (
        "oil pressure | engine oil pressure | oil press | oil p | eop | oildruck | main oil pressure | oil gallery "
        "pressure | motor oil pressure | oil pressure main gallery | oil feed pressure | oil pump pressure | oil rail "
        "pressure | gallery pressure"
        " | op"
    ),
    "oil_temperature": (
        "oil temperature | engine oil temperature | oil temp | oil t | eot | motor oil temperature | oil sump "
        "temperature | oil pan temperature | oil tank temperature | sump temperature"
        " | ot"
    ),
    "coolant_temperature": (
        "coolant temperature | coolant | engine coolant temperature | water temperature | engine water temperature | "
        "clt | clt temperature | ect | cts | engine temperature | water | coolant t | water t | h2o temperature | "
        "coolant out temperature | cylinder head coolant temperature | water out temperature | block temperature | "
        "head water temperature"
        " | wt | h2o"
    ),
    "coolant_pressure": (
        "coolant pressure | water pressure | engine coolant pressure | cooling system pressure | engine water "
        "pressure | coolant system pressure | radiator pressure | h2o pressure | head water pressure | block water "
        "pressure"
        " | rad p | rad pressure"
    ),
    "intake_temperature": (
        "intake air temperature | intake temperature | iat | inlet air temperature | inlet temperature | air "
        "temperature | charge temperature | charge air temperature | manifold air temperature | manifold temperature "
        "| air charge temperature | intake manifold temperature | plenum temperature | mat | act | inlet manifold "
        "temperature | intake charge temperature | air inlet temperature | intake air | post intercooler temperature "
        "| airbox temperature | air intake temperature | air in temperature | plenum air temperature | intercooler "
        "out temperature | post ic temperature | ait"
    ),
    "exhaust_temperature": (
        "exhaust temperature | exhaust gas temperature | egt | exhaust gas | exhaust | egt cylinder | exhaust "
        "cylinder temperature | exh temperature | exhaust gas temperature cylinder | egt sensor | exhaust port "
        "temperature | turbine inlet temperature | tit | pre turbine temperature | pre turbine egt | pre turbo egt | "
        "egt pre turbo | egt port | exhaust header temperature"
    ),
    "ignition_advance": (
        "ignition advance | ignition timing | ignition angle | ign timing | ign angle | ign advance | spark advance | "
        "spark angle | spark timing | timing | timing advance | advance | ignition | ignition timing angle | spark | "
        "final ignition angle | final ignition timing | total timing | ignition base final | spark advance final | "
        "engine timing | ignition timing final | ignition timing actual | ign base timing final | ignition btdc | "
        "timing btdc | spark btdc | ignition deg | spark deg | timing deg"
        " | ign tim"
    ),
    "injector_duty": (
        "injector duty | injector duty cycle | inj duty | inj duty cycle | idc | fuel injector duty | fuel duty | "
        "injection duty | injection duty cycle | primary injector duty | injector dc | inj dc | injector duty primary "
        "| fuel injector duty cycle | injectors duty | duty injector | inj dty | injector load | fuel inj duty"
    ),
    "fuel_flow": (
        "fuel flow | fuel flow rate | fuel mass flow | fuel rate | fuel consumption | fuel flow total | total fuel "
        "flow | fuel mass rate | fuel mass flow rate"
    ),
    "knock": (
        "knock | knock level | knock sensor | knock signal | knock intensity | knock volts | knock voltage | knock "
        "count | knock noise | detonation | knock peak | knock energy | knock level cylinder | knock sum | knock "
        "index | knock v | detonation level"
    ),
    "crankcase_pressure": (
        "crankcase pressure | crank case pressure | crankcase | pan pressure | sump pressure | oil pan pressure | "
        "case pressure | engine case pressure | breather pressure"
    ),
    "back_pressure": (
        "back pressure | exhaust back pressure | exhaust backpressure | backpressure | exhaust manifold pressure | "
        "emap | exhaust pressure | turbine inlet pressure | drive pressure | pre turbine pressure | turbo drive "
        "pressure | turbine pressure | turbo back pressure | ebp | exh back pressure | emp | turbo inlet drive "
        "pressure | exhaust drive pressure"
    ),
    "turbo_speed": (
        "turbo speed | turbo rpm | turbocharger speed | turbocharger rpm | turbo shaft speed | turbo shaft rpm | "
        "turbine shaft speed | turbo wheel speed | compressor speed | compressor rpm | turbo revs | turbocharger revs"
    ),
    "clutch": (
        "clutch | clutch position | clutch pedal | clutch pedal position | clutch switch | clutch active | clutch "
        "pressure | clutch input | clutch pressed | clutch state | clutch status | clutch engaged | clutch line "
        "pressure | clutch sw | clutch lever | clutch pedal switch"
    ),
    "brake": (
        "brake | brake switch | brake pedal | brake pedal position | brake active | brake light | brake pressure | "
        "brake input | brake pressed | brake state | brake status | front brake pressure | brake pressure front | "
        "brake line pressure | brake position | brake on off | brakes | brake sw | rear brake pressure | brake "
        "pressure rear | brake pedal switch | brake on"
    ),
    "launch_switch": (
        "launch switch | launch | launch control | launch control active | launch active | launch button | two "
        "step | 2 step | two step active | 2 step active | two step switch | 2 step switch | trans brake | "
        "transbrake | trans brake active | transbrake active | transbrake switch | trans brake switch | launch "
        "state | launch status | launch control state | launch control status | launch mode | launch input | anti "
        "lag launch | launch enable | start switch | twostep | 2step | launch limiter active | line lock | trans "
        "brake button | transbrake button | launch armed | launch control switch | lc active | lc switch"
        " | tbrake"
    ),
    "battery": (
        "u batt | ubatt | battery | battery voltage | battery volts | batt | batt voltage | batt volts | vbatt | vbat "
        "| v batt | bat v | battery v | supply voltage | system voltage | ecu voltage | ecu volts | ecu supply | "
        "battery potential | voltage battery | volts | ecu battery | ecu supply voltage | system volts | main voltage "
        "| alternator voltage | logger voltage | dash voltage | input voltage | bat voltage | voltage | supply volts "
        "| power supply voltage | charging voltage"
    ),
    "latitude": (
        "latitude | gps latitude | lat | gps lat | gnss latitude | position latitude | gnss lat | latitude gps"
    ),
    "longitude": (
        "longitude | gps longitude | lon | lng | gps lon | gps lng | gps long | gnss longitude | position "
        "longitude | gnss lon | longitude gps | long | position long"
    ),
    "satellites": (
        "gps satellites | satellites | sats | gps sats | num sats | number of satellites | satellite count | gps "
        "satellite count | gnss satellites | gps num sats | gps number of satellites | sat count | nsat | gps "
        "nsat | satellites used | gps satellites used | gps sats used | gps sat count | gps visible satellites"
    ),
}

# Each wheel's corner, and what may stand around it.
_CORNER_PHRASES = (
    "wheel speed {}", "wheel {}", "speed {}", "ws {}", "wheel rpm {}", "tire speed {}", "tyre speed {}", "v {}",
    "v wheel {}",
    "wheel velocity {}", "vehicle speed {}", "rpm wheel {}", "{}", "wheel speed sensor {}", "abs wheel speed {}",
    "abs {}", "abs speed {}",
)  # fmt: skip
_ONE_SENSOR_AXLE = {"wheel_speed_fl": "front", "wheel_speed_rl": "rear"}


def aliases_of(channel: str) -> tuple[str, ...]:
    """All aliases of one catalogue name, its own words first.

    Examples
    --------
    >>> aliases_of("barometer")[:2], aliases_of("wheel_speed_fl")[:2]
    (('barometer', 'barometric pressure'), ('wheel speed fl', 'wheel fl'))
    """
    listed = [alias.strip() for alias in GOES_BY.get(channel, "").split("|") if alias.strip()]
    corner = channel.removeprefix("wheel_speed_")
    if corner in ("fl", "fr", "rl", "rr"):
        listed += [phrase.format(corner) for phrase in _CORNER_PHRASES]
        axle = _ONE_SENSOR_AXLE.get(channel)
        if axle:
            listed += [
                f"{axle} wheel speed",
                f"{axle} wheel",
                f"{axle} wheels speed",
                f"{axle} wheel rpm",
                f"{axle} axle speed",
                f"{axle} speed",
            ]
    return tuple(dict.fromkeys([channel.replace("_", " "), *listed, *foreign_aliases_of(channel)]))

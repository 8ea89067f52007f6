"""What channels go by in other languages than English: one table, each word with its language.

Single words that keep their meaning wherever they stand are turned into English ones before a header is held against
the aliases ("presión de aceite" is pressure, oil); compounds and whole names stand as aliases of their channel.
Written from memory of the trade's words; accents are evened out when they are compared, and umlauts match ``ae oe ue``.

Public: `ALIASES_BY_LANGUAGE`, `WORDS_BY_LANGUAGE`, `foreign_aliases_of`, `english_words`, `words_of_language`,
`evened_letters`.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

from passband.analysis.channels.foreign_controls import CONTROLS_BY_LANGUAGE
from passband.analysis.channels.foreign_wheels import WHEELS_BY_LANGUAGE
from passband.analysis.channels.longer_names import LONGER_NAMES_BY_LANGUAGE
from passband.analysis.channels.more_languages import MORE_ALIASES, MORE_WORDS

# Foreign word, then the English one, parted by bars.
WORDS_BY_LANGUAGE: dict[str, str] = {
    "German": "druck pressure | öl oil | wasser water | kraftstoff fuel | benzin fuel | luft air | abgas exhaust | "
    "geschwindigkeit speed | kühlmittel coolant | kühlwasser coolant | ansaugluft intake air | motoröl oil",
    "French": "pression pressure | huile oil | eau water | essence fuel | carburant fuel | moteur engine | "
    "admission intake | échappement exhaust | vitesse speed | papillon throttle | véhicule vehicle | "
    "refroidissement coolant",
    "Spanish": "presión pressure | temperatura temperature | aceite oil | agua water | combustible fuel | aire air | "
    "admisión intake | velocidad speed | refrigerante coolant | mariposa throttle | vehículo vehicle | turbo turbo | "
    "múltiple manifold | aceleración acceleration | posición position",
    "Portuguese": "pressão pressure | óleo oil | água water | combustível fuel | admissão intake | "
    "velocidade speed | arrefecimento coolant | veículo vehicle | borboleta throttle | rotação rpm | "
    "coletor manifold | posição position",
    "Italian": "pressione pressure | olio oil | acqua water | benzina fuel | carburante fuel | motore engine | "
    "aria air | aspirazione intake | velocità speed | farfalla throttle | collettore manifold | veicolo vehicle | "
    "raffreddamento coolant | posizione position",
    "Dutch": "druk pressure | temperatuur temperature | olie oil | brandstof fuel | lucht air | uitlaat exhaust | "
    "snelheid speed | inlaat intake | koelvloeistof coolant | koelwater coolant | uitlaatgas exhaust",
    "Swedish": "tryck pressure | olja oil | vatten water | bränsle fuel | luft air | avgas exhaust | hastighet speed | "
    "kylvatten coolant | kylvätska coolant | insug intake",
    "Polish": "ciśnienie pressure | oleju oil | wody water | paliwa fuel | silnika engine | powietrza air | "
    "spalin exhaust | prędkość speed | dolotowego intake | pojazdu vehicle | przepustnica throttle | "
    "przepustnicy throttle | chłodziwa coolant | kolektorze manifold | kolektor manifold | doładowania boost | "
    "bezwzględne absolute",
    "Czech": "tlak pressure | teplota temperature | oleje oil | vody water | paliva fuel | motoru engine | "
    "vzduchu air | výfuku exhaust | výfukových exhaust | spalin exhaust | rychlost speed | sání intake | "
    "vozidla vehicle",
    "Russian": "давление pressure | температура temperature | масла oil | воды water | топлива fuel | "
    "двигателя engine | воздуха air | выхлопа exhaust | выхлопных exhaust | скорость speed | впуска intake | "
    "автомобиля vehicle | наддува boost | впускного intake | коллектора manifold | коллекторе manifold | двс engine",
}  # fmt: skip

# Aliases parted by bars, by channel.
ALIASES_BY_LANGUAGE: dict[str, dict[str, str]] = {
    "German": {
        "time": "zeit | messzeit | laufzeit | laufende zeit | zeitachse | uhrzeit | zeitstempel | abgelaufene zeit",
        "engine_speed": "motordrehzahl | drehzahl | drehzahl motor | umdrehungen | kurbelwellendrehzahl",
        "throttle": "drosselklappe | dk | wdk | dk winkel | dk stellung | drosselklappenstellung | "
        "drosselklappenwinkel | gaspedal | gaspedalstellung | fahrpedal | fahrpedalstellung | drosselklappenposition",
        "manifold_pressure": "saugrohrdruck | saugrohrabsolutdruck | saugrohr pressure | saug pressure | "
        "ladedruck absolut",
        "boost": "ladedruck | turboladedruck | ladedruck relativ",
        "lambda": "luftverhältnis | lambdasonde | luftzahl | lambdawert",
        "oil_pressure": "öldruck | motoröldruck",
        "oil_temperature": "öltemperatur | motoröltemperatur | öltemp",
        "fuel_pressure": "kraftstoffdruck | benzindruck | raildruck",
        "coolant_temperature": "kühlmitteltemperatur | kühlwassertemperatur | wassertemperatur | wassertemp | "
        "kühlmitteltemp | tmot | t mot | motortemperatur | temperatur wasser",
        "intake_temperature": "ansauglufttemperatur | tans | t ans | ladelufttemperatur | lufttemperatur | "
        "ansaugtemperatur",
        "exhaust_temperature": "abgastemperatur | abgastemp",
        "ground_speed": "fahrgeschwindigkeit | vfzg | v fzg | fahrzeuggeschwindigkeit | geschwindigkeit",
        "gear": "gang | gangstufe | gang nr | ganganzeige | eingelegter gang",
        "barometer": "umgebungsdruck | luftdruck | pumg | p umg",
        "battery": "bordspannung | batteriespannung | batterie",
        "wheel_speed_driven": "raddrehzahl",
        "driveshaft_speed": "kardanwelle | kardanwellendrehzahl | drehzahl kardanwelle | gelenkwellendrehzahl | "
        "kardandrehzahl | abtriebsdrehzahl | abtriebswelle | abtriebswellendrehzahl | drehzahl abtrieb | drehzahl "
        "abtriebswelle | getriebeausgangsdrehzahl | getriebeabtriebsdrehzahl",
        "acceleration": "längsbeschleunigung | beschleunigung",
        "acceleration_lateral": "querbeschleunigung",
        "shift_lever": "schaltkraft",
        "shift_cut": "schaltunterbrechung | zündunterbrechung | zugkraftunterbrechung | schaltabschaltung",
        "coolant_pressure": "wasserdruck",
        "ignition_advance": "zündwinkel",
        "injector_duty": "einspritzventil tastverhältnis",
        "fuel_flow": "kraftstofffluss",
        "knock": "klopfen",
        "crankcase_pressure": "kurbelgehäusedruck",
        "back_pressure": "abgasgegendruck",
        "turbo_speed": "laderdrehzahl",
        "clutch": "kupplung",
        "brake": "bremse | bremsdruck",
        "gps_speed": "gps geschwindigkeit",
    },
    "French": {
        "time": "heure | temps | temps écoulé | horodatage | chrono",
        "engine_speed": "régime | régime moteur | tours moteur | vitesse moteur",
        "throttle": "papillon | papillon gaz | position papillon | ouverture papillon | accélérateur | "
        "pédale accélérateur",
        "manifold_pressure": "pression collecteur | pression admission | pression tubulure",
        "boost": "pression turbo | pression suralimentation | suralimentation",
        "lambda": "richesse | richesse lambda | richesse mesurée | sonde lambda",
        "oil_pressure": "pression huile | pression d huile",
        "oil_temperature": "température huile | température d huile",
        "fuel_pressure": "pression essence | pression d essence | pression carburant | pression rampe",
        "coolant_temperature": "température eau | température d eau | température liquide refroidissement",
        "intake_temperature": "température admission | température air admission | température d air | "
        "température air | température d air d admission",
        "exhaust_temperature": "température échappement | température gaz échappement | température d échappement",
        "ground_speed": "vitesse | vitesse véhicule",
        "gear": "rapport | rapport engagé | rapport boîte",
        "ignition_advance": "avance | avance allumage",
        "clutch": "embrayage",
        "brake": "frein",
        "battery": "tension batterie | batterie",
        "gps_speed": "vitesse gps",
        "wheel_speed_driven": "vitesse roue",
        "driveshaft_speed": "régime arbre transmission | vitesse arbre transmission | arbre de transmission",
        "acceleration": "accélération longitudinale | accélération",
        "acceleration_lateral": "accélération latérale",
        "shift_cut": "coupure passage | coupure allumage | coupure rapport",
    },
    "Spanish": {
        "time": "hora | tiempo | tiempo transcurrido",
        "engine_speed": "régimen | régimen motor | revoluciones | revoluciones motor | rpm motor | velocidad motor",
        "throttle": "acelerador | mariposa | posición mariposa | posición acelerador | apertura mariposa",
        "manifold_pressure": "presión admisión | presión colector | presión múltiple | presión múltiple admisión",
        "boost": "presión turbo | presión sobrealimentación | sobrealimentación | presión soplado",
        "lambda": "sonda lambda",
        "oil_pressure": "presión aceite",
        "oil_temperature": "temperatura aceite",
        "fuel_pressure": "presión combustible | presión gasolina",
        "coolant_temperature": "temperatura agua | temperatura refrigerante | temperatura motor",
        "intake_temperature": "temperatura admisión | temperatura aire admisión | temperatura aire",
        "exhaust_temperature": "temperatura escape | temperatura gases escape",
        "ground_speed": "velocidad | velocidad vehículo",
        "gear": "marcha | marcha engranada | cambio",
        "ignition_advance": "encendido",
        "clutch": "embrague",
        "brake": "freno",
        "gps_speed": "velocidad gps",
        "battery": "tensión batería | voltaje batería | batería",
        "driveshaft_speed": "rpm árbol transmisión | velocidad árbol transmisión | rpm cardán | velocidad cardán",
        "acceleration": "aceleración longitudinal",
        "acceleration_lateral": "aceleración lateral",
        "shift_cut": "corte cambio | corte encendido | corte de cambio",
    },
    "Portuguese": {
        "time": "tempo | tempo decorrido",
        "engine_speed": "rotação | rotação motor | rotações | giro motor | rpm motor",
        "throttle": "borboleta | posição borboleta | acelerador | posição acelerador | abertura borboleta",
        "manifold_pressure": "pressão admissão | pressão coletor | pressão coletor admissão",
        "boost": "pressão turbo | pressão sobrealimentação",
        "lambda": "sonda lambda",
        "oil_pressure": "pressão óleo",
        "oil_temperature": "temperatura óleo",
        "fuel_pressure": "pressão combustível",
        "coolant_temperature": "temperatura água | temperatura arrefecimento | temperatura líquido arrefecimento",
        "intake_temperature": "temperatura ar | temperatura ar admissão | temperatura admissão",
        "exhaust_temperature": "temperatura escape | temperatura escapamento | temperatura gases escape",
        "ground_speed": "velocidade | velocidade veículo",
        "gear": "marcha | marcha engatada | mudança",
    },
    "Italian": {
        "time": "ora | tempo | tempo trascorso",
        "engine_speed": "giri | giri motore | regime motore | numero giri | velocità motore",
        "throttle": "farfalla | posizione farfalla | apertura farfalla | acceleratore | pedale acceleratore | "
        "posizione acceleratore",
        "manifold_pressure": "pressione collettore | pressione aspirazione",
        "boost": "pressione turbo | pressione sovralimentazione | sovralimentazione",
        "lambda": "sonda lambda",
        "oil_pressure": "pressione olio",
        "oil_temperature": "temperatura olio",
        "fuel_pressure": "pressione benzina | pressione carburante",
        "coolant_temperature": "temperatura acqua | temperatura liquido raffreddamento",
        "intake_temperature": "temperatura aria | temperatura aspirazione | temperatura aria aspirazione | "
        "temperatura aspirata",
        "exhaust_temperature": "temperatura scarico | temperatura gas scarico",
        "ground_speed": "velocità | velocità veicolo",
        "gear": "marcia | marcia inserita",
        "ignition_advance": "anticipo | anticipo accensione",
        "clutch": "frizione",
        "battery": "tensione batteria | batteria",
        "gps_speed": "velocità gps",
        "driveshaft_speed": "giri albero trasmissione | velocità albero trasmissione",
        "acceleration": "accelerazione longitudinale | accelerazione",
        "acceleration_lateral": "accelerazione laterale",
        "shift_cut": "taglio cambiata | taglio accensione",
    },
    "Dutch": {
        "time": "tijd | verstreken tijd | tijdstip",
        "engine_speed": "toerental | motortoerental | toeren",
        "throttle": "gasklep | gasklepstand | gaspedaal | gaspedaalstand | gasklep positie",
        "manifold_pressure": "inlaatdruk | spruitstukdruk | inlaatspruitstukdruk",
        "boost": "turbodruk | laaddruk",
        "lambda": "lambdasonde | lambdawaarde",
        "oil_pressure": "oliedruk",
        "oil_temperature": "olietemperatuur",
        "fuel_pressure": "brandstofdruk | benzinedruk",
        "coolant_temperature": "koelvloeistoftemperatuur | koelwatertemperatuur | watertemperatuur",
        "intake_temperature": "inlaattemperatuur | inlaatluchttemperatuur | luchttemperatuur",
        "exhaust_temperature": "uitlaattemperatuur | uitlaatgastemperatuur",
        "ground_speed": "snelheid | rijsnelheid | voertuigsnelheid",
        "gear": "versnelling | gekozen versnelling",
    },
    "Swedish": {
        "time": "tid | förfluten tid | tidsstämpel",
        "engine_speed": "varvtal | motorvarvtal | varv",
        "throttle": "gasspjäll | spjäll | trottel | trottelläge | gasspjällsläge | spjälläge | gaspedalläge",
        "manifold_pressure": "insugstryck | insugningstryck",
        "boost": "laddtryck | turbotryck",
        "lambda": "lambdavärde | lambdasond",
        "oil_pressure": "oljetryck",
        "oil_temperature": "oljetemperatur | oljetemp",
        "fuel_pressure": "bränsletryck",
        "coolant_temperature": "kylvattentemperatur | kylvätsketemperatur | vattentemperatur | vattentemp",
        "intake_temperature": "insugstemperatur | insugsluftens temperatur | laddluftstemperatur",
        "exhaust_temperature": "avgastemperatur | avgastemp",
        "ground_speed": "hastighet | fordonshastighet",
        "gear": "växel | växelläge",
    },
    "Polish": {
        "time": "czas | znacznik czasu | czas pomiaru",
        "engine_speed": "obroty | obroty silnika | prędkość obrotowa | prędkość obrotowa silnika",
        "throttle": "przepustnica | położenie przepustnicy | otwarcie przepustnicy | pedał gazu | pedał przyspieszenia",
        "manifold_pressure": "ciśnienie kolektorze | ciśnienie w kolektorze | ciśnienie w kolektorze dolotowym | "
        "ciśnienie bezwzględne | podciśnienie kolektora",
        "boost": "ciśnienie doładowania | doładowanie",
        "lambda": "sonda lambda",
        "oil_pressure": "ciśnienie oleju",
        "oil_temperature": "temperatura oleju",
        "fuel_pressure": "ciśnienie paliwa",
        "coolant_temperature": "temperatura płynu chłodzącego | temperatura cieczy chłodzącej | temperatura wody | "
        "temperatura chłodziwa | temperatura silnika",
        "intake_temperature": "temperatura powietrza | temperatura powietrza dolotowego | temperatura dolotu",
        "exhaust_temperature": "temperatura spalin",
        "ground_speed": "prędkość | prędkość pojazdu",
        "gear": "bieg | numer biegu | aktualny bieg",
    },
    "Czech": {
        "time": "čas | čas měření | uplynulý čas",
        "engine_speed": "otáčky | otáčky motoru",
        "throttle": "škrticí klapka | klapka | poloha škrticí klapky | plynový pedál | poloha plynu | plyn | "
        "poloha pedálu plynu",
        "manifold_pressure": "tlak sání | tlak v sání | tlak v sacím potrubí",
        "boost": "plnicí tlak | tlak turba | plnící tlak | přeplňování",
        "lambda": "lambda sonda",
        "oil_pressure": "tlak oleje",
        "oil_temperature": "teplota oleje",
        "fuel_pressure": "tlak paliva",
        "coolant_temperature": "teplota chladicí kapaliny | teplota vody | teplota motoru | teplota chladiva",
        "intake_temperature": "teplota nasávaného vzduchu | teplota sání | teplota vzduchu",
        "exhaust_temperature": "teplota výfuku | teplota spalin | teplota výfukových plynů",
        "ground_speed": "rychlost | rychlost vozidla",
        "gear": "rychlostní stupeň | převodový stupeň | zařazený stupeň | kvalt",
    },
    "Russian": {
        "time": "время | метка времени | прошедшее время | время замера",
        "engine_speed": "обороты | обороты двигателя | частота вращения | частота вращения двигателя | об мин",
        "throttle": "дроссель | положение дросселя | дроссельная заслонка | положение дроссельной заслонки | "
        "педаль газа | положение педали",
        "manifold_pressure": "давление во впуске | давление во впускном коллекторе | давление в коллекторе | "
        "абсолютное давление | дад",
        "boost": "давление наддува | наддув | буст",
        "lambda": "лямбда | лямбда зонд",
        "oil_pressure": "давление масла",
        "oil_temperature": "температура масла",
        "fuel_pressure": "давление топлива",
        "coolant_temperature": "температура охлаждающей жидкости | температура ож | тож | температура двигателя | "
        "температура воды | температура антифриза",
        "intake_temperature": "температура воздуха | температура на впуске | температура впускного воздуха | "
        "температура воздуха на впуске",
        "exhaust_temperature": "температура выхлопных газов | температура отработавших газов | "
        "температура выхлопа | твг | тог",
        "ground_speed": "скорость | скорость автомобиля",
        "gear": "передача | номер передачи | текущая передача",
    },
    "Japanese": {
        "time": "時間 | 経過時間 | 時刻 | タイム | 計測時間",
        "engine_speed": "エンジン回転数 | 回転数 | エンジン回転 | エンジン回転速度 | 機関回転数",
        "throttle": "スロットル開度 | スロットル | アクセル開度 | スロットルポジション",
        "manifold_pressure": "吸気圧 | 吸気圧力 | インマニ圧 | 吸気管圧力 | インテークマニホールド圧",
        "boost": "ブースト圧 | ブースト | 過給圧",
        "lambda": "ラムダ | 空気過剰率 | 空燃比",
        "oil_pressure": "油圧 | オイル圧 | エンジン油圧 | オイルプレッシャー",
        "oil_temperature": "油温 | オイル温度 | エンジン油温",
        "fuel_pressure": "燃圧 | 燃料圧力 | 燃料圧",
        "coolant_temperature": "水温 | 冷却水温 | 冷却水温度 | エンジン水温",
        "intake_temperature": "吸気温 | 吸気温度",
        "exhaust_temperature": "排気温 | 排気温度 | 排気ガス温度",
        "ground_speed": "車速 | 速度 | 車両速度",
        "gear": "ギア | ギヤ | ギヤ段 | ギア段 | ギア位置 | ギアポジション | 変速段",
    },
    "Chinese": {
        "time": "时间 | 時間 | 时刻 | 时间戳 | 經過時間 | 经过时间",
        "engine_speed": "发动机转速 | 转速 | 發動機轉速 | 引擎转速 | 引擎轉速 | 轉速",
        "throttle": "节气门开度 | 节气门 | 节气门位置 | 油门开度 | 油门 | 節氣門開度 | 節氣門 | 油門",
        "manifold_pressure": "进气压力 | 进气歧管压力 | 歧管压力 | 進氣壓力 | 歧管壓力 | 進氣歧管壓力 | "
        "进气歧管绝对压力",
        "boost": "增压压力 | 涡轮压力 | 增压 | 增壓壓力 | 渦輪壓力",
        "lambda": "过量空气系数 | 空燃比 | 過量空氣係數",
        "oil_pressure": "机油压力 | 油压 | 機油壓力 | 油壓",
        "oil_temperature": "机油温度 | 油温 | 機油溫度",
        "fuel_pressure": "燃油压力 | 燃油轨压力 | 燃油壓力",
        "coolant_temperature": "冷却液温度 | 水温 | 冷却水温度 | 冷卻液溫度 | 水溫",
        "intake_temperature": "进气温度 | 進氣溫度",
        "exhaust_temperature": "排气温度 | 排温 | 排氣溫度",
        "ground_speed": "车速 | 速度 | 車速",
        "gear": "挡位 | 档位 | 檔位",
    },
    "Korean": {
        "time": "시간 | 경과 시간 | 시각 | 타임스탬프",
        "engine_speed": "엔진 회전수 | 엔진 속도 | 회전수 | 엔진 rpm",
        "throttle": "스로틀 | 스로틀 개도 | 스로틀 위치 | 가속 페달 | 스로틀 포지션 | 액셀 개도",
        "manifold_pressure": "흡기압 | 흡기 압력 | 매니폴드 압력 | 흡기 매니폴드 압력",
        "boost": "부스트 | 부스트 압력 | 과급압 | 과급 압력",
        "lambda": "람다 | 공기 과잉률 | 공연비",
        "oil_pressure": "유압 | 오일 압력 | 엔진 오일 압력",
        "oil_temperature": "유온 | 오일 온도 | 엔진 오일 온도",
        "fuel_pressure": "연료압 | 연료 압력",
        "coolant_temperature": "냉각수 온도 | 냉각수온 | 수온",
        "intake_temperature": "흡기 온도 | 흡기온 | 흡기온도",
        "exhaust_temperature": "배기 온도 | 배기온 | 배기가스 온도",
        "ground_speed": "차속 | 속도 | 차량 속도",
        "gear": "기어 | 기어 단수 | 기어 위치 | 변속단",
    },
}  # fmt: skip

WORDS_BY_LANGUAGE |= MORE_WORDS
ALIASES_BY_LANGUAGE |= MORE_ALIASES
for _language, _more in (
    *WHEELS_BY_LANGUAGE.items(),
    *CONTROLS_BY_LANGUAGE.items(),
    *LONGER_NAMES_BY_LANGUAGE.items(),
):
    for _channel, _names in _more.items():
        _known = ALIASES_BY_LANGUAGE.setdefault(_language, {}).get(_channel)
        ALIASES_BY_LANGUAGE[_language][_channel] = f"{_known} | {_names}" if _known else _names

_UMLAUTS = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue"})
_NO_MARKS = str.maketrans({"ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "đ": "d", "Đ": "D", "æ": "ae", "Æ": "AE", "ı": "i"})


def evened_letters(text: str) -> str:
    """A text without accents: each letter as it is without its mark.

    Examples
    --------
    >>> evened_letters("prędkość"), evened_letters("Öl"), evened_letters("ładunek")
    ('predkosc', 'Ol', 'ladunek')
    """
    if text.isascii():
        return text
    apart = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in apart if not unicodedata.combining(letter)).translate(_NO_MARKS)


@lru_cache(maxsize=1)
def english_words() -> dict[str, str]:
    """Foreign words without accents, and the English ones they mean."""
    found: dict[str, str] = {}
    for language, pairs in WORDS_BY_LANGUAGE.items():
        for pair in pairs.split("|"):
            word, english = pair.split(maxsplit=1)
            spelled = {word, word.translate(_UMLAUTS)} if language in ("German", "Swedish") else {word}
            found |= {evened_letters(one): english.strip() for one in spelled}
    return found


@lru_cache(maxsize=64)
def words_of_language(language: str) -> frozenset[str]:
    """All words of names in one language of the table, in lower case."""
    words = {pair.split(maxsplit=1)[0] for pair in WORDS_BY_LANGUAGE.get(language, " ").split("|") if pair.strip()}
    aliases = " ".join(ALIASES_BY_LANGUAGE[language].values())
    return frozenset(word.lower() for word in words | set(aliases.replace("|", " ").split()))


def foreign_aliases_of(channel: str) -> tuple[str, ...]:
    """All aliases of one catalogue name in other languages, in the table's order.

    Examples
    --------
    >>> foreign_aliases_of("oil_pressure")[:3]
    ('öldruck', 'oeldruck', 'motoröldruck')
    """
    words: list[str] = []
    for language, channels in ALIASES_BY_LANGUAGE.items():
        for alias in channels.get(channel, "").split("|"):
            alias = alias.strip()
            words += [alias, alias.translate(_UMLAUTS)] if language == "German" else [alias]
    return tuple(dict.fromkeys(alias for alias in words if alias))

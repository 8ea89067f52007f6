"""Names in other languages. *Planted*: headers as loggers of each country print them, by hand."""

import pytest

from passband.analysis.channels.languages import ALIASES_BY_LANGUAGE, foreign_aliases_of
from passband.analysis.channels.recognition import recognise_name

CHANNELS = (
    "time", "engine_speed", "throttle", "manifold_pressure", "boost", "lambda", "oil_pressure", "oil_temperature",
    "fuel_pressure", "coolant_temperature", "intake_temperature", "exhaust_temperature", "ground_speed", "gear",
)  # fmt: skip
HEADERS = {
    "German": "Zeit|Motordrehzahl|Drosselklappe|Saugrohrdruck|Ladedruck|Luftverhältnis|Öldruck|Oeltemperatur|"
    "Kraftstoffdruck|Kühlmitteltemperatur|Ansauglufttemperatur|Abgastemperatur|Geschwindigkeit|Gang",
    "French": "Temps|Régime moteur|Position du papillon|Pression admission|Pression de suralimentation|Richesse|"
    "Pression d'huile|Temp. huile|Pression d'essence|Température de l'eau|Température air admission|"
    "Temp. échappement|Vitesse du véhicule|Rapport engagé",
    "Spanish": "Tiempo|Régimen del motor|Acelerador|Presión de admisión|Presión de turbo|Sonda lambda|"
    "Presión de aceite|Temperatura de aceite|Presión de combustible|Temperatura del agua|Temp. aire admisión|"
    "Temperatura de escape|Velocidad del vehículo|Marcha",
    "Portuguese": "Tempo|Rotação do motor|Borboleta|Pressão do coletor|Pressão do turbo|Sonda lambda|Pressão do óleo|"
    "Temperatura do óleo|Pressão de combustível|Temperatura da água|Temperatura do ar|Temperatura do escape|"
    "Velocidade do veículo|Marcha",
    "Italian": "Tempo|Giri motore|Farfalla|Pressione collettore|Pressione turbo|Sonda lambda|Pressione dell'olio|"
    "Temperatura olio|Pressione benzina|Temperatura dell'acqua|Temperatura aria|Temperatura gas di scarico|"
    "Velocità|Marcia",
    "Dutch": "Tijd|Motortoerental|Gasklep|Inlaatdruk|Turbodruk|Lambdawaarde|Oliedruk|Olietemperatuur|Brandstofdruk|"
    "Koelvloeistoftemperatuur|Inlaatluchttemperatuur|Uitlaatgastemperatuur|Snelheid|Versnelling",
    "Swedish": "Tid|Motorvarvtal|Gasspjäll|Insugstryck|Laddtryck|Lambdavärde|Oljetryck|Oljetemperatur|Bränsletryck|"
    "Kylvattentemperatur|Insugstemperatur|Avgastemperatur|Hastighet|Växel",
    "Polish": "Czas|Obroty silnika|Położenie przepustnicy|Ciśnienie w kolektorze|CIŚNIENIE DOŁADOWANIA|Sonda lambda|"
    "Cisnienie oleju|Temp. oleju|Ciśnienie paliwa|Temperatura płynu chłodzącego|Temperatura powietrza|"
    "Temperatura spalin|Prędkość pojazdu|Bieg",
    "Czech": "Čas|Otáčky motoru|Škrticí klapka|Tlak v sání|Plnicí tlak|Lambda sonda|Tlak oleje|Teplota oleje|"
    "Tlak paliva|Teplota chladicí kapaliny|Teplota nasávaného vzduchu|Teplota výfukových plynů|Rychlost vozidla|"
    "Převodový stupeň",
    "Russian": "Время|Обороты двигателя|Положение дросселя|Давление во впускном коллекторе|Давление наддува|Лямбда|"
    "Давление масла|Температура масла|Давление топлива|Температура охлаждающей жидкости|Температура воздуха|"
    "Температура выхлопных газов|Скорость|Передача",
    "Japanese": "時間|エンジン回転数|スロットル開度|吸気圧|ブースト圧|"
    "ラムダ|油圧|油温|燃圧|水温|吸気温|排気温|車速|ギア",
    "Chinese": "时间|发动机转速|节气门开度|进气压力|增压压力|过量空气系数|"
    "机油压力|机油温度|燃油压力|冷却液温度|进气温度|"
    "排气温度|车速|挡位",
    "Danish": "Tid|Motorens omdrejningstal|Gasspjæld|Indsugningstryk|Ladetryk|Lambdaværdi|Olietryk|Olietemperatur|"
    "Brændstoftryk|Kølevandstemperatur|Indsugningstemperatur|Udstødningstemperatur|Hastighed|Gear",
    "Norwegian": "Tid|Turtall|Gasspjeldposisjon|Innsugstrykk|Ladetrykk|Lambdaverdi|Oljetrykk|Oljetemperatur|"
    "Drivstofftrykk|Kjølevannstemperatur|Innsugstemperatur|Eksostemperatur|Hastighet|Gir",
    "Finnish": "Aika|Moottorin kierrosluku|Kaasuläpän asento|Imusarjan paine|Ahtopaine|Lambda-arvo|Öljynpaine|"
    "Öljyn lämpötila|Polttoaineen paine|Jäähdytysnesteen lämpötila|Imuilman lämpötila|Pakokaasun lämpötila|"
    "Ajonopeus|Vaihde",
    "Hungarian": "Idő|Motor fordulatszám|Fojtószelep állás|Szívócső nyomás|Töltőnyomás|Lambda szonda|Olajnyomás|"
    "Olaj hőmérséklet|Üzemanyagnyomás|Hűtővíz hőmérséklet|Szívott levegő hőmérséklet|Kipufogógáz hőmérséklet|"
    "Sebesség|Sebességfokozat",
    "Romanian": "Timp|Turația motorului|Poziție clapetă|Presiune admisie|Presiune turbo|Sondă lambda|Presiune ulei|"
    "Temperatura uleiului|Presiune combustibil|Temperatură lichid de răcire|Temperatură aer admisie|"
    "Temperatură gaze evacuare|Viteză vehicul|Treaptă de viteză",
    "Turkish": "Zaman|Motor devri|Gaz kelebeği konumu|Emme manifoldu basıncı|Turbo basıncı|Lambda sensörü|Yağ basıncı|"
    "Yağ sıcaklığı|Yakıt basıncı|Soğutma suyu sıcaklığı|Emme havası sıcaklığı|Egzoz gazı sıcaklığı|Araç hızı|Vites",
    "Greek": "Χρόνος|Στροφές κινητήρα|Θέση πεταλούδας|Πίεση εισαγωγής|Πίεση υπερπλήρωσης|Αισθητήρας λάμδα|Πίεση λαδιού|"
    "Θερμοκρασία λαδιού|Πίεση καυσίμου|Θερμοκρασία ψυκτικού|Θερμοκρασία αέρα εισαγωγής|Θερμοκρασία καυσαερίων|"
    "Ταχύτητα οχήματος|Σχέση",
    "Korean": "시간|엔진 회전수|스로틀 개도|흡기 압력|부스트 압력|람다|"
    "오일 압력|오일 온도|연료 압력|냉각수 온도|흡기 온도|"
    "배기 온도|차속|기어",
}  # fmt: skip


@pytest.mark.parametrize("language", HEADERS)
def test_the_channels_of_a_log_in_each_language(language):
    found = {name: [match.channel for match in recognise_name(name)][:1] for name in HEADERS[language].split("|")}
    assert found == {name: [channel] for name, channel in zip(HEADERS[language].split("|"), CHANNELS, strict=True)}


def test_each_alias_of_the_table_means_its_channel_whatever_its_case():
    wrong = [
        (language, channel, alias)
        for language, channels in ALIASES_BY_LANGUAGE.items()
        for channel, aliases in channels.items()
        for alias in aliases.split("|")
        for form in (alias.strip(), alias.strip().upper(), alias.strip().title())
        if [match.channel for match in recognise_name(form)][:1] != [channel]
    ]
    assert wrong == []


def test_a_word_of_one_language_does_not_touch_english_headers():
    headers = {"Druck Sensor": "", "Boost Target": "", "Gear Ratio": "", "Time Limit": "", "Oil Filter": ""}
    assert {name: "".join(one.channel for one in recognise_name(name)[:1]) for name in headers} == {
        **headers,
        "Oil Filter": "",
    }


def test_aliases_of_a_channel_are_told_in_the_order_of_the_table():
    assert foreign_aliases_of("gear")[:2] == ("gang", "gangstufe") and foreign_aliases_of("satellites") == ()


@pytest.mark.parametrize(
    ("name", "channel"),
    [
        ("Radgeschwindigkeit VL", "wheel_speed_fl"), ("Raddrehzahl hinten rechts", "wheel_speed_rr"),
        ("Radgeschwindigkeit angetrieben", "wheel_speed_driven"), ("Kardanwellendrehzahl", "driveshaft_speed"),
        ("Vitesse roue AVG", "wheel_speed_fl"), ("Vitesse roue arrière droite", "wheel_speed_rr"),
        ("Vitesse roue motrice", "wheel_speed_driven"), ("Accélération longitudinale", "acceleration"),
        ("Velocidad rueda DI", "wheel_speed_fl"), ("Velocidad rueda TD", "wheel_speed_rr"),
        ("Velocidad rueda no motriz", "ground_speed"), ("Corte encendido", "shift_cut"),
        ("Velocità ruota PS", "wheel_speed_rl"), ("Prędkość koła PP", "wheel_speed_fr"),
        ("Скорость колеса заднее левое", "wheel_speed_rl"), ("Hjulhastighet VF", "wheel_speed_fl"),
    ],
)  # fmt: skip
def test_wheels_and_shafts_in_their_languages(name, channel):
    # common practice, no source: how a speaker of each language would write them
    assert [match.channel for match in recognise_name(name)][:1] == [channel]

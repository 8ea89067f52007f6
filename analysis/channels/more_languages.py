"""What channels go by in Danish, Norwegian, Finnish, Hungarian, Romanian, Turkish, Greek and other languages.

Beside `languages`, in the same form. Ordinary dictionary words, written from memory.

Public: `MORE_WORDS`, `MORE_ALIASES`.
"""

from __future__ import annotations

# Foreign word, then the English one, parted by bars; words that mean something else in English are left out ("imu").
MORE_WORDS: dict[str, str] = {
    "Danish": "tryk pressure | olie oil | vand water | brændstof fuel | luft air | udstødning exhaust | "
    "hastighed speed | kølevand coolant | kølevæske coolant | indsugning intake | motorens engine",
    "Norwegian": "trykk pressure | olje oil | vann water | drivstoff fuel | bensin fuel | eksos exhaust | "
    "hastighet speed | fart speed | kjølevann coolant | kjølevæske coolant | innsug intake",
    "Finnish": "paine pressure | lämpötila temperature | lämpö temperature | öljy oil | öljyn oil | vesi water | "
    "veden water | polttoaine fuel | polttoaineen fuel | moottori engine | moottorin engine | ilma air | ilman air | "
    "pakokaasu exhaust | pakokaasun exhaust | nopeus speed | jäähdytysneste coolant | jäähdytysnesteen coolant | "
    "imuilman intake | imusarja manifold | imusarjan manifold | ahto boost | ajoneuvon vehicle | asento position",
    "Hungarian": "nyomás pressure | nyomása pressure | hőmérséklet temperature | hőmérséklete temperature | "
    "hőfok temperature | olaj oil | víz water | üzemanyag fuel | levegő air | kipufogógáz exhaust | kipufogó exhaust | "
    "sebesség speed | hűtővíz coolant | hűtőfolyadék coolant | szívócső manifold | szívott intake | beszívott intake | "
    "jármű vehicle | állás position",
    "Romanian": "presiune pressure | presiunea pressure | temperatură temperature | ulei oil | uleiului oil | "
    "apă water | apei water | combustibil fuel | combustibilului fuel | motorului engine | aer air | aerului air | "
    "evacuare exhaust | viteză speed | viteza speed | admisie intake | admisiei intake | supraalimentare boost | "
    "galerie manifold | clapetă throttle | clapetei throttle | răcire coolant | vehicul vehicle | poziție position",
    "Turkish": "basınç pressure | basıncı pressure | sıcaklık temperature | sıcaklığı temperature | yağ oil | "
    "su water | suyu water | yakıt fuel | hava air | havası air | egzoz exhaust | hız speed | hızı speed | "
    "emme intake | manifoldu manifold | araç vehicle | konumu position",
    "Greek": "πίεση pressure | θερμοκρασία temperature | λάδι oil | λαδιού oil | νερό water | νερού water | "
    "καύσιμο fuel | καυσίμου fuel | βενζίνης fuel | αέρας air | αέρα air | εξάτμιση exhaust | εξάτμισης exhaust | "
    "καυσαερίων exhaust | ταχύτητα speed | ψυκτικό coolant | ψυκτικού coolant | εισαγωγής intake | κινητήρα engine | "
    "υπερπλήρωσης boost | πολλαπλής manifold | οχήματος vehicle | θέση position",
    "Ukrainian": "тиск pressure | оливи oil | мастила oil | води water | палива fuel | двигуна engine | повітря air | "
    "вихлопу exhaust | швидкість speed | впуску intake | автомобіля vehicle | наддуву boost | колекторі manifold",
}  # fmt: skip

# Aliases parted by bars, by channel.
MORE_ALIASES: dict[str, dict[str, str]] = {
    "Danish": {
        "time": "tidsstempel",
        "engine_speed": "omdrejninger | omdrejningstal | motoromdrejninger | motoromdrejningstal",
        "throttle": "gasspjæld | spjæld | speeder | speederpedal | gasspjældsstilling",
        "manifold_pressure": "indsugningstryk | manifoldtryk",
        "boost": "ladetryk | turbotryk",
        "lambda": "lambdasonde | lambdaværdi",
        "oil_pressure": "olietryk",
        "oil_temperature": "olietemperatur | olietemp",
        "fuel_pressure": "brændstoftryk | benzintryk",
        "coolant_temperature": "kølevandstemperatur | kølevæsketemperatur | vandtemperatur | motortemperatur",
        "intake_temperature": "indsugningstemperatur | lufttemperatur | indsugningsluftens temperatur",
        "exhaust_temperature": "udstødningstemperatur",
        "ground_speed": "hastighed | køretøjshastighed",
        "gear": "geartrin",
    },
    "Norwegian": {
        "engine_speed": "turtall | motorturtall | omdreininger",
        "throttle": "gasspjeld | gasspjeldposisjon | gasspedal | spjeld",
        "manifold_pressure": "innsugstrykk | innsugningstrykk | manifoldtrykk",
        "boost": "ladetrykk | turbotrykk",
        "lambda": "lambdaverdi",
        "oil_pressure": "oljetrykk",
        "fuel_pressure": "drivstofftrykk | bensintrykk",
        "coolant_temperature": "kjølevannstemperatur | kjølevannstemp | kjølevæsketemperatur | vanntemperatur",
        "intake_temperature": "innsugstemperatur | inntakstemperatur",
        "exhaust_temperature": "eksostemperatur | eksostemp",
        "ground_speed": "hastighet | kjøretøyhastighet | fart",
        "gear": "gir | girtrinn",
    },
    "Finnish": {
        "time": "aika | aikaleima",
        "engine_speed": "kierrosluku | kierrosnopeus | kierrokset | moottorin kierrosluku | moottorin kierrosnopeus",
        "throttle": "kaasuläppä | kaasuläpän asento | kaasupoljin | kaasupolkimen asento | kaasu",
        "manifold_pressure": "imusarjan paine | imupaine",
        "boost": "ahtopaine | turbopaine",
        "lambda": "lambda anturi | lambda arvo",
        "oil_pressure": "öljynpaine",
        "oil_temperature": "öljynlämpö | öljynlämpötila",
        "fuel_pressure": "polttoainepaine",
        "coolant_temperature": "jäähdytysnesteen lämpötila | vedenlämpö | moottorin lämpötila",
        "intake_temperature": "imuilman lämpötila | ilman lämpötila",
        "exhaust_temperature": "pakokaasun lämpötila",
        "ground_speed": "nopeus | ajonopeus",
        "gear": "vaihde",
    },
    "Hungarian": {
        "time": "idő | időbélyeg | eltelt idő",
        "engine_speed": "fordulatszám | motorfordulatszám | motor fordulatszám | fordulat | főtengely fordulatszám",
        "throttle": "fojtószelep | fojtószelep állás | pillangószelep | gázpedál | gázpedál állás",
        "manifold_pressure": "szívócső nyomás | szívócsőnyomás | szívónyomás",
        "boost": "töltőnyomás | turbónyomás | feltöltőnyomás",
        "lambda": "lambdaszonda | lambda szonda | légviszony",
        "oil_pressure": "olajnyomás",
        "oil_temperature": "olajhőmérséklet | olajhőfok",
        "fuel_pressure": "üzemanyagnyomás | benzinnyomás",
        "coolant_temperature": "hűtővíz hőmérséklet | hűtővízhőmérséklet | vízhőmérséklet | vízhőfok",
        "intake_temperature": "levegő hőmérséklet | szívott levegő hőmérséklet",
        "exhaust_temperature": "kipufogógáz hőmérséklet",
        "ground_speed": "sebesség | járműsebesség",
        "gear": "fokozat | sebességfokozat | sebességi fokozat",
    },
    "Romanian": {
        "time": "timp | timp scurs",
        "engine_speed": "turație | turație motor | turația motorului",
        "throttle": "clapetă | clapetă accelerație | clapeta accelerației | pedală accelerație | poziție clapetă",
        "manifold_pressure": "presiune admisie | presiune galerie admisie | presiune colector admisie",
        "boost": "presiune turbo | presiune supraalimentare | supraalimentare",
        "lambda": "sondă lambda",
        "oil_pressure": "presiune ulei",
        "oil_temperature": "temperatură ulei",
        "fuel_pressure": "presiune combustibil | presiune benzină",
        "coolant_temperature": "temperatură lichid răcire | temperatură apă | temperatură antigel | temperatură motor",
        "intake_temperature": "temperatură aer | temperatură admisie | temperatură aer admisie",
        "exhaust_temperature": "temperatură evacuare | temperatură gaze evacuare",
        "ground_speed": "viteză | viteză vehicul",
        "gear": "treaptă | treaptă viteză",
    },
    "Turkish": {
        "time": "zaman | süre | geçen süre",
        "engine_speed": "motor devri | devir | devri | motor devir | devir sayısı",
        "throttle": "gaz kelebeği | kelebek | gaz pedalı | gaz kelebeği konumu | gaz pedalı konumu",
        "manifold_pressure": "emme manifoldu basıncı | emme basıncı | manifold basıncı",
        "boost": "turbo basıncı | takviye basıncı | aşırı besleme basıncı",
        "lambda": "lambda sensörü",
        "oil_pressure": "yağ basıncı",
        "oil_temperature": "yağ sıcaklığı",
        "fuel_pressure": "yakıt basıncı",
        "coolant_temperature": "su sıcaklığı | soğutma suyu sıcaklığı | soğutucu sıcaklığı | motor sıcaklığı",
        "intake_temperature": "hava sıcaklığı | emme havası sıcaklığı | emme sıcaklığı",
        "exhaust_temperature": "egzoz sıcaklığı | egzoz gazı sıcaklığı",
        "ground_speed": "hız | araç hızı",
        "gear": "vites | vites konumu",
    },
    "Greek": {
        "time": "χρόνος",
        "engine_speed": "στροφές | στροφές κινητήρα | σαλ",
        "throttle": "πεταλούδα | πεταλούδα γκαζιού | θέση πεταλούδας | γκάζι | πεντάλ γκαζιού",
        "manifold_pressure": "πίεση εισαγωγής | πίεση πολλαπλής | πίεση πολλαπλής εισαγωγής",
        "boost": "πίεση υπερπλήρωσης | υπερπλήρωση | πίεση τούρμπο",
        "lambda": "λάμδα | αισθητήρας λάμδα",
        "oil_pressure": "πίεση λαδιού",
        "oil_temperature": "θερμοκρασία λαδιού",
        "fuel_pressure": "πίεση καυσίμου | πίεση βενζίνης",
        "coolant_temperature": "θερμοκρασία νερού | θερμοκρασία ψυκτικού | θερμοκρασία κινητήρα",
        "intake_temperature": "θερμοκρασία αέρα | θερμοκρασία εισαγωγής | θερμοκρασία αέρα εισαγωγής",
        "exhaust_temperature": "θερμοκρασία εξάτμισης | θερμοκρασία καυσαερίων",
        "ground_speed": "ταχύτητα | ταχύτητα οχήματος",
        "gear": "σχέση | σχέση κιβωτίου",
    },
    "Croatian": {
        "time": "vrijeme | vreme",
        "engine_speed": "broj okretaja | broj okretaja motora | okretaji motora | okretaji | broj obrtaja",
        "throttle": "leptir gasa | zaklopka gasa | položaj leptira | položaj gasa",
        "manifold_pressure": "tlak usisa | usisni tlak",
        "boost": "tlak nabijanja",
        "oil_pressure": "tlak ulja | pritisak ulja",
        "oil_temperature": "temperatura ulja",
        "fuel_pressure": "tlak goriva",
        "coolant_temperature": "temperatura rashladne tekućine | temperatura vode | temperatura motora",
        "intake_temperature": "temperatura zraka | temperatura usisa | temperatura usisnog zraka",
        "exhaust_temperature": "temperatura ispuha | temperatura ispušnih plinova",
        "ground_speed": "brzina | brzina vozila",
        "gear": "stupanj prijenosa | brzina mjenjača",
    },
    "Indonesian": {
        "time": "waktu",
        "engine_speed": "putaran mesin | putaran",
        "throttle": "bukaan gas | posisi gas | katup gas",
        "manifold_pressure": "tekanan masuk",
        "oil_pressure": "tekanan oli",
        "oil_temperature": "suhu oli",
        "fuel_pressure": "tekanan bahan bakar | tekanan bensin",
        "coolant_temperature": "suhu mesin | suhu pendingin",
        "intake_temperature": "suhu udara | suhu udara masuk",
        "exhaust_temperature": "suhu knalpot | suhu gas buang",
        "ground_speed": "kecepatan | kecepatan kendaraan",
        "gear": "gigi | posisi gigi",
    },
    "Arabic": {
        "time": "الزمن | الوقت",
        "engine_speed": "سرعة المحرك | دورات المحرك",
        "throttle": "الخانق | فتحة الخانق | دواسة الوقود",
        "manifold_pressure": "ضغط المشعب | ضغط السحب",
        "boost": "ضغط الشاحن",
        "oil_pressure": "ضغط الزيت",
        "oil_temperature": "حرارة الزيت | درجة حرارة الزيت",
        "fuel_pressure": "ضغط الوقود",
        "coolant_temperature": "حرارة الماء | درجة حرارة الماء | حرارة سائل التبريد",
        "exhaust_temperature": "حرارة العادم",
        "ground_speed": "السرعة | سرعة السيارة",
        "gear": "الترس",
    },
    "Ukrainian": {
        "time": "час | мітка часу",
        "engine_speed": "оберти | оберти двигуна | частота обертання",
        "throttle": "дросель | дросельна заслінка | положення дроселя | педаль газу",
        "manifold_pressure": "тиск у впускному колекторі | тиск на впуску",
        "boost": "тиск наддуву | наддув",
        "lambda": "лямбда",
        "oil_pressure": "тиск оливи | тиск масла",
        "oil_temperature": "температура оливи",
        "fuel_pressure": "тиск палива",
        "coolant_temperature": "температура охолоджувальної рідини | температура ор",
        "intake_temperature": "температура повітря | температура повітря на впуску",
        "exhaust_temperature": "температура вихлопних газів",
        "ground_speed": "швидкість | швидкість автомобіля",
        "gear": "передача",
    },
}  # fmt: skip

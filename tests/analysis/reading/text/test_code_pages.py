"""Code pages: headers as crews of many countries would write them, planted in each page and read back."""

from __future__ import annotations

import subprocess
import sys

import pytest

from passband.analysis.reading import read_log
from passband.analysis.reading.text.code_pages import find_code_page, in_utf8
from passband.analysis.reading.text.encoding import read_text

ANOTHER = [
    ("cp932", "時間 (秒),エンジン回転数,スロットル開度,吸気圧力,水温,油圧,車速,ギア,空燃比"),
    ("cp932", "時間,回転数,水温,ブースト"),
    ("cp932", "Time(s),回転,RPM,ブースト圧,Oil Temp"),
    ("euc_jp", "時間 (秒),エンジン回転数,スロットル開度,吸気圧力,水温,油圧,車速"),
    ("gb18030", "时间,发动机转速,节气门开度,进气压力,冷却液温度,机油压力,车速,档位"),
    ("gb18030", "时间,转速,水温"),
    ("gb18030", "Time [s],发动机转速 [rpm],电压 [V]"),  # read as Korean, ideographs among syllables
    ("euc_jp", "Time,電圧,スロットル"),
    ("cp1250", "Time [s];Otáčky motoru [rpm];Napětí baterie [V]"),
    ("big5", "時間,引擎轉速,節氣門開度,進氣壓力,水溫,機油壓力,車速,檔位"),
    ("cp949", "시간,엔진 회전수,스로틀 개도,흡기 압력,냉각수 온도,유압,차속,기어"),
    ("cp1251", "Время;Обороты двигателя;Положение дросселя;Давление наддува;Температура;Скорость"),
    ("cp1251", "Время;Обороты;Наддув"),
    ("cp1251", "Time;Тиск мастила;Оберти;Швидкість;Лямбда"),
    ("koi8_r", "Время;Обороты двигателя;Положение дросселя;Давление наддува;Скорость"),
    ("cp1250", "Čas;Otáčky motoru;Poloha škrticí klapky;Tlak v sání;Teplota chladicí kapaliny;Převod"),
    ("cp1250", "Czas;Prędkość obrotowa;Położenie przepustnicy;Ciśnienie doładowania;Bieg"),
    ("cp1250", "Czas;Obroty;Prędkość"),
    ("cp1250", "Idő;Fordulatszám;Fojtószelep állás;Szívócső nyomás;Hűtővíz hőmérséklet"),
]
WESTERN = [
    "Zeit;Motordrehzahl;Öldruck;Kühlmitteltemperatur;Zündwinkel;Höhe [m³];Luft [°C];Größe",
    "Temps;Régime moteur;Pression d'huile;Température d'eau;Rapport engagé;Débit à l'arrêt;Fenêtre",
    "Tiempo;Régimen;Posición mariposa;Presión aceite;Año;Señal;Compañía",
    "Tempo;Rotação do motor;Posição da borboleta;Pressão do óleo;Temperatura da água",
    "Tid;Varvtal;Gasspjällsläge;Kylvätska;Växel;Tändning på;Åka",
    "Tid;Omdrejninger;Gasspjæld;Kølevand;Tænding;Måling;Hjul på grøft",
    "Tempo;Velocità;Umidità;Qualità;Più;Sì",
    "Time;Coolant °C;Flow m³/h;Area m²;Ratio ±;µs",
    "Time;Öl;RPM",
]
ROWS = "".join(f"{n / 10:.1f};{2000 + 40 * n};{n % 90}\n" for n in range(200))


@pytest.mark.parametrize(("page", "header"), ANOTHER)
def test_a_header_of_another_page_is_read_back(page, header):
    text = read_text((header + "\n" + ROWS).encode(page), name="x")
    assert (text.encoding, text.byte_encoding) == (page, "utf-8")
    assert [line.text for line in text.lines()[:2]] == [header, ROWS.partition("\n")[0]]


@pytest.mark.parametrize("header", WESTERN)
@pytest.mark.parametrize("page", ["latin-1", "cp1252"])
def test_a_western_header_stays_western(page, header):
    text = read_text((header + "\n" + ROWS).encode(page), name="x")
    assert text.encoding in ("latin-1", "cp1252")
    assert text.lines()[0].text == header


@pytest.mark.parametrize("page", ["cp932", "cp1251", "cp1250", "gb18030"])
def test_the_same_bytes_give_the_same_page_and_one_word_gives_none(page):
    word = {"cp932": "時", "cp1251": "Время", "cp1250": "Čas", "gb18030": "时"}[page].encode(page)
    assert [find_code_page(word + b";RPM;TPS\n1;2;3\n") for _ in range(3)] == ["", "", ""]


def test_half_a_letter_that_looks_like_a_delimiter_parts_no_cell():
    # The second byte of the first letter is that of "|"
    rows = "".join(f"{n / 10:.1f}|{2000 + 40 * n}|ポンプ停止\n" for n in range(60))
    assert b"|" in "ポ".encode("cp932")
    (log,) = read_log(("Time (s)|RPM 回転数|ポンプ作動\n" + rows).encode("cp932"), name="x")
    assert (log.text.rows, log.text.encoding, [channel.name for channel in log.channels]) == (
        60,
        "cp932",
        ["RPM 回転数"],
    )


def test_rows_of_digits_behind_the_letters_are_not_turned():
    body = "Время;Обороты\n1;2\nконец;3\n".encode("cp1251") + b"4;5\n"
    assert in_utf8(body, "cp1251").decode() == "Время;Обороты\n1;2\nконец;3\n4;5\n"
    assert in_utf8(b"a;b\n", "cp1251") == b"a;b\n"


def test_a_letter_cut_off_at_the_end_of_the_file_spoils_nothing_before():
    body = "時間,回転数,水温\n1,2,停".encode("cp932")[:-1]
    assert in_utf8(body, "cp932").decode().startswith("時間,回転数,水温\n1,2,")


def test_a_clean_file_imports_no_detector():
    told = (
        "import sys; from passband.analysis.reading.text.encoding import read_text;"
        "[read_text('Time;Öl\\n1;2\\n'.encode(page), name='x') for page in ('utf-8', 'latin-1')];"
        "print('charset_normalizer' in sys.modules)"
    )
    got = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=True)
    assert got.stdout.strip() == "False"


@pytest.mark.parametrize(
    ("page", "header"),
    [
        ("cp1253", "Χρόνος [s];Στροφές κινητήρα [rpm]"),
        ("iso8859_7", "Χρόνος [s];Στροφές κινητήρα [rpm]"),
        ("cp1254", "Zaman [s];Yağ basıncı [bar];Su sıcaklığı [C]"),
        ("cp852", "Čas [s];Otáčky motoru [ot/min];Tlak v sání [kPa]"),
        ("iso8859_2", "Čas [s];Otáčky motoru [ot/min];Škrticí klapka [%]"),
        ("koi8_r", "Время [с];Обороты двигателя [об/мин]"),
        ("cp866", "Время [с];Обороты двигателя [об/мин]"),
    ],
)
def test_the_page_in_which_cells_are_names_of_channels_wins(page, header):
    # Planted: each header in the page, read back letter for letter.
    found = find_code_page(header.encode(page))
    assert header.encode(page).decode(found) == header


@pytest.mark.parametrize("header", ["Zeit;Öldruck;Kühlmitteltemp. [°C]", "Temps;Régime moteur;Température d'huile"])
def test_names_leave_a_western_page_alone(header):
    assert find_code_page(header.encode("cp1252")) == ""

"""What one cell of a log is: a number, a time of day, a switch, nothing, or words.

Public: `split_line`, `kind_of_cell`, `CellKind`, `advice_for`, `number_of`, `is_plain`, `is_grouped`, `ungrouped`,
`thousands_alone`, `unit_in_cell`, `NO_VALUE`, `FLAGS`, `MONTHS`.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Literal

from passband.analysis.channels.units import is_unit

CellKind = Literal["blank", "number", "clock", "flag", "no value", "words"]

# What loggers and spreadsheets print for "no value", in lower case.
LONGEST_NUMBER = 1100
"""No double prints longer: the smallest has 1,074 decimals (IEEE 754: its value is 2 to the -1074)."""
NO_VALUE = frozenset(
    "nan n/a na n.a. n.a #n/a #na #value! #div/0! #ref! #num! null none nil nul - -- --- ---- ----- . .. ... ? ?? "
    "??? * ** *** "
    "inf +inf -inf infinity -infinity 1.#inf -1.#inf 1.#qnan -1.#ind 1.#ind nan(ind) -nan -nan(ind) err error "
    "invalid missing "
    "#wert! #bezug! #zahl! #nv #valeur! #nombre! #¡valor! #¡div/0! #¡num! #valor! #núm! #valore! #rif! #n/d #n/b "
    "#waarde! #getal! #deel/0! #arg! #liczba! #dziel/0! #adr! #hodnota! #číslo! #odkaz! #знач! #дел/0! #число! #н/д "
    "#värdefel! #division/0! #ogiltigt! #saknas! #değer! #sayı! #sayi/0! #yok #érték! #zérusosztó! #hiányzik "
    "#name? #null! #ovl ovl "
    "undefined undef void x overflow ovf open short ----.-- --.-- -.-".split()
)
FLAGS: dict[str, float] = {
    "true": 1.0, "false": 0.0, "on": 1.0, "off": 0.0, "yes": 1.0, "no": 0.0, "active": 1.0, "inactive": 0.0,
    "enabled": 1.0, "disabled": 0.0, "t": 1.0, "f": 0.0, "y": 1.0, "high": 1.0, "low": 0.0, "closed": 1.0,
    "pressed": 1.0, "released": 0.0, "applied": 1.0, "depressed": 1.0,
    "not pressed": 0.0, "unpressed": 0.0,
    "wahr": 1.0, "falsch": 0.0, "ja": 1.0, "nein": 0.0, "ein": 1.0, "aus": 0.0, "vrai": 1.0, "faux": 0.0, "oui": 1.0,
    "non": 0.0, "verdadero": 1.0, "falso": 0.0, "sí": 1.0, "si": 1.0, "vero": 1.0, "sim": 1.0, "não": 0.0,
    "nee": 0.0, "waar": 1.0, "onwaar": 0.0, "sant": 1.0, "falskt": 0.0, "nej": 0.0, "tak": 1.0, "nie": 0.0,
    "prawda": 1.0, "fałsz": 0.0, "ano": 1.0, "ne": 0.0, "да": 1.0, "нет": 0.0, "вкл": 1.0, "выкл": 0.0,
    # pedals and switches as people say them
    **dict.fromkeys(
        "pisado pisada pulsado presionado pressionado pressionada acionado acionada gedrückt getreten betätigt enfoncé "
        "enfoncée appuyé appuyée premuto premuta ingedrukt nedtryckt nedtrykket wciśnięty wciśnięte wciśnięta "
        "stisknuto sešlápnuto sešlápnutá нажат нажата нажато basılı påslagen encendido activado activo ligado ativo "
        "acceso attivo activé aktiv włączone włączony zapnuto aan på päällä オン 入 开 開 是 켜짐".split(),
        1.0,
    ),
    **dict.fromkeys(
        "suelto suelta soltado liberado solto solta losgelassen gelöst relâché relâchée rilasciato rilasciata "
        "losgelaten uppsläppt sluppet zwolniony zwolnione zwolniona puszczony uvolněno uvolněná отпущен отпущена "
        "отпущено serbest "
        "avslagen apagado desactivado inactivo desligado inativo spento inattivo désactivé inaktiv wyłączone wyłączony "
        "vypnuto uit av pois オフ 切 关 關 否 꺼짐".split(),
        0.0,
    ),
    # gears in words
    **dict.fromkeys("neutro neutre folle leerlauf neutraal neutralläge luz jałowy neutrál нейтраль".split(), 0.0),
    **dict.fromkeys(("punto muerto", "ponto morto", "point mort", "in folle"), 0.0),
    **{
        word: float(gear)
        for gear, words in enumerate(
            ("first primera primeira première prima erster", "second segunda deuxième seconda zweiter",
             "third tercera terceira troisième terza dritter", "fourth cuarta quarta quatrième vierter",
             "fifth quinta cinquième fünfter", "sixth sexta sixième sesta sechster"), start=1,
        )
        for word in words.split()
    },
    # gears as letters, as an automatic gearbox shows them, as ordinals
    "n": 0.0, "r": -1.0, "p": 0.0, "neutral": 0.0, "reverse": -1.0, "park": 0.0,
    **{f"d{gear}": float(gear) for gear in range(1, 13)},
    "1st": 1.0, "2nd": 2.0, "3rd": 3.0, **{f"{gear}th": float(gear) for gear in range(4, 13)},
}  # fmt: skip

MONTHS = (
    "jan", "feb", "mar|mrz|mär|fév", "apr|avr|abr", "may|mai|mag", "jun|giu", "jul|lug", "aug|ago|aoû", "sep|set",
    "oct|okt|ott", "nov", "dec|dez|dic|déc",
)  # fmt: skip
"""Beginnings of the months' names, in order, those of several languages parted by bars."""

_POINT = re.compile(r"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eEdD][-+]?\d+)?")
_COMMA = re.compile(r"[-+]?(?:\d+,?\d*|,\d+)(?:[eEdD][-+]?\d+)?")
_BETWEEN = " \u00a0\u2009\u202f'’_"
"""Blanks, marks above the line and, of programs, below it that group thousands."""
SHORTEST_GROUPED = 5
"""Signs of the shortest number with grouped thousands: 1,234."""
_POINT_GROUPED = re.compile(
    rf"[-+]?[1-9]\d{{0,2}}(?:,\d{{3}}|[{_BETWEEN}]\d{{3}})+(?:\.\d+)?|[-+]?[1-9]\d?(?:,\d\d)+,\d{{3}}(?:\.\d+)?"
)
_COMMA_GROUPED = re.compile(rf"[-+]?[1-9]\d{{0,2}}(?:\.\d{{3}}|[{_BETWEEN}]\d{{3}})+(?:,\d+)?")
_WRITTEN_OTHERWISE = re.compile(r"['~≈≃=](?P<text>[-+]?[\d.,]+)|\((?P<loss>[\d.,]+)\)|(?P<before>[\d.,]+)-")
"""A number that a sheet keeps as text, one said to be about so much, and negative ones as bookkeepers write them."""
_WITH_UNIT = re.compile(
    r"(.*\d[.,]?)\s*(%|°|°?[CF]|V|kPa|psi|bar|rpm|RPM|[Uu]/min|tr/min|r/min|1/min|min-1|об/мин|km/h|kph|mph|MPH|g|G|s|ms|deg|K|Hz|kg/h|m/s|"
    r"sec|mbar|hPa|MPa|Pa|inHg|psig|psia|mV)"
)
_WITH_QUOTIENT = re.compile(r"([-+\d.,]*\d)\s*([^\d\s.,;:/+-]{1,8}/[^\d\s.,;:/+-]{1,8}\.?)")
"""A number before a unit with a stroke, of which there are too many to list: giri/min, obr/min."""
_CLOCK = re.compile(
    r"(?:\S{6,11}[T ]|-)?\d{1,4}:\d{1,2}(?::\d{1,2})?(?:[.,]\d+|:\d{3})?(?: ?[AaPp]\.?[Mm]\.?)?(?:Z| ?[-+]\d\d:?\d\d)?"
)
_DATE = re.compile(r"\d{1,4}[-/.]\d{1,2}[-/.]\d{2,4}")


def split_line(line: str, delimiter: str) -> list[str]:
    """The cells of a line, quotes taken off, blanks around each trimmed.

    Parameters
    ----------
    line : str
        One line, without its end.
    delimiter : str
        One character.

    Examples
    --------
    >>> split_line('0.01, "soft, new",7', ",")
    ['0.01', 'soft, new', '7']
    """
    if '"' in line:
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=delimiter, skipinitialspace=True), [])]
        except csv.Error:
            pass
    cells = line.split(delimiter)
    if line.split(None, 1) == [line]:
        return cells  # no blank anywhere: most lines of most logs
    return [cell.strip() for cell in cells]


@lru_cache(maxsize=65536)
def kind_of_cell(cell: str, decimal: str) -> CellKind:
    """What a cell holds, with a decimal mark of ``.`` or ``,``.

    Parameters
    ----------
    cell : str
        Its text, trimmed.
    decimal : str
        ``.`` or ``,``.

    Examples
    --------
    >>> [kind_of_cell(cell, ".") for cell in ("1.5", "", "12:00:01.5", "off", "---", "1,5")]
    ['number', 'blank', 'clock', 'flag', 'no value', 'words']
    """
    if not cell:
        return "blank"
    if number_of(cell, decimal) is not None:
        return "number"
    low = cell.lower()
    if low in NO_VALUE:
        return "no value"
    if low in FLAGS:
        return "flag"
    if _CLOCK.fullmatch(cell) or _DATE.fullmatch(cell):
        return "clock"
    return "words"


def advice_for(cell: str) -> str:
    """What to do about a cell that cannot be read, behind a blank; nothing where it tells nothing of its cause.

    Parameters
    ----------
    cell : str
        Its text, trimmed.

    Examples
    --------
    >>> advice_for("####")[:42], advice_for("abc")
    (' A spreadsheet shows # where a column is t', '')
    """
    if not cell or cell.strip("#"):
        return ""
    return " A spreadsheet shows # where a column is too narrow for its number: make it wider there and save again."


def number_of(cell: str, decimal: str) -> float | None:
    """The number a cell holds; None where it holds none.

    Thousands may be grouped by the other mark or a blank, and a common unit may stand behind.

    Parameters
    ----------
    cell : str
        Its text, trimmed.
    decimal : str
        ``.`` or ``,``.

    Examples
    --------
    >>> number_of("1.197,5", ","), number_of("8,400", "."), number_of("8.400", ",") , number_of("1e3", ".")
    (1197.5, 8400.0, 8400.0, 1000.0)
    >>> number_of("(2.88)", "."), number_of("2.88-", "."), number_of("'100.3", "."), number_of("1,00,401", ".")
    (-2.88, -2.88, 100.3, 100401.0)
    >>> number_of("0.1154D+04", "."), number_of("1\u202f003,5", ",")
    (1154.0, 1003.5)
    """
    if not cell or len(cell) > LONGEST_NUMBER:
        return None
    plain, grouped = (_POINT, _POINT_GROUPED) if decimal == "." else (_COMMA, _COMMA_GROUPED)
    if plain.fullmatch(cell):
        return float(cell.replace(",", ".").replace("D", "e").replace("d", "e"))
    if grouped.fullmatch(cell):
        return float(ungrouped(cell, decimal).replace(",", "."))
    match = _WRITTEN_OTHERWISE.fullmatch(cell)
    if match:
        inner = number_of(match["text"] or match["loss"] or match["before"], decimal)
        return inner if inner is None or match["text"] else -inner
    match = _with_unit(cell)
    return number_of(match.group(1), decimal) if match else None


def _with_unit(cell: str) -> re.Match[str] | None:
    match = _WITH_UNIT.fullmatch(cell)
    if match is None and "/" in cell:
        match = _WITH_QUOTIENT.fullmatch(cell)
        return match if match is not None and is_unit(match.group(2)) else None
    return match


def is_plain(cell: str, decimal: str) -> bool:
    """Whether a cell is a bare number with that decimal mark or none.

    Parameters
    ----------
    cell : str
        Its text, trimmed.
    decimal : str
        ``.`` or ``,``.

    Examples
    --------
    >>> is_plain("1,5", ","), is_plain("1.197,5", ","), is_plain("8", ",")
    (True, False, True)
    """
    match = (_POINT if decimal == "." else _COMMA).fullmatch(cell)
    return match is not None and not {"d", "D"}.intersection(cell)


def is_grouped(cell: str, decimal: str) -> bool:
    """Whether a cell is a number with grouped thousands.

    Parameters
    ----------
    cell : str
        Its text, trimmed.
    decimal : str
        ``.`` or ``,``.

    Examples
    --------
    >>> is_grouped("1.197,5", ","), is_grouped("8.300", ","), is_grouped("8.3", ",")
    (True, True, False)
    """
    return (_POINT_GROUPED if decimal == "." else _COMMA_GROUPED).fullmatch(cell) is not None


def ungrouped(cell: str, decimal: str) -> str:
    """A number without the marks that group its thousands; any other cell as it is.

    Parameters
    ----------
    cell : str
        Its text, trimmed.
    decimal : str
        ``.`` or ``,``.

    Examples
    --------
    >>> ungrouped("1.197,5", ","), ungrouped("8,400", "."), ungrouped("8.4", ".")
    ('1197,5', '8400', '8.4')
    """
    if len(cell) < SHORTEST_GROUPED or not is_grouped(cell, decimal):
        return cell
    return re.sub(rf"[{_BETWEEN}]", "", cell).replace("," if decimal == "." else ".", "")


def unit_in_cell(cell: str) -> str:
    """The unit printed behind a number in a cell; empty where there is none.

    Examples
    --------
    >>> unit_in_cell("88.1 mph"), unit_in_cell("88.1")
    ('mph', '')
    """
    match = _with_unit(cell)
    return match.group(2) if match else ""


_DIGITS_AND_MARKS = re.compile(r"[-+]?[\d.,]*\d[\d.,]*")


def thousands_alone(rows: Iterable[Sequence[str]], mark: str) -> bool:
    """Whether a mark in numbers groups thousands throughout, though no decimal mark shows it: 980 is followed by 1,000.

    Parameters
    ----------
    rows : iterable of sequence of str
        Cells.
    mark : str
        A comma or a point.

    Returns
    -------
    bool
        True where every number with it has three digits behind it and no nought before it, and a column holds numbers
        of three digits or fewer as well, without it.

    Examples
    --------
    >>> thousands_alone([["980", "7,850"], ["1,000", "7,900"]], ","), thousands_alone([["0,980"], ["1,000"]], ",")
    (True, False)
    """
    grouped: set[int] = set()
    small: set[int] = set()
    for row in rows:
        for at, cell in enumerate(row):
            plain = cell.strip()
            if mark not in plain:
                if len(plain) <= 3 and plain.isdecimal():
                    small.add(at)
            elif _DIGITS_AND_MARKS.fullmatch(plain):
                if not re.fullmatch(rf"[-+]?[1-9]\d{{0,2}}(?:{re.escape(mark)}\d{{3}})+", plain):
                    return False
                grouped.add(at)
    return bool(grouped & small)

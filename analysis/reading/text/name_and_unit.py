"""One header cell parted into a name and a unit, however the unit is joined to it.

Public: `split_name_and_unit`, `as_meant`, `bare_unit`.
"""

from __future__ import annotations

import html
import re
import unicodedata
from functools import lru_cache

from passband.analysis.channels.recognition import LONGEST_NAME, recognise_name
from passband.analysis.channels.units import is_turning, is_unit, plain_unit, read_unit, stoichiometric_in
from passband.analysis.channels.word_forms import without_storage

_FULL_WIDTH = {at + 0xFEE0: at for at in range(0x21, 0x7F)}
"""Plain signs as they are written among Chinese and Japanese ones, to plain ones (Unicode, U+FF01 on)."""
_BRACKETED = re.compile(
    r"^(.*?)\s*(?:\[([^\[\]]*)\]|\(([^()]*(?:\([^()]*\))?)\)|\{([^{}]*)\}|<([^<>]*)>)\s*$", re.DOTALL
)
_MARK = re.compile(r"\s*(?:,|;|/|:|\bin\b| - )\s*")
_QUOTIENT = re.compile(r"^(.*[^\s_])[ _]+([^\s_/]+/[^\s_/]+)()$", re.DOTALL)
_UNIT_BEFORE = re.compile(r"^(?:\[([^\[\]]+)\]|\(([^()]+)\))\s*([^\W\d].*)$", re.DOTALL)
"""A unit in brackets before its name: ``[kPa] Manifold Pressure``."""
_WITH_JOINTS = re.compile(
    r"^(?P<name>.*[^\W_]\.?)[ _]+(?:(?P<of>[^\W\d_]{1,5}|1)_(?P<over>min|s|sec|h|hr)|"
    r"(?P<degrees>(?i:deg|grad)\.?[ _][CFKcfk]))$",
    re.DOTALL,
)
"""A unit whose stroke is an underscore, as "U_min"; degrees whose letter stands apart."""
_JOINT_LEFT = re.compile(r"(?:\bin|[\s,;:/_-])+$")
_BRACKETED_WITHIN = re.compile(r"^(.*\S)\s*[\[({]([^\[\](){}]+)[\])}](\s+\S.*)$", re.DOTALL)
_AFTER_JOINT = re.compile(r"^(.*(?:[^\W_]|[\])}]))[_ .]([°º˚\ufffd\"]?[^\W_%]+|%)$", re.DOTALL)
# After a mere blank or underscore only what cannot be part of a name counts as a unit.
_CLEAR_UNITS = frozenset(
    "kpa pa psi psig psia bar mbar hpa mpa inhg mmhg kmh kph mph mps degc degf rpm % pct kg/h lb/h volts volt mv ms "
    'us msec usec g hz °c °f percent prozent procent inhga kpaa bara barg knot knots kts kn deg 1min ms2 "hg '
    "permille promille permil ‰ mps2 radps kmph".split()
)
_RATE_BEHIND = re.compile(r"(?i)(?<=\S)\s*(?:[\[({<]\s*@?\s*\d+(?:[.,]\d+)?\s*(?:hz|sps)\s*[\])}>]|@\s*\d+\s*hz)$")
"""How often a channel is logged, in brackets behind its name."""
_TASK_BEHIND = re.compile(r"(?i)(?<=[^\W_])_\d{1,4}(?:ms|hz)(?=\s*(?:[\[(]|$))")
_QUOTIENT_ALONE = re.compile(r"[^\s/\d]{1,12}/[^\s/\d]{1,12}")
_WITH_ITS_ZERO = re.compile(r"(?i)^(.*[^\W_])[ _]+([a-z]{2,4}[ _]+(?:abs|absolute|gauge|gage|rel)\.?)$", re.DOTALL)
"""A pressure's unit and what it counts from, without brackets: ``Boost kPa abs``."""
_BEHIND_SIGNS = re.compile(r"^(.*[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7af])([℃℉°%]?[A-Za-z/²^0-9]*)$", re.DOTALL)
"""A unit right behind Japanese, Chinese or Korean signs, which are written without blanks."""
_SCALED = re.compile(
    r"(?i)^(.*\b(?:rpm|speed|revs|drehzahl|r[eé]gime|giri|n))[\s_]*[(\[]?\s*([x×*/]\s*(?:1000|100|10))\s*[)\]]?$"
)
_CAMEL = re.compile(r"^([^\W\d_][^\W_]*?[a-z0-9])(Deg[CF]|K[Pp]a|[A-Z][a-z]*)$")
"""Words joined, each with a capital, the last of which may be a unit: ``oilPressureBar``."""
_AFR_OF_FUEL = re.compile(
    r"(?i)^(?:(?P<name>.*\b(?:afr|a/f|air[ /-]?fuel(?: ratio)?)(?:[ _]?\d{1,2})?)[ _]*[\[(,:/ _-][ _]*"
    r"(?P<fuel>e\d{2,3}|m100|ethanol|methanol|meth)[\])]?|(?P<first>e\d{2,3}|m100|ethanol|methanol)[ _]+"
    r"(?P<rest>afr(?:[ _]?\d{1,2})?))$"
)
"""A ratio of air to fuel and the fuel it is counted by: ``AFR (E85)``, ``Methanol AFR``."""
_BEHIND_BRACKET = re.compile(r"(?<=[\])])\s*[*†‡?!¹²³]{1,3}$")
"""A mark of a footnote behind a unit."""
_RANGE_JOINED = re.compile(r"(?i)(?<=\d)(bar|psi|kpa)$")
"""A unit right behind a sensor's range: ``Fuel 7bar``."""
_UNIT_FIRST = re.compile(r"^([^\W\d_]{1,5})_([^\W\d]\w*)$")
"""A unit before its name, joined to it: ``kPa_map``."""
_RANGE_FIRST = re.compile(r"(?i)^\d(?:[.,]\d{1,2})? ?bar +(?=[^\W\d]{3})")
"""A sensor's range before what it measures: ``3 Bar MAP``."""
_TWO_OF_BOOST = re.compile(
    r"(?i)^(?P<one>boost|vac(?:uum)?)\s*[\[(](?P<one_unit>[^\[\]()]{1,12})[\])]\s*[/&|+-]\s*"
    r"(?P<other>boost|vac(?:uum)?)\s*[\[(](?P<other_unit>[^\[\]()]{1,12})[\])]$"
)
"""A gauge of two scales, each with its unit: ``Boost (psi) / Vac (inHg)``."""
_SHORT_BEFORE_UNIT = re.compile(r"^([A-Z]{2,5}\d?)(kPa|hPa|mbar|bar|psi|mph|km/h)$")
"""A short form in capitals with its unit right behind: ``MAPkPa``."""
_NAMED_BY_UNIT = frozenset("mph kph kmh km/h".split())
"""Units that stand for the name as well: a column called MPH is a speed."""
_TEMPERATURE_LETTERS = frozenset("cfk")


def as_meant(cell: str) -> str:
    """A header cell as it was meant: UTF-8 that was taken for Latin letters, letters of no width, a page's entities.

    Examples
    --------
    >>> as_meant("\u00c3\u2013ldruck"), as_meant("\u00d6ldruck"), as_meant("\u200bOil\u00a0temp (&deg;C)")
    ('Öldruck', 'Öldruck', 'Oil temp (°C)')
    """
    if "&" in cell and ";" in cell:
        cell = html.unescape(cell)
    if cell.isascii():
        return cell
    cell = cell.translate(_FULL_WIDTH)
    for page in ("cp1252", "latin-1"):
        try:
            return cell.encode(page).decode("utf-8")
        except UnicodeError:
            continue
    return "".join(letter for letter in cell if unicodedata.category(letter) != "Cf").replace("\u00a0", " ").strip()


@lru_cache(maxsize=4096)
def split_name_and_unit(header: str) -> tuple[str, str]:
    """The name and the unit in one header cell.

    Parameters
    ----------
    header : str
        As written.

    Returns
    -------
    tuple of str
        Name and unit; the unit is empty where the header holds none.

    Examples
    --------
    >>> split_name_and_unit("Vehicle Speed (driven) (km/h)"), split_name_and_unit("Boost / bar")
    (('Vehicle Speed (driven)', 'km/h'), ('Boost', 'bar'))
    >>> split_name_and_unit("MAP_kPa"), split_name_and_unit("Shift Cut"), split_name_and_unit("Water Temp C")
    (('MAP', 'kPa'), ('Shift Cut', ''), ('Water Temp', 'C'))
    >>> split_name_and_unit("Vehicle Speed km/h"), split_name_and_unit("Speed [km/h] (driven)")
    (('Vehicle Speed', 'km/h'), ('Speed (driven)', 'km/h'))
    >>> split_name_and_unit("v/(km/h)"), split_name_and_unit("p_Oel/bar")  # a quantity over its unit
    (('v', 'km/h'), ('p_Oel', 'bar'))
    >>> split_name_and_unit("km/h")  # a unit that is the name as well
    ('km/h', 'km/h')
    >>> split_name_and_unit("oilPressureBar"), split_name_and_unit("engineRpm")
    (('oilPressure', 'Bar'), ('engineRpm', ''))
    >>> split_name_and_unit("u16OilPressKpa"), split_name_and_unit("EctDegC")
    (('OilPress', 'Kpa'), ('Ect', 'DegC'))
    >>> split_name_and_unit("Oil Press psi (Analog 3)"), split_name_and_unit("Wheel Speed (driven) rear")
    (('Oil Press (Analog 3)', 'psi'), ('Wheel Speed (driven) rear', ''))
    >>> split_name_and_unit("[bar] Manifold Pressure"), split_name_and_unit("AFR 1 (E85)")
    (('Manifold Pressure', 'bar'), ('AFR 1', 'AFR E85'))
    """
    if len(header) > LONGEST_NAME:  # prose or damage: to look for a unit at each of its marks took seconds
        return header, ""
    header = _without_its_task(_RATE_BEHIND.sub("", without_storage(" ".join(header.split()))))
    ranged = _RANGE_FIRST.sub("", header)
    header = ranged if ranged != header and recognise_name(split_name_and_unit(ranged)[0]) else header
    header = _BEHIND_BRACKET.sub("", _RANGE_JOINED.sub(r" \1", header))
    if "/" in header and (is_turning(header) or plain_unit(header) in _NAMED_BY_UNIT):
        return header, header
    own = _in_a_form_of_its_own(header)
    if own is not None:
        return own
    match = _BRACKETED.match(header)
    if match and match.group(1):
        inner = next(group for group in match.groups()[1:] if group is not None).strip()
        foreign = _QUOTIENT_ALONE.fullmatch(inner) and recognise_name(match.group(1)) and not recognise_name(header)
        if "[" in header[match.end(1) :] or is_unit(inner) or foreign:
            return match.group(1).strip(" ,;:-/"), inner
    if match and match.group(1):  # brackets that say where it comes from, behind a unit: "Oil Press psi (Analog 3)"
        name, unit = split_name_and_unit(match.group(1))
        if unit and name != match.group(1) and not recognise_name(header):
            return f"{name} {header[match.end(1) :].strip()}", unit
    match = _QUOTIENT.match(header) or _BRACKETED_WITHIN.match(header)
    if match and is_unit(match.group(2)) and not _says_less(match.group(1), header):
        return _JOINT_LEFT.sub("", f"{match.group(1)}{match.group(3)}"), match.group(2)
    for mark in _MARK.finditer(header):
        name, unit = header[: mark.start()], header[mark.end() :].strip()
        if any(name.count(left) > name.count(right) for left, right in ("()", "[]", "{}")):
            continue  # "Flow (kg/stroke)": the mark belongs to what is in brackets
        if name and is_unit(unit) and not ("-" in mark.group() and len(unit) < 2 and not _is_clear_unit(name, unit)):
            if _says_less(name, header):
                continue
            return name.strip(), unit
    match = _WITH_JOINTS.match(header)
    if match:
        unit = match["degrees"] or f"{match['of']}/{match['over']}"
        if is_unit(unit) and (match["degrees"] or not recognise_name(header)):
            return match["name"], unit
    match = _WITH_ITS_ZERO.match(header)
    if match and is_unit(match.group(2)) and read_unit(match.group(2)).reference:
        return match.group(1), match.group(2)
    match = _BEHIND_SIGNS.match(header)
    if match and match.group(2) and is_unit(match.group(2)):
        return match.group(1).strip(), match.group(2)
    match = _AFTER_JOINT.match(header)
    if match and _is_clear_unit(match.group(1), match.group(2)):
        name, unit = match.group(1).strip(), match.group(2).strip()
        return (header if _mean_another(name, header) else name), _with_its_stroke(name, unit)
    if re.fullmatch(r"t(?:Ms|Us|Sec)", header):
        return "t", header[1:]
    match = _SHORT_BEFORE_UNIT.match(header) or _CAMEL.match(header)
    if match and _is_clear_unit(match.group(1), match.group(2)):
        return (header if _mean_another(match.group(1), header) else match.group(1)), match.group(2)
    return header, header if plain_unit(header) in _NAMED_BY_UNIT else ""


def _in_a_form_of_its_own(header: str) -> tuple[str, str] | None:
    """Name and unit where the unit stands before the name, is a factor, a fuel's ratio, or one of two scales."""
    of_fuel = _AFR_OF_FUEL.match(header)
    if of_fuel and stoichiometric_in(unit := f"AFR {of_fuel['fuel'] or of_fuel['first']}") is not None:
        return of_fuel["name"] or of_fuel["rest"], unit
    first = _UNIT_FIRST.match(header)
    if first and plain_unit(first[1]) in _CLEAR_UNITS and not recognise_name(header):
        named = [recognise_name(f"{first[2]}{more}") for more in ("", " pressure", " temperature", " speed")]
        if any(known and not known[0].completed for known in named):
            return first[2], first[1]
    two = _TWO_OF_BOOST.match(header)
    if two and is_unit(two["one_unit"]) and is_unit(two["other_unit"]):
        return f"{two['one']}/{two['other']}", f"{two['one_unit']}/{two['other_unit']}"
    before = _UNIT_BEFORE.match(header)
    if before and is_unit(unit := (before.group(1) or before.group(2)).strip()):
        return before.group(3), unit
    scaled = _SCALED.match(header)
    if scaled:
        return scaled.group(1).strip(), scaled.group(2)
    return None


def _without_its_task(header: str) -> str:
    """``MAP_20ms [kPa]`` without the task of the computer that it is measured in, behind what is no time."""
    match = _TASK_BEHIND.search(header)
    known = recognise_name(header[: match.start()]) if match else ()
    return header[: match.start()] + header[match.end() :] if match and known and known[0].channel != "time" else header


def _with_its_stroke(name: str, unit: str) -> str:
    """``Vehicle Speed_ms``: metres per second where names take no stroke; a speed is in no milliseconds."""
    speed = unit == "ms" and any("speed" in match.channel for match in recognise_name(name))
    return "m/s" if speed else unit


def _mean_another(name: str, header: str) -> bool:
    """Whether a header means another channel with its unit than without: "Launch G" is no launch switch."""
    whole, part = ({match.channel for match in recognise_name(text)} for text in (header, name))
    return bool(whole and part and not whole & part)


def _says_less(name: str, header: str) -> bool:
    """Whether a header is known and the name without its end is not: in "A/F" the mark belongs to the name."""
    return bool(recognise_name(header)) and not recognise_name(name)


def _is_clear_unit(name: str, unit: str) -> bool:
    plain = plain_unit(unit)
    if plain in _TEMPERATURE_LETTERS:
        hot = any("temperature" in match.channel for match in recognise_name(name))
        return hot or bool(re.search(r"(?i)temp|egt|clt|iat|ect|coolant|^(?:oil|water|trans)$|^t[_ ]", name))
    if plain == "mg":  # thousandths of gravity behind an acceleration, else a mass
        return any("acceleration" in match.channel for match in recognise_name(name))
    if plain == "v":
        return any(match.channel == "battery" for match in recognise_name(name))
    if plain in ("s", "h", "min", "ns"):
        return any(match.channel == "time" for match in recognise_name(name))
    if plain not in _CLEAR_UNITS:
        return False
    # "Engine RPM", "Battery Volts", "Lateral G": there the unit is the name
    return bool(recognise_name(name)) or not recognise_name(f"{name} {unit}")


def bare_unit(cell: str) -> str:
    """A cell of the units row without the brackets some loggers put around it.

    Parameters
    ----------
    cell : str
        As written.

    Examples
    --------
    >>> bare_unit("[kPa]"), bare_unit("--")
    ('kPa', '')
    """
    inner = re.fullmatch(r"[\[({<]\s*(.*?)\s*[\])}>]", cell)
    unit = inner.group(1) if inner else cell
    return "" if unit in ("-", "--", "–", "—", "1", "none", "n/a", "unitless", "[]") else unit

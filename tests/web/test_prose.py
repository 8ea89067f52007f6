"""Sentences of the analysis in the reader's units.

Evidence: hand; factors are by definition of foot, pound and standard gravity.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

import pytest

from passband import analysis
from passband.web.wording.prose import in_units, sentences_in_units


@pytest.mark.parametrize(
    ("written", "us", "metric"),
    [
        ("300 kW, give or take 42: check", "402 ±56 hp: check", "300 ±42 kW: check"),
        ("567 hp give or take 24, clock start", *["567 ±24 hp, clock start"] * 2),
        ("3 hp less, give or take 2 between", *["3 hp less, give or take 2 between"] * 2),
        ("within 0.1%", "within 0.1 %", "within 0.1 %"),
        ("mean boost 66 / 71 kPa", "mean boost 9.6 / 10.3 psi", "mean boost 66 / 71 kPa"),
        ("wind of 2 m/s", "wind of 4.5 mph", "wind of 7.2 km/h"),
        ("1-2 (48 m in A, 55 m in B)", "1-2 (157 ft in A, 180 ft in B)", "1-2 (48 m in A, 55 m in B)"),
        ("at 300 ft (91 m)", "at 300 ft (91 m)", "at 300 ft (91 m)"),
        ("250 kPa (36.3 psi)", "36.3 psi", "250 kPa (36.3 psi)"),
        ("20 degC +- 5 degC", "68 °F ±9.0 °F", "20 °C ±5 °C"),
        ("manifold pressure -22 kPa", "manifold pressure −3.2 psi", "manifold pressure −22 kPa"),
        ("309 g/kWh", "0.508 lb/hp·h", "309 g/kWh"),
        ("5300 to 7800 rpm, shift 1-2", "5,300 to 7,800 rpm, shift 1-2", "5,300 to 7,800 rpm, shift 1-2"),
        ('write "60 psi" or "60 kPa"', 'write "60 psi" or "60 kPa"', 'write "60 psi" or "60 kPa"'),
        ("the engine's 7 kW and the car's", "the engine's 9.4 hp and the car's", "the engine's 7 kW and the car's"),
        ("from 7,000 to 8,000 rpm, at 1,320 ft", *["from 7,000 to 8,000 rpm, at 1,320 ft"] * 2),
        ("dropped 2,030 ±76 rpm", "dropped 2,030 ±76 rpm", "dropped 2,030 ±76 rpm"),
        ("1,200 kW", "1,609 hp", "1,200 kW"),
        ("heat of 211 kJ", "heat of 200 Btu", "heat of 211 kJ"),  # 1.05506 kJ a Btu
        ("", "", ""),
    ],
)  # fmt: skip
def test_a_sentence_is_read_in_one_unit_system(written, us, metric):
    assert (in_units(written, "us"), in_units(written, "metric")) == (us, metric)
    assert in_units(us, "us") == us


def test_every_finding_of_an_answer_is_said_in_the_readers_units():
    one, other = ({"code": "x", "level": "note", "text": text} for text in ("It was 7 kPa.", "It was 300 kW."))
    answer = {"findings": [one], "searched": [{"findings": [other], "text": "9 kPa"}], "print": "7 kPa"}
    assert sentences_in_units(answer, "us") == {"It was 7 kPa.": "It was 1.0 psi.", "It was 300 kW.": "It was 402 hp."}


ANALYSIS = Path(analysis.__file__).parent
LEFT_IN_SI = re.compile(r"\d (?:kPa|Pa|hPa|bar|kW|W|kJ|m/s2?|km/h|kg|kg/h|g/kWh|degC|K|Nm|N|mm|m)(?![\w/^])")
AS_THEIR_SHEETS = {"bench/head.py", "bench/sheets.py", "turbo/map.py"}
"""A flow bench's depression and a map's reference conditions are told in the units of their sheets."""
FEET_BESIDE = re.compile(r"\d ft \(\d+\.\d m\)")


def sentences_with_quantities() -> list[tuple[str, int, str]]:
    """Every sentence that the analysis makes with a number in it, a sample number in the place of each value."""
    made = []
    for path in sorted(ANALYSIS.rglob("*.py")):
        for one in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(one, ast.JoinedStr):
                text = "".join(part.value if isinstance(part, ast.Constant) else "12.3" for part in one.values)
                made.append((path.relative_to(ANALYSIS).as_posix(), one.lineno, text))
    return made


def test_every_quantity_that_the_analysis_writes_is_written_as_prose_reads_it():
    # Planted: a sample in each f-string; what stays in SI for a reader of the other system was not understood
    sentences = sentences_with_quantities()
    assert sum(in_units(text, "us") != text for _, _, text in sentences) > 20  # the walk finds them
    shown = [(name, line, in_units(text, "us")) for name, line, text in sentences if name not in AS_THEIR_SHEETS]
    bare = [(name, line, FEET_BESIDE.sub("", re.sub(r'"[^"]*"', "", text))) for name, line, text in shown]
    left = [one for one in bare if LEFT_IN_SI.search(one[2])]
    assert left == []

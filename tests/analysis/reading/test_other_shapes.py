"""Tables that lie on their side or stand in the marks of a page, XML or JSON. All *planted*."""

from __future__ import annotations

import json

import numpy as np
import pytest

from passband.analysis.channels.log import Log, NotALog
from passband.analysis.reading import read_log
from tests.analysis.reading.hard_run import hard_run, printed

RUN = hard_run(rate_hz=50.0)
COLUMNS = {
    "Time [s]": printed(RUN.time_s, 2),
    "Engine Speed [rpm]": printed(RUN.engine_speed, 0),
    "Throttle [%]": printed(100.0 * RUN.throttle, 1),
    "Oil Temp [°C]": printed(RUN.oil_temperature - 273.15, 1),
}
ROWS = list(zip(*COLUMNS.values(), strict=True))
ROOMY = {"engine_speed": 0.6, "throttle": 0.001, "oil_temperature": 0.06}


def read(text: str, *, encoding: str = "utf-8") -> Log:
    (log,) = read_log(text.encode(encoding), name="shape.txt")
    return log


def assert_reads_all(log: Log) -> None:
    for channel, slack in ROOMY.items():
        found = log.get(channel)
        assert found is not None, [one.name for one in log.channels]
        np.testing.assert_allclose(found.time_s, RUN.time_s - RUN.time_s[0], atol=1e-6)
        np.testing.assert_allclose(found.values, RUN.of(channel), atol=slack)


def page(*, closed: bool) -> str:
    """A page as a dash saves it; its marks closed or left open, as both are allowed."""
    row, cell = ("</tr>", "</td>") if closed else ("", "")
    heads = "".join(f"<th>{name.replace('°', '&deg;')}</th>" for name in COLUMNS)
    lines = ["<tr>" + "".join(f"<td align=right> <b>{one}</b>{cell}" for one in of_row) + row for of_row in ROWS]
    script = "<script>if (1 < 2) document.write('<td>')</script><!-- <td>no</td> --><style>td {color: red}</style>"
    return f"<html><head>{script}</head><body><h1>Run</h1>\n<table><tr>{heads}</tr>\n" + "\n".join(lines) + "</table>"


@pytest.mark.parametrize("closed", [True, False])
def test_a_page_with_a_table(closed):
    log = read(page(closed=closed))
    assert_reads_all(log)
    assert {finding.code: finding.level for finding in log.findings}["shape-changed"] == "note"


def test_a_table_of_facts_before_the_rows_of_a_page():
    facts = "<table><tr><td>Car</td><td colspan=3>blue</td></tr><tr><td>Run</td><td>4</td></tr></table>"
    assert_reads_all(read(page(closed=True).replace("<h1>", facts + "<h1>")))


def test_xml_with_attributes_or_elements_for_values():
    names = ("time_s", "engine_rpm", "throttle_pct", "oil_temp_c")
    attributes = "".join(
        "<s " + " ".join(f'{name}="{cell}"' for name, cell in zip(names, row, strict=True)) + "/>" for row in ROWS
    )
    elements = "".join(
        "<s>" + "".join(f"<{name}>{cell}</{name}>" for name, cell in zip(names, row, strict=True)) + "</s>"
        for row in ROWS
    )
    for rows in (attributes, elements):
        assert_reads_all(read(f'<?xml version="1.0"?>\n<log><device name="x"/><run id="3">{rows}</run></log>'))


def test_xml_whose_rows_are_cells_alike_with_some_left_out():
    cells = [list(row) for row in ROWS]
    rows = "".join(
        "<Row>" + "".join(f"<Cell><Data>{cell}</Data></Cell>" for cell in row) + "</Row>"
        for row in [list(COLUMNS), *cells[:-1]]
    )
    last = f'<Row><Cell><Data>{cells[-1][0]}</Data></Cell><Cell Index="4"><Data>{cells[-1][3]}</Data></Cell></Row>'
    log = read(f"<Sheet><Table>{rows}{last}</Table></Sheet>")
    oil = log.get("oil_temperature")
    assert oil is not None and oil.values[-1] == pytest.approx(float(cells[-1][3]) + 273.15)
    assert log.get("engine_speed").values.size in (len(ROWS) - 1, len(ROWS))


def numbers() -> dict[str, list[float]]:
    return {name: [float(cell) for cell in cells] for name, cells in COLUMNS.items()}


@pytest.mark.parametrize(
    "shape",
    [
        lambda: {"device": "x", "channels": numbers()},
        lambda: [dict(zip(COLUMNS, map(float, row), strict=True)) for row in ROWS],
        lambda: {"columns": list(COLUMNS), "rows": [list(map(float, row)) for row in ROWS]},
        lambda: [list(COLUMNS), *(list(map(float, row)) for row in ROWS)],
        lambda: {
            "data": [
                {"name": name.split(" [")[0], "unit": name.split("[")[1][:-1], "values": values}
                for name, values in numbers().items()
            ]
        },
    ],
    ids=["columns", "records", "names beside rows", "names first", "series"],
)
@pytest.mark.parametrize("indent", [None, 1])
def test_one_object_of_json(shape, indent):
    assert_reads_all(read(json.dumps(shape(), indent=indent, ensure_ascii=False)))


def test_a_rate_beside_columns_of_json_is_their_time():
    held = {name: values for name, values in numbers().items() if "Time" not in name}
    log = read(json.dumps({"sample_rate_hz": 50, "channels": held}, ensure_ascii=False))
    assert log.time.last_s - log.time.first_s == pytest.approx(RUN.time_s[-1] - RUN.time_s[0], abs=0.021)


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
@pytest.mark.parametrize("apart", [False, True], ids=["units in names", "units apart"])
def test_channels_from_left_to_right_are_stood_up(delimiter, apart):
    heads = [name.replace("]", "").split(" [") if apart else [name] for name in COLUMNS]
    lines = [delimiter.join([*head, *cells]) for head, cells in zip(heads, COLUMNS.values(), strict=True)]
    assert_reads_all(read("\n".join(lines) + "\n"))


def test_rows_of_numbers_under_names_are_not_turned():
    # As many columns as a lying table has moments, in few rows: 30 names, 20 rows
    names = ["Time", *(f"Raw {at}" for at in range(29))]
    rows = [[f"{0.1 * row:.1f}", *(str(row * at % 17) for at in range(29))] for row in range(20)]
    log = read("\n".join(",".join(line) for line in [names, *rows]) + "\n")
    assert log.text.rows == 20 and all(one.code != "shape-changed" for one in log.findings)


@pytest.mark.parametrize(
    "text",
    [
        '<!DOCTYPE l [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]><l><r t="0" v="&b;"/></l>',
        "<table>" + "<td>" * 2000,
        "<a>" * 5000,
        "[" * 5000,
        '{"a":' * 5000,
        "<html><body><p>No table here.</p></body></html>",
        '{"name": "run", "laps": [1, 2]}',
    ],
    ids=["entities", "cells", "elements", "lists", "objects", "prose", "facts"],
)
def test_marks_without_a_table_are_refused(text):
    with pytest.raises(NotALog, match=r"shape\.txt: looked for"):
        read(text)


def test_sentences_of_a_receiver_lose_sign_and_sum():
    lines = [f"$LOG,{','.join(row)}*{sum(map(ord, ''.join(row))) % 256:02X}" for row in ROWS]
    assert_reads_all(read("\n".join([",".join(COLUMNS), *lines]) + "\n"))


def test_a_clock_before_named_values_is_their_time():
    def stamp(seconds: float) -> str:
        return f"Jun 14 14:{int(seconds // 60):02d}:{seconds % 60:06.3f} ecu[12]:"

    lines = [
        f"{stamp(t + 5.0)} rpm={rpm} tps={tps} oil_temp_c={oil}"
        for t, (_, rpm, tps, oil) in zip(RUN.time_s, ROWS, strict=True)
    ]
    assert_reads_all(read("\n".join(lines) + "\n"))


def test_a_semicolon_behind_each_row_is_no_cell():
    lines = [",".join(row) + ";" for row in [tuple(COLUMNS), *ROWS]]
    assert_reads_all(read("\n".join(lines) + "\n"))


def test_a_sign_before_names_parted_by_blanks():
    lines = ["# time_s rpm tps_pct oil_temp_c", *(" ".join(row) for row in ROWS)]
    assert_reads_all(read("\n".join(lines) + "\n"))


@pytest.mark.parametrize("label", ["CH{}: {}", "Y{} {}", "{} {}", "Input{}={}"])
def test_numbers_of_inputs_before_names_are_no_cylinders(label):
    heads = [label.format(at, name) for at, name in enumerate([*COLUMNS, "Lambda"], start=1)]
    log = read("\n".join([",".join(heads), *(",".join((*row, "0.85")) for row in ROWS)]) + "\n")
    assert_reads_all(log)
    assert log.get("lambda") is not None


@pytest.mark.parametrize("line", ["Channel: {}", "# {}", "Signal 3 = {}", "{}:"])
def test_tables_of_one_channel_each_that_a_line_above_names(line):
    stamps = COLUMNS["Time [s]"]
    blocks = [
        "\n".join(
            [
                line.format(name.replace("[", "(").replace("]", ")")),
                "Time [s],Value",
                *map(",".join, zip(stamps, cells, strict=True)),
            ]
        )
        for name, cells in COLUMNS.items()
        if "Time" not in name
    ]
    assert_reads_all(read("\n\n".join(blocks) + "\n"))


def test_a_line_above_that_names_no_channel_is_none():
    rows = "\n".join(f"{at / 50:.2f},{at % 7}" for at in range(100))
    log = read(f"Afternoon\nTime [s],Value\n{rows}\n")
    assert [one.name for one in log.channels] == ["Value"]


def test_numbers_of_channels_that_lines_above_explain():
    stamps = COLUMNS["Time [s]"]
    channels = {12 + at: name for at, name in enumerate(name for name in COLUMNS if "Time" not in name)}
    legend = [f"{number} = {name}" for number, name in channels.items()]
    rows = [
        f"{number};{stamps[at]};{COLUMNS[name][at]}" for at in range(len(stamps)) for number, name in channels.items()
    ]
    log = read("\n".join(["Device 7", *legend, "id;t;v", *rows, ""]))
    assert_reads_all(log)
    assert "long-form" in {finding.code for finding in log.findings}


def test_a_state_that_lines_above_explain_is_no_channel_of_its_own():
    lines = [
        "1 = ready",
        "2 = armed",
        "State,Time [s],RPM",
        *(f"{1 + at // 60},{at / 50:.2f},{900 + at}" for at in range(120)),
    ]
    log = read("\n".join(lines) + "\n")
    assert log.get("engine_speed") is not None and len(log.channels) == 2

"""What the reader tells of a file."""

import json

from passband.analysis.reading import describe, read_log
from passband.analysis.reading.description import description_json
from tests.analysis.reading.dialects import Dialect, a_run, write


def test_all_that_was_understood_is_plain_json():
    data = write(a_run(60), Dialect(delimiter=";", decimal=",", units="row", preamble=("Crew{d}three",))).data
    told = json.loads(json.dumps(description_json(describe(read_log(data, name="run.csv"))), allow_nan=False))
    assert set(told) >= {"text", "time", "channels", "findings"}
    assert {key: told["text"][key] for key in ("encoding", "delimiter", "decimal", "header_line", "units_line")} == {
        "encoding": "utf-8",
        "delimiter": ";",
        "decimal": ",",
        "header_line": 2,
        "units_line": 3,
    }
    assert told["text"]["preamble"] == [{"key": "Crew", "value": "three"}]
    assert (told["time"]["basis"], told["time"]["first_s"], told["time"]["last_s"]) == ("column Time", 0.0, 0.59)


def test_each_channel_tells_header_name_unit_rate_and_range():
    told = describe(read_log(write(a_run(60), Dialect()).data, name="run.csv"))
    engine, bottle = told.channels[0], told.channels[-1]
    assert (engine.header, engine.channel, engine.unit) == ("Engine Speed [rpm]", "engine_speed", "rpm")
    assert (engine.rate_hz, engine.samples, engine.resolution) == (100.0, 60, 1.0)
    assert engine.least < 950 < engine.greatest
    assert (bottle.channel, bottle.unit) == (None, "bar")

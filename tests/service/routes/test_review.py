"""A run's review, traces, logs and export: what was measured comes out, thinned only for the eye."""

from __future__ import annotations

import io

import numpy as np
import polars as pl
import pyarrow as pa
import pytest

from passband.service.answers.shared import listed

ONE_RUN = b"runs=1\n"


@pytest.fixture
def run(upload):
    return f"/api/runs/{upload(ONE_RUN, b'runs=1 dash', label='=Q1').json()['runs'][0]['id']}"


def test_the_review_has_the_names_of_the_contract_and_no_nan(client, run):
    response = client.get(f"{run}/review")
    review = response.json()
    assert {"run", "window", "clocks", "distance", "gears", "launch", "shifts", "boost", "power", "band", "limits",
            "findings", "car"} <= set(review)  # fmt: skip
    assert "NaN" not in response.text and "traces" not in review and "motion" not in review
    assert "gear" not in review["gears"]


def test_traces_keep_the_extremes_and_say_that_they_are_thinned(client, run):
    told = client.get(f"{run}/traces?channels=engine_speed,speed_mps&by=time&points=100").json()
    engine = told["channels"][0]
    assert engine["thinned"] and engine["samples"] == 1600 and len(engine["x"]) <= 100
    assert (min(engine["y"]), max(engine["y"])) == (6000.0, pytest.approx(7399.0))  # planted: 6000 + 100 t to 13.99 s
    assert engine["unit"] == "rpm" and engine["title"] == "Engine speed"


def test_traces_that_fit_are_whole(client, run):
    told = client.get(f"{run}/traces?channels=speed_mps&by=time&points=5000").json()["channels"][0]
    assert not told["thinned"] and len(told["x"]) == told["samples"] == 1600


def test_traces_by_distance_begin_at_the_line(client, run):
    told = client.get(f"{run}/traces?channels=speed_mps&points=5000").json()["channels"][0]
    x, y = np.array(told["x"]), np.array(told["y"])
    assert x[0] == 0.0 and np.all(np.diff(x) >= 0)
    np.testing.assert_allclose(y, np.sqrt(2 * 8.0 * x), atol=1e-6)  # hand: v = sqrt(2 a s)


def test_a_channel_that_is_not_there_is_told(client, run, assert_problem):
    told = client.get(f"{run}/traces?channels=engine_speed,boost").json()
    assert told["missing"] == ["boost"]
    body = assert_problem(client.get(f"{run}/traces?channels=boost"), 404)
    assert "engine_speed" in body["detail"]


def test_a_name_with_a_comma_is_asked_for_in_quotes():
    # Hand: as a row of CSV has it
    assert listed('engine_speed, "Boost, target", say ""12"", "a ""b"""', most=4, what="channels") == [
        "engine_speed", "Boost, target", 'say ""12""', 'a "b"',
    ]  # fmt: skip
    assert listed("", most=4, what="channels") == []


def test_traces_come_as_arrow_by_accept(client, run):
    accept = {"Accept": "application/vnd.apache.arrow.stream"}
    response = client.get(f"{run}/traces?channels=engine_speed,speed_mps&by=time&points=100", headers=accept)
    assert response.headers["content-type"] == "application/vnd.apache.arrow.stream"
    table = pa.ipc.open_stream(response.content).read_all()
    assert table.column_names == ["channel", "time_s", "value"]
    assert table.schema.metadata[b"thinned"] == b"engine_speed,speed_mps"
    as_json = client.get(f"{run}/traces?channels=engine_speed,speed_mps&by=time&points=100").json()
    assert table.num_rows == sum(len(channel["x"]) for channel in as_json["channels"])


def test_the_parquet_export_holds_every_channel(client, run):
    response = client.get(f"{run}/export?format=parquet")
    frame = pl.read_parquet(io.BytesIO(response.content))
    assert frame.columns[:6] == ["time_s", "distance_m", "speed_mps", "acceleration_mps2", "gear", "engine_speed"]
    assert "engine_speed.1" in frame.columns
    assert response.headers["content-disposition"] == "attachment; filename*=UTF-8''%3DQ1.parquet"


def test_the_csv_export_reads_back_equal_and_runs_no_formula(client, run):
    parquet = pl.read_parquet(io.BytesIO(client.get(f"{run}/export").content))
    text = client.get(f"{run}/export?format=csv").content
    heads = text.split(b"\r\n")[0]
    assert heads.endswith(b'"\'=Odd ""name"", quoted",engine_speed.1 [rpm]')
    back = pl.read_csv(io.BytesIO(text), schema_overrides=parquet.dtypes)
    assert back.rename(dict(zip(back.columns, parquet.columns, strict=True))).equals(parquet)
    assert ",-1.5," in text.decode()  # a negative number stays a number

"""Channels by their titles: in headings, in sentences, and understood where somebody writes one of them.

Evidence: hand.
"""

from __future__ import annotations

import re

import pytest

from passband.analysis.channels.catalogue import CATALOGUE
from passband.analysis.channels.recognition import channel_named
from passband.web.wording.channel_titles import by_title


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("Tell which column is manifold_pressure or boost.", "Tell which column is manifold pressure or boost."),
        ("lambda_1 is flat. wheel_speed_fl is too.", "Lambda 1 is flat. Wheel speed front left is too."),
        ("matched through gps_speed.", "matched through GPS speed."),
        ("exhaust_temperature_2 against acceleration_lateral", "Exhaust temperature 2 against acceleration (sideways)"),
        ("write 'oil_pressure' or \"oil_pressure\"", "write 'oil_pressure' or \"oil_pressure\""),
        ("oil_pressure.csv, my_own_channel, Oil_pressure", "oil_pressure.csv, my_own_channel, Oil_pressure"),
    ],
)  # fmt: skip
def test_a_sentence_calls_channels_by_their_titles(written, read):
    assert by_title(written) == read
    assert by_title(read) == read


@pytest.mark.parametrize("name", [name for name in CATALOGUE if not name.startswith("acceleration_")])
def test_a_channel_is_known_by_the_words_that_a_sentence_calls_it(name):
    # Who reads "wheel speed front left" writes that into the car's file
    assert channel_named(re.sub(r"^of ", "", by_title(f"of {name}"))) == name

"""The catalogue of channels."""

import re

import pytest

from passband.analysis.channels.aliases import GOES_BY, aliases_of
from passband.analysis.channels.catalogue import CATALOGUE, family_of, kind_of
from passband.analysis.channels.languages import foreign_aliases_of
from passband.analysis.quantities import conversion_to_si


def test_names_are_plain_and_units_known():
    for name, kind in CATALOGUE.items():
        assert name == kind.name and re.fullmatch(r"[a-z]+(_[a-z]+)*", name)
        assert kind.unit == "" or conversion_to_si(kind.unit, si_unit=kind.unit) is not None
        assert kind.low < kind.high and kind.title


def test_a_shown_unit_converts_to_the_kept_one():
    for kind in CATALOGUE.values():
        if kind.shown_unit:
            assert conversion_to_si(kind.shown_unit, si_unit=kind.unit) is not None, kind.name


def test_every_channel_has_its_own_words_first_and_aliases_in_lower_case():
    for kind in CATALOGUE.values():
        assert kind.aliases[0] == kind.name.replace("_", " ")
        assert all(alias == alias.lower().strip() for alias in kind.aliases)


def test_the_table_of_aliases_names_only_channels():
    assert set(GOES_BY) <= set(CATALOGUE)


@pytest.mark.parametrize(
    ("name", "family"),
    [("exhaust_temperature_3", "exhaust_temperature"), ("lambda", "lambda"), ("oil_pressure_2", "oil_pressure_2")],
)
def test_a_number_behind_a_family_is_left_off_and_no_other(name, family):
    assert family_of(name) == family


def test_an_unknown_channel_has_no_kind():
    assert kind_of("Nitrous Bottle") is None and aliases_of("Nitrous Bottle") == ("Nitrous Bottle",)


def test_a_wheel_goes_by_its_corner():
    assert "wheel speed rl" in aliases_of("wheel_speed_rl")


def test_a_foreign_word_stands_once_with_its_language():
    for channel, listed in GOES_BY.items():
        english = {alias.strip() for alias in listed.split("|")}
        assert not english & set(foreign_aliases_of(channel)), channel

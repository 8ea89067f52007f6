"""Names cut short, in the plural, with how they were stored. *Hand*: each by what its words mean."""

import pytest

from passband.analysis.channels.descriptions import name_within
from passband.analysis.channels.recognition import names_a_channel, recognise_name, says_nothing_known
from passband.analysis.channels.word_forms import known_forms, part_scale, without_storage


@pytest.mark.parametrize(
    ("header", "channel"),
    [
        ("EngSpd_f32", "engine_speed"),
        ("TPS uint16", "throttle"),
        ("MAP (u16)", "manifold_pressure"),
        ("RPMs", "engine_speed"),
        ("Boosts", "boost"),
        ("Thrott. Pos.", "throttle"),
        ("Kraftstoffdr.", "fuel_pressure"),
        ("Öltemperat.", "oil_temperature"),
        ("Tempér. huile", "oil_temperature"),
        ("Drossel.stellung", "throttle"),
    ],
)
def test_a_name_in_another_form_means_its_channel(header, channel):
    assert [match.channel for match in recognise_name(header)][:1] == [channel]


@pytest.mark.parametrize(
    "header", ["Boost cor.", "Boost tgt.", "Oil lev.", "Fuel lev.", "Throttle dem.", "Ext. temp.", "Manifold"]
)
def test_a_word_cut_short_is_not_completed_to_what_it_need_not_be(header):
    assert recognise_name(header) == ()


def test_forms_are_none_where_a_word_cannot_be_completed_or_all_are_known():
    words = ["oil", "position", "pressure"]
    assert list(known_forms("Oil qux.", words)) == [] == list(known_forms("oil pressure", words))
    assert list(known_forms("Oil p.", words)) == []  # one letter
    assert list(known_forms("Oil po.", words)) == ["oil position"]


def test_a_factor_and_a_storage_type_are_parted_from_the_name():
    assert part_scale("AFR /10") == ("AFR", 10.0) and part_scale("MAP (x100)") == ("MAP", 100.0)
    assert part_scale("EGT 100") is None and part_scale("x10") is None
    assert without_storage("Oil_P_s16") == "Oil_P" and without_storage("S16") == "S16"


def test_a_name_says_nothing_where_no_word_of_it_is_known():
    assert all(map(says_nothing_known, ("CH07", "Analog 3", "Kasi ya injini", "ბრუნვა ძრავის", "X12")))
    assert not any(map(says_nothing_known, ("Boost Target", "Oil Pressure 2", "Fuel Pressure Limit")))


@pytest.mark.parametrize(
    "header",
    [
        "RPM",
        "Thrott. Pos.",
        "MAP (u16)",
        "Boost Target",
        "Motordrehzahl / Engine Speed",
        "Engine/Oil Pres.",
        "n mot",
        "x",
    ],
)
def test_a_name_in_full_is_one_that_means_a_channel_with_no_word_completed(header):
    # Slow twin: what the name means
    meant = recognise_name(header)
    assert names_a_channel(header) == (bool(meant) and not meant[0].completed)


def test_letters_that_ignored_case_takes_for_others_name_no_place():
    assert name_within("Temp İ kanal") is None
    assert name_within("Temp ı kanal") is None
    assert name_within("Temp i kanal").where == ("kanal",)

"""Settings: one table, read once, refused before anything starts."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest

from passband.service.app import create_app
from passband.service.settings import SETTINGS, Settings, SettingsError, read_settings

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_every_setting_is_a_field_and_every_field_a_setting():
    assert [setting.name for setting in SETTINGS] == [field.name for field in dataclasses.fields(Settings)]


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.name)
def test_the_readme_lists_each_setting_with_its_default_and_sentence(setting):
    row = f"| `{setting.variable}` | {setting.default if setting.default != '' else 'none'} | {setting.text} |"
    assert row in README


def test_the_readme_lists_no_setting_that_is_not_there():
    assert set(re.findall(r"PASSBAND_[A-Z_]+", README)) <= {setting.variable for setting in SETTINGS}


def test_the_environment_wins_over_the_default_and_what_is_given_over_both():
    got = read_settings({"PASSBAND_FILES": "3", "PASSBAND_WORKERS": "1"}, workers=0)
    assert (got.files, got.workers, got.side_by_side) == (3, 0, 12)


@pytest.mark.parametrize("written", ["", "many", "0", "-1", "1e3", "100000"])
def test_a_number_out_of_range_is_refused_by_name(written):
    with pytest.raises(SettingsError, match="PASSBAND_FILES must"):
        read_settings({"PASSBAND_FILES": written})


def test_a_mistyped_setting_stops_the_start(monkeypatch):
    monkeypatch.setenv("PASSBAND_FILE_BITES", "3")
    with pytest.raises(SettingsError, match="PASSBAND_FILE_BITES is no setting"):
        create_app()


def test_every_wrong_setting_is_told_at_once():
    with pytest.raises(SettingsError, match=r"PASSBAND_FILES.*PASSBAND_POINTS"):
        read_settings({"PASSBAND_FILES": "x", "PASSBAND_POINTS": "1"})

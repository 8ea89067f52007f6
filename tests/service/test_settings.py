"""Settings: one table, read once, refused before anything starts."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from passband.service.app import create_app
from passband.service.settings import SETTINGS, Settings, SettingsError, read_settings

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


def test_every_setting_is_explained_and_every_number_bounded():
    for name, field in Settings.model_fields.items():
        assert field.description and field.description.endswith(".")
        bounds = {end for bound in field.metadata for end in ("ge", "le") if hasattr(bound, end)}
        assert bounds == ({"ge", "le"} if field.annotation is int else set()), name


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


def test_a_mistyped_setting_is_told_with_the_nearest_names_and_a_strange_one_with_all():
    with pytest.raises(SettingsError, match=r"the nearest are PASSBAND_FILE_BYTES, "):
        read_settings({"PASSBAND_FILE_BITES": "3"})
    with pytest.raises(SettingsError, match=r"the settings are PASSBAND_CHANNELS, .*, PASSBAND_WORKERS"):
        read_settings({"PASSBAND_XQZ": "3"})


def test_a_setting_in_small_letters_is_not_taken():
    with pytest.raises(SettingsError, match="PASSBAND_files is no setting"):
        read_settings({"PASSBAND_files": "3", "passband_points": "not ours", "PATH": "/bin"})


def test_every_wrong_setting_is_told_at_once():
    wrong = {"PASSBAND_FILES": "x", "PASSBAND_POINTS": "1", "PASSBAND_DATA": " ", "PASSBAND_FILE": "1"}
    with pytest.raises(SettingsError) as told:
        read_settings(wrong)
    assert str(told.value) == (
        "PASSBAND_DATA must name a folder; PASSBAND_FILES must be a whole number, got 'x'; PASSBAND_POINTS must lie "
        "from 100 to 1000000, got 1; PASSBAND_FILE is no setting; the nearest are PASSBAND_FILES, PASSBAND_FILE_BYTES"
    )


def test_only_the_environment_that_is_told_is_read(monkeypatch):
    monkeypatch.setenv("PASSBAND_FILES", "3")
    assert (read_settings({}).files, Settings().files, read_settings().files) == (8, 8, 3)


def test_host_names_are_parted_and_the_folder_of_the_user_is_found(monkeypatch):
    monkeypatch.setenv("HOME", "/home/crew")
    got = read_settings({"PASSBAND_HOSTS": "Pit.lan, trailer.lan,", "PASSBAND_DATA": "~/logs"})
    assert (got.hosts, str(got.data)) == (("pit.lan", "trailer.lan"), "/home/crew/logs")

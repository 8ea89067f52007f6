"""The file of people lost, damaged, or not there yet: nobody is let in, and every team finds its library again."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from passband.service.access.identity import access_file
from passband.service.access.records import AccessRecords
from passband.service.access.teams import open_teams
from passband.service.cli import main
from passband.service.settings import read_settings
from passband.service.store.faults import LibraryDamaged
from tests.service.access.conftest import PASSWORD

pytestmark = [pytest.mark.usefixtures("cheap_hashes", "rows_in_a_file")]


@pytest.fixture
def secret(tmp_path) -> str:
    (tmp_path / "secret").write_text(PASSWORD)
    return str(tmp_path / "secret")


@pytest.fixture
def data(tmp_path, secret, planted) -> Path:
    """Red has the folder itself, Blue one of its own; each holds its first log."""
    there = tmp_path / "data"
    assert access(there, "begin", "Red", "--owner", "Robin", "--password-file", secret) == 0
    assert access(there, "team", "Blue", "--owner", "Bo", "--password-file", secret) == 0
    for name, folder in folders(there).items():
        (there / folder / "originals").mkdir(parents=True)
        (there / folder / "originals" / name).write_text("a log")
    return there


def access(data, *step) -> int:
    return main(["access", "--data", str(data), *step])


def folders(data) -> dict[str, str]:
    records = AccessRecords(access_file(data))
    try:
        return dict(records.folders())
    finally:
        records.close()


def lose_people(data) -> None:
    for path in data.glob("access.sqlite*"):
        path.unlink()


@pytest.mark.parametrize("host", ["127.0.0.1", "0.0.0.0"])
def test_without_the_file_of_people_nothing_is_served(data, capsys, host):
    # Regression: behind a proxy everybody was let in, without a word
    lose_people(data)
    assert main(["serve", "--host", host, "--port", "0", "--data", str(data), "--open"]) == 2
    said = capsys.readouterr().err
    assert "with the teams 'Blue', 'Red'" in said and "passband access begin" in said
    assert not access_file(data).exists()


def test_teams_of_a_program_before_are_known_by_their_folders(data, capsys):
    lose_people(data)
    (data / "teams.json").unlink()
    assert main(["serve", "--port", "0", "--data", str(data)]) == 2
    assert "nothing is served" in capsys.readouterr().err


def test_a_start_tells_the_teams_of_a_program_before(data, settings):
    (data / "teams.json").unlink()
    teams = open_teams(read_settings({}, data=data))
    teams.close()
    assert (data / "teams.json").exists()


def test_a_second_server_on_the_folder_of_teams_does_not_start(data, settings, capsys):
    first = open_teams(read_settings({}, data=data))
    assert main(["serve", "--port", "0", "--data", str(data)]) == 2
    assert "in use by another Passband" in capsys.readouterr().err
    first.close()
    open_teams(read_settings({}, data=data)).close()


def test_each_team_finds_its_library_again_by_its_name(data, secret, capsys):
    before = folders(data)
    lose_people(data)
    assert access(data, "begin", "Blue", "--owner", "Bo", "--password-file", secret) == 2
    assert "was of the team 'Red'" in capsys.readouterr().err
    assert not access_file(data).exists()
    assert access(data, "begin", "Red", "--owner", "Robin", "--password-file", secret) == 0
    assert "wait for them: 'Blue'" in capsys.readouterr().out
    assert access(data, "team", "Blue", "--owner", "Bo", "--password-file", secret) == 0
    assert folders(data) == before


@pytest.mark.parametrize("spoil", [lambda file: file.write_bytes(b"\xff" * 20_000), lambda file: flip(file)])
def test_a_damaged_file_of_people_is_told_at_the_start_and_left_as_it_is(data, capsys, spoil):
    for path in data.glob("access.sqlite-*"):
        path.unlink()
    spoil(access_file(data))
    there = access_file(data).read_bytes()
    assert main(["serve", "--port", "0", "--data", str(data)]) == 2
    assert "is damaged" in capsys.readouterr().err
    assert access(data, "begin", "Red", "--owner", "Robin") == 2
    assert access_file(data).read_bytes() == there


def flip(file) -> None:
    pages = bytearray(file.read_bytes())
    for page in range(4096, len(pages), 4096):
        pages[page : page + 200] = b"\xff" * 200
    file.write_bytes(pages)


def test_who_breaks_off_at_the_password_may_begin_again(tmp_path, secret, monkeypatch):
    # Regression: a file of people without a team was left, and the library that was there could be given to nobody
    def broken_off(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr("passband.service.access.commands._read_password", broken_off)
    assert access(tmp_path / "data", "begin", "Red", "--owner", "Robin") != 0
    assert not access_file(tmp_path / "data").exists()
    AccessRecords(access_file(tmp_path / "data")).close()  # as a program before left it
    monkeypatch.undo()
    assert access(tmp_path / "data", "begin", "Red", "--owner", "Robin", "--password-file", secret) == 0
    assert folders(tmp_path / "data") == {"Red": ""}


def test_a_backup_without_the_people_is_none(data, tmp_path, capsys):
    lose_people(data)
    assert main(["backup", str(tmp_path / "away"), "--data", str(data)]) == 2
    assert "its people are not there" in capsys.readouterr().err


@pytest.fixture
def away(data, tmp_path, capsys) -> Path:
    """A backup of both teams."""
    for folder in folders(data).values():
        shutil.rmtree(data / folder / "originals")
        assert main(["recheck", "--data", str(data / folder)]) == 0
    assert main(["backup", str(tmp_path / "away"), "--data", str(data)]) == 0
    capsys.readouterr()
    return tmp_path / "away"


@pytest.mark.parametrize("lost", ["libraries/manifest.json", "libraries/teams/*/manifest.json", "libraries/teams"])
def test_a_backup_that_was_copied_by_half_is_not_restored(away, tmp_path, capsys, lost):
    # Regression: a library whose manifest the copy lacked was left out, and the rest restored without a word
    for path in list(away.glob(lost)):
        shutil.rmtree(path) if path.is_dir() else path.unlink()
    assert main(["restore", str(away), "--data", str(tmp_path / "back")]) == 2
    assert "is not whole" in capsys.readouterr().err
    assert not (tmp_path / "back").exists()


def test_a_torn_file_of_people_is_not_restored(away, tmp_path, capsys):
    with access_file(away).open("r+b") as file:
        file.truncate(5000)
    assert main(["restore", str(away), "--data", str(tmp_path / "back")]) == 2
    assert "access.sqlite is damaged" in capsys.readouterr().err


def test_a_restore_that_ends_before_the_people_are_there_lets_nobody_in(away, tmp_path, monkeypatch, capsys):
    # Regression: what was restored by then was served to everybody
    def ended(*_, **__):
        raise KeyboardInterrupt

    back = tmp_path / "back"
    monkeypatch.setattr("passband.service.commands.keeping._put_people", ended)
    assert main(["restore", str(away), "--data", str(back)]) != 0
    assert (back / "library.sqlite").exists()
    assert main(["serve", "--port", "0", "--data", str(back)]) == 2
    with pytest.raises(LibraryDamaged, match="everybody would be let in"):
        open_teams(read_settings({}, data=back))


def test_a_server_that_lost_its_rows_lets_nobody_in(postgres_server, tmp_path, secret, monkeypatch):
    # Regression: begun on an empty database the service asked nobody, also once the rows had been put back
    there = tmp_path / "data"
    monkeypatch.setenv("PASSBAND_DATABASE", postgres_server.new_database())
    assert access(there, "begin", "Red", "--owner", "Robin", "--password-file", secret) == 0
    lost = postgres_server.new_database()
    monkeypatch.setenv("PASSBAND_DATABASE", lost)
    assert main(["serve", "--port", "0", "--data", str(there)]) == 2
    with pytest.raises(LibraryDamaged, match="with the teams 'Red'"):
        open_teams(read_settings({}, data=there, database=lost))
    assert access(there, "begin", "Red", "--owner", "Robin", "--password-file", secret) == 0
    open_teams(read_settings({}, data=there, database=lost)).close()

"""Settings: what may be set, where from, and how a wrong one is refused."""

from datetime import UTC, date, datetime
from pathlib import Path

import pytest

from service.config import NAMES, LogLevel, Settings, Units, describe, read_settings
from service.errors import BadSetting


@pytest.fixture(autouse=True)
def bare_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    """No setting of the machine the tests run on gets in."""
    for name, *_ in describe():
        monkeypatch.delenv(name, raising=False)


def test_without_any_setting_it_serves_a_file_on_this_machine_only() -> None:
    settings = read_settings()
    assert settings.database_url == "sqlite:///wattwright.db"
    assert (settings.host, settings.port) == ("127.0.0.1", 8042)
    assert settings.units is Units.METRIC
    assert settings.solver_processes >= 1


def test_an_option_beats_the_environment_which_beats_the_file(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    file = tmp_path / "house.toml"
    file.write_text('port = 1001\nunits = "US"\nlog_level = "debug"\ntoday = 2026-11-25\n')
    monkeypatch.setenv("WATTWRIGHT_CONFIG", str(file))
    monkeypatch.setenv("WATTWRIGHT_PORT", "1002")
    monkeypatch.setenv("WATTWRIGHT_UNITS", "metric")

    settings = read_settings(port=1003, host=None)

    assert settings.port == 1003
    assert settings.units is Units.METRIC
    assert settings.log_level is LogLevel.DEBUG
    assert settings.as_of() == date(2026, 11, 25)


def test_a_setting_left_empty_counts_as_not_given(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTWRIGHT_TODAY", "")
    assert read_settings().today is None


WRONG = [
    ("database_url", "mysql://head@db/house"),
    ("database_url", "house.db"),
    ("server", "127.0.0.1:8042"),
    ("server", "ftp://stage.example"),
    ("server", "http://"),
    ("server", "http://stage.example?day=1"),
    ("host", "0.0.0.0"),
    ("host", "::"),
    ("host", "192.168.1.20"),
    ("host", "stage.example"),
    ("port", "65536"),
    ("port", "-1"),
    ("port", "eight"),
    ("today", "25/11/2026"),
    ("today", "2026-02-30"),
    ("time_zone", "Europe/Atlantis"),
    ("time_zone", "../../etc/passwd"),
    ("largest_attachment", "999"),
    ("largest_attachment", "17 MB"),
    ("largest_attachment", "eight"),
    ("solver_processes", "0"),
    ("solver_processes", "1.5"),
    ("solve_deadline_s", "0"),
    ("solve_deadline_s", "nan"),
    ("units", "furlongs"),
    ("log_level", "shout"),
]


@pytest.mark.parametrize(("name", "value"), WRONG)
def test_a_wrong_setting_is_refused_with_its_name_its_value_and_what_is_allowed(
    monkeypatch: pytest.MonkeyPatch, name: str, value: str
) -> None:
    monkeypatch.setenv(f"WATTWRIGHT_{name.upper()}", value)
    with pytest.raises(BadSetting) as refusal:
        read_settings()
    said = str(refusal.value)
    assert f"WATTWRIGHT_{name.upper()} is {value!r}" in said
    allowed = next(row[3] for row in describe() if row[0] == f"WATTWRIGHT_{name.upper()}")
    assert f"allowed is {allowed}" in said


def test_every_setting_has_a_wrong_value_that_is_refused() -> None:
    assert {name for name, _ in WRONG} == set(NAMES)


SIZES = [("8 MB", 8_000_000), ("1kB", 1_000), ("16000000", 16_000_000)]


@pytest.mark.parametrize(("said", "count_bytes"), SIZES)
def test_a_size_is_said_in_bytes_or_with_a_unit(
    monkeypatch: pytest.MonkeyPatch, said: str, count_bytes: int
) -> None:
    monkeypatch.setenv("WATTWRIGHT_LARGEST_ATTACHMENT", said)
    assert read_settings().largest_attachment == count_bytes


@pytest.mark.parametrize("host", ["127.0.0.1", "127.8.9.1", "::1", "[::1]", "localhost"])
def test_any_address_of_this_machine_itself_may_be_served(host: str) -> None:
    assert read_settings(host=host).host == host.strip("[]")


def test_every_wrong_setting_is_named_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTWRIGHT_PORT", "nine")
    with pytest.raises(BadSetting) as refusal:
        read_settings(units="miles")
    assert len(refusal.value.faults) == 2
    assert refusal.value.faults[0].startswith("WATTWRIGHT_PORT is 'nine'")
    assert refusal.value.faults[1].startswith("--units is 'miles'")


def test_an_unknown_name_is_refused_with_the_nearest(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WATTWRIGHT_DATABSE_URL", "sqlite:///x.db")
    with pytest.raises(BadSetting, match="nearest is WATTWRIGHT_DATABASE_URL"):
        read_settings()


def test_a_password_is_never_repeated() -> None:
    with pytest.raises(BadSetting) as refusal:
        read_settings(database_url="mysql://head:rosebud@db/house")
    assert "rosebud" not in str(refusal.value)
    assert "mysql://head:***@db/house" in str(refusal.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("prot = 1", "prot in {file} is not a setting; the nearest is port"),
        ("port = ", "{file} is not a TOML file"),
        ('port = "x"', "port in {file} is 'x'; allowed is a whole number from 0 to 65535"),
    ],
)
def test_a_wrong_file_is_refused_with_its_path(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, text: str, said: str
) -> None:
    file = tmp_path / "house.toml"
    file.write_text(text)
    monkeypatch.setenv("WATTWRIGHT_CONFIG", str(file))
    with pytest.raises(BadSetting) as refusal:
        read_settings()
    assert said.format(file=file) in str(refusal.value)


def test_a_file_that_is_not_there_is_refused(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("WATTWRIGHT_CONFIG", str(tmp_path / "none.toml"))
    with pytest.raises(BadSetting, match="cannot be read: No such file"):
        read_settings()


def test_a_file_read_once_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    file = tmp_path / "house.toml"
    file.write_text("port = 1001\n")
    monkeypatch.setenv("WATTWRIGHT_CONFIG", str(file))
    assert read_settings().port == 1001
    monkeypatch.delenv("WATTWRIGHT_CONFIG")
    assert read_settings().port == 8042


def test_the_house_zone_says_which_day_it_is() -> None:
    """03:30 UTC is still the evening before on the American east coast (IANA time zone database)."""
    night = datetime(2026, 11, 26, 3, 30, tzinfo=UTC)
    assert read_settings(time_zone="America/New_York").as_of(night) == date(2026, 11, 25)
    assert read_settings(time_zone="Europe/London").as_of(night) == date(2026, 11, 26)


def test_every_setting_is_described() -> None:
    rows = describe()
    assert [row[0] for row in rows] == [f"WATTWRIGHT_{n.upper()}" for n in NAMES] + ["WATTWRIGHT_CONFIG"]
    assert all(all(row) for row in rows)


def test_settings_cannot_be_changed_behind_anyones_back() -> None:
    with pytest.raises(ValueError, match="frozen"):
        Settings().port = 1


def test_a_day_ends_at_midnight_of_the_house() -> None:
    """Clocks in London go back on 2026-10-25, so that day has 25 hours."""
    london = read_settings(time_zone="Europe/London", today=date(2026, 11, 25))
    assert london.end_of(date(2026, 10, 24)) == datetime(2026, 10, 24, 23, tzinfo=UTC)
    assert london.end_of(date(2026, 10, 25)) == datetime(2026, 10, 26, 0, tzinfo=UTC)
    assert london.end_of(date(2026, 11, 24)) == datetime(2026, 11, 25, tzinfo=UTC)
    assert london.end_of(date(2026, 11, 25)) is None
    assert london.end_of(date.max) is None
    assert london.end_of(date.min) is not None

"""docker/compose.yaml gives away no more than it must, and says nothing that the service does not know."""

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest
import yaml

from service.config import describe

FOLDER = Path(__file__).resolve().parents[2] / "docker"


@pytest.fixture
def compose() -> dict[str, Any]:
    whole: dict[str, Any] = yaml.safe_load((FOLDER / "compose.yaml").read_text(encoding="utf-8"))
    return whole


@pytest.fixture
def chosen(tmp_path: Path) -> Path:
    shutil.copy2(FOLDER / "choose-password", tmp_path)
    subprocess.run([tmp_path / "choose-password"], check=True)
    return tmp_path / "secrets"


def test_every_service_is_read_only_and_without_privileges(compose: dict[str, Any]) -> None:
    assert set(compose["services"]) == {"database", "wattwright"}
    for name, service in compose["services"].items():
        assert service["read_only"] is True, name
        assert service["cap_drop"] == ["ALL"], name
        assert service["security_opt"] == ["no-new-privileges:true"], name
        assert "/tmp" in service["tmpfs"], name
        assert not {"privileged", "cap_add", "devices", "pid", "ipc"} & set(service), name


def test_what_is_not_on_the_hosts_network_is_published_on_loopback_only(compose: dict[str, Any]) -> None:
    for service in compose["services"].values():
        if service.get("network_mode") != "host":
            assert all(port.startswith("127.0.0.1:") for port in service["ports"])


def test_the_settings_are_known_and_none_of_them_is_a_secret(compose: dict[str, Any]) -> None:
    given = set(compose["services"]["wattwright"]["environment"])
    assert given <= {name for name, *_ in describe()}
    for service in compose["services"].values():
        for name, text in service["environment"].items():
            assert "PASSWORD" not in name or name.endswith("_FILE")
            assert not re.search(r"PASSWORD|://", str(text))


def test_choose_password_writes_the_secrets_that_are_asked_for(compose: dict[str, Any], chosen: Path) -> None:
    files = {name: secret["file"] for name, secret in compose["secrets"].items()}
    assert files == {path.name: f"./secrets/{path.name}" for path in chosen.iterdir()}
    asked = [name for service in compose["services"].values() for name in service["secrets"]]
    assert sorted(asked) == sorted(files)
    password = (chosen / "database-password").read_text(encoding="utf-8")
    assert re.fullmatch(r"[0-9a-f]{48}", password)
    (host, outer, _inner) = compose["services"]["database"]["ports"][0].split(":")
    names = compose["services"]["database"]["environment"]
    url = f"postgresql://{names['POSTGRES_USER']}:{password}@{host}:{outer}/{names['POSTGRES_DB']}"
    assert (chosen / "wattwright-config").read_text(encoding="utf-8") == f'database_url = "{url}"\n'


def test_on_this_machine_nobody_else_gets_at_the_secrets(chosen: Path) -> None:
    assert chosen.stat().st_mode & 0o777 == 0o700
    # The accounts in the containers are others; a file laid into one brings its mode along.
    assert {path.stat().st_mode & 0o777 for path in chosen.iterdir()} == {0o644}
    ignored = (FOLDER.parent / ".gitignore").read_text(encoding="utf-8").splitlines()
    assert "docker/secrets/" in ignored


def test_a_password_is_chosen_once(chosen: Path) -> None:
    before = {path: path.read_text(encoding="utf-8") for path in chosen.iterdir()}
    again = subprocess.run([chosen.parent / "choose-password"], capture_output=True, text=True, check=False)
    assert again.returncode == 1
    assert "knows no other password" in again.stderr
    assert {path: path.read_text(encoding="utf-8") for path in chosen.iterdir()} == before

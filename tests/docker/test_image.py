"""The image does what it promises: built from its own steps, run by an account that may write nowhere."""

import os
import re
import shutil
import signal
import subprocess
import tempfile
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import psycopg
import pytest

from service import __version__
from tests.docker.container import Container, a_container
from tests.docker.contents import needed_by, packages_in
from tests.docker.image import Builder, Place, Stage, Step, files_below, read_steps

ROOT = Path(__file__).resolve().parents[2]
# What an engine waits between the stop signal and the kill, unless it is told otherwise.
GRACE_S = 10.0


@pytest.fixture
def steps() -> list[Step]:
    return read_steps((ROOT / "docker" / "Dockerfile").read_text(encoding="utf-8"))


@pytest.fixture
def scratch() -> Iterator[Path]:
    """Below a folder that any account can enter, which those of the test runner are not."""
    folder = Path(tempfile.mkdtemp(prefix="wattwright-image-"))
    folder.chmod(0o755)
    yield folder
    if os.geteuid() != 0:
        subprocess.run(["chmod", "-R", "u+w", folder], check=True)
    subprocess.run(["rm", "-r", folder], check=True)


def test_the_last_stage_runs_as_a_numbered_account_that_is_not_roots(steps: list[Step]) -> None:
    last = steps[max(number for number, step in enumerate(steps) if step.name == "FROM") :]
    commands = [step.name for step in last]
    (user,) = (step.words[0] for step in last if step.name == "USER")
    assert re.fullmatch(r"[1-9]\d*:[1-9]\d*", user)
    assert commands.index("USER") > max(n for n, name in enumerate(commands) if name in ("RUN", "COPY"))
    for needed in ("HEALTHCHECK", "STOPSIGNAL", "VOLUME", "CMD"):
        assert commands.count(needed) == 1, needed


def test_nothing_comes_in_from_an_unnamed_version_or_address(steps: list[Step]) -> None:
    bases = [step.words[0] for step in steps if step.name == "FROM"]
    assert bases
    for base in bases:
        assert re.fullmatch(r"[a-z/]+:\d[\w.-]*", base), f"{base} is not pinned by its tag"
    assert "ADD" not in [step.name for step in steps]
    installs = [step.text for step in steps if "pip install" in step.text]
    assert installs
    for install in installs:
        assert "--require-hashes" in install or ("--no-deps" in install and "--no-build-isolation" in install)


def test_the_image_built_from_its_steps_serves_read_only_and_stops_when_told(
    scratch: Path, steps: list[Step], postgres_server: str, subtests: pytest.Subtests
) -> None:
    image = Builder(ROOT, scratch).build(steps)
    root = scratch / "root"
    if os.geteuid() != 0:
        subprocess.run(["chmod", "-R", "a-w", root / "opt"], check=True)
    before = files_below(root)

    with subtests.test("it holds what the product needs and nothing that builds"):
        what_is_needed_is_there_and_nothing_else(root, image)
    with subtests.test("its account can write in its volume and in /tmp only"):
        only_the_volume_and_tmp_are_open(a_container(image, scratch, "open"))
    with subtests.test("it keeps a file in its volume"):
        container = a_container(image, scratch, "file")
        it_lives_and_stops(container)
        assert [path.name for path in (container.mounts / "volume").iterdir()] == ["wattwright.db"]
        assert list((container.mounts / "tmp").iterdir()) == []
    with subtests.test("it keeps all in PostgreSQL, told of it by the file that choose-password writes"):
        database = a_database(postgres_server)
        config = "/run/secrets/wattwright-config"
        container = a_container(image, scratch, "server", WATTWRIGHT_CONFIG=config)
        # An engine lays the file itself into the container: that its folder is closed does not matter.
        shutil.copy2(a_chosen_config(scratch, database), container.place.path(config))
        it_lives_and_stops(container)
        assert list((container.mounts / "volume").iterdir()) == []
        with psycopg.connect(f"postgresql://{database}") as connection:
            assert connection.execute("SELECT count(*) FROM alembic_version").fetchone() == (1,)
    with subtests.test("it works plans out without all that was left out of it"):
        code, said = a_container(image, scratch, "demo").ran(["wattwright", "demo", "--once", "--json"])
        assert code == 0, said
        assert '"elements": 85' in said

    assert files_below(root) == before


def what_is_needed_is_there_and_nothing_else(root: Path, image: Stage) -> None:
    (folder,) = (root / "opt/wattwright/lib").glob("python3.*/site-packages")
    packages = packages_in(folder)
    assert set(packages) == needed_by("wattwright", ["postgres"], packages)
    assert [path.name for path in folder.rglob("tests")] == []
    assert [path.name for path in (root / "opt/wattwright/bin").glob("pip*")] == []
    sources = set((folder / "service").rglob("*.py"))
    assert len(sources) > 100
    for path in sources:
        assert list((path.parent / "__pycache__").glob(f"{path.stem}.*.pyc")), f"{path} is not compiled"
    assert image.labels["org.opencontainers.image.version"] == __version__


def only_the_volume_and_tmp_are_open(container: Container) -> None:
    root, mounts = container.place.root, container.mounts
    command = ["find", str(root), str(mounts), "-not", "-type", "l", "-writable"]
    found = subprocess.run(command, check=True, capture_output=True, text=True, **container.stage.account)
    writable = {Path(line) for line in found.stdout.splitlines()}
    assert {mounts / "volume", mounts / "tmp"} <= writable
    # Of the image itself only the places over which these two are laid.
    below = {Place(root).path(inner) for inner in ("/tmp", *container.stage.volumes)}
    if os.geteuid() == 0:
        assert writable == below | {mounts / "volume", mounts / "tmp"}
    assert not [path for path in writable if path.is_relative_to(root / "opt")]


def it_lives_and_stops(container: Container) -> None:
    """From nothing to healthy to stopped, as an engine sees it: by exit codes and signals alone."""
    assert not container.is_healthy()
    with tempfile.TemporaryFile("w+") as log, container.serving(log) as process:
        port = container.environment["WATTWRIGHT_PORT"]
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/readyz") as answer:
            assert answer.status == 200
        process.send_signal(signal.Signals[container.stage.stop_signal])
        assert process.wait(GRACE_S) == 0
        with pytest.raises(ProcessLookupError):
            os.killpg(process.pid, 0)
    assert not container.is_healthy()


def a_database(server: str) -> str:
    with psycopg.connect(f"postgresql://{server}/postgres", autocommit=True) as connection:
        connection.execute("CREATE ROLE wattwright LOGIN")
        connection.execute("CREATE DATABASE wattwright OWNER wattwright")
    return f"{server}/wattwright"


def a_chosen_config(scratch: Path, database: str) -> Path:
    """What docker/choose-password writes for the service, with another server in it."""
    shutil.copy2(ROOT / "docker" / "choose-password", scratch)
    subprocess.run([scratch / "choose-password"], check=True)
    config = scratch / "secrets" / "wattwright-config"
    server = database.partition("@")[2]
    text, count = re.subn(r"@.*(?=\")", f"@{server}", config.read_text(encoding="utf-8"))
    assert count == 1
    config.write_text(text, encoding="utf-8")
    return config


@pytest.mark.parametrize(
    "step",
    [
        "RUN useradd wattwright",
        "RUN mkdir /etc/wattwright",
        "RUN mkdir /opt/a && reboot",
        "RUN mkdir /opt/a; reboot",
        "RUN mkdir /opt/a & reboot",
        "RUN mkdir ../../a",
        "RUN mkdir $HOME/a",
        "RUN mkdir --parents=/a",
        "RUN find /opt -exec (reboot)",
        "RUN --mount=type=bind,target=/a mkdir /opt/a",
        "COPY --chown=1:1 service /opt/a",
        "ADD service /opt/a",
    ],
)
def test_a_step_that_would_reach_out_of_the_folder_is_refused(scratch: Path, step: str) -> None:
    builder = Builder(ROOT, scratch)
    builder.stages.append(Stage("last", "scratch"))
    with pytest.raises(NotImplementedError):
        builder.build(read_steps(step))


def test_what_the_builder_is_not_sent_cannot_be_copied(scratch: Path) -> None:
    sent = Builder(ROOT, scratch).sent
    assert {"pyproject.toml", ".lock/runtime.txt", "service/app.py", "seed_demo/elements.csv"} <= sent
    tops = {name.partition("/")[0] for name in sent}
    assert tops - {".dockerignore"} == {
        "pyproject.toml",
        "README.md",
        ".lock",
        "service",
        "migrations",
        "seed_demo",
    }
    assert not [name for name in sent if name.endswith((".pyc", ".db"))]

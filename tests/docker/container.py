"""One run of an image without an engine: its command under its account, with its own volume and /tmp."""

import contextlib
import os
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tests.docker.image import Place, Stage


@dataclass(slots=True)
class Container:
    """One run of an image: its command, its volume and its /tmp, and nothing of our own environment."""

    stage: Stage
    mounts: Path
    place: Place
    environment: dict[str, str]

    def started(self, command: list[str], log: IO[str]) -> "subprocess.Popen[str]":
        # An engine need not say where /tmp is; here it is elsewhere.
        names = self.stage.environment | {"TMPDIR": "/tmp"} | self.environment
        return subprocess.Popen(
            [self.place.text(word) for word in command],
            cwd=self.place.path(self.stage.folder),
            env={name: self.place.text(text) for name, text in names.items()},
            stdin=subprocess.DEVNULL, stdout=log, stderr=subprocess.STDOUT, text=True,
            start_new_session=True, **self.stage.account,
        )  # fmt: skip

    def ran(self, command: list[str]) -> tuple[int, str]:
        with tempfile.TemporaryFile("w+") as log:
            code = self.started(command, log).wait()
            log.seek(0)
            return code, log.read()

    def is_healthy(self) -> bool:
        return self.ran(self.stage.health)[0] == 0

    @contextlib.contextmanager
    def serving(self, log: IO[str]) -> Iterator["subprocess.Popen[str]"]:
        """Its command at work and healthy, by its own health check; what it said is printed at the end."""
        process = self.started(self.stage.command, log)
        try:
            until = time.monotonic() + 60
            while not self.is_healthy():
                assert process.poll() is None
                assert time.monotonic() < until, "it never got healthy"
                time.sleep(0.1)
            yield process
        finally:
            # Its children too, should it have left some behind.
            with contextlib.suppress(ProcessLookupError):
                os.killpg(process.pid, signal.SIGKILL)
            process.wait()
            log.seek(0)
            print(log.read())


def a_container(image: Stage, scratch: Path, name: str, **environment: str) -> Container:
    """A fresh volume is made as an engine makes it: with what the image has there, and its owner."""
    root, run = scratch / "root", scratch / name
    (inner,) = image.volumes
    origin = Place(root).path(inner)
    shutil.copytree(origin, run / "volume")
    os.chown(run / "volume", origin.stat().st_uid, origin.stat().st_gid)
    (run / "tmp").mkdir()
    (run / "tmp").chmod(0o1777)
    (run / "secrets").mkdir()
    mounts = {inner: run / "volume", "/tmp": run / "tmp", "/run/secrets": run / "secrets"}
    port = {"WATTWRIGHT_PORT": str(_a_free_port())}
    return Container(image, run, Place(root, mounts), port | environment)


def _a_free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port

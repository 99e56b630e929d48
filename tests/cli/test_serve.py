"""The service, started and stopped as a person or a supervisor does it."""

import signal
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import httpx
import pytest

from tests.cli.conftest import Ran, a_process, outcome

Command = Callable[..., Ran]


@contextmanager
def served(*args: str) -> Iterator[tuple["subprocess.Popen[str]", str]]:
    """A process that serves, with its address; it is ended in any case."""
    with a_process("serve", "--port", "0", *args) as process:
        assert process.stderr is not None
        try:
            line = process.stderr.readline()
            assert "answers at http://" in line, line + process.stderr.read()
            yield process, line.split(" at ")[1].split(" ")[0].rstrip("./") + "/"
        finally:
            process.kill()


def _ask(url: str) -> httpx.Response:
    for _ in range(200):
        try:
            return httpx.get(url)
        except httpx.TransportError:
            time.sleep(0.05)
    raise AssertionError("no answer")


@pytest.mark.parametrize(("how", "code"), [(signal.SIGTERM, 0), (signal.SIGINT, 130)])
def test_it_answers_until_it_is_told_to_stop(season: str, how: signal.Signals, code: int) -> None:
    with served("--database", season) as (process, address):
        assert _ask(f"{address}livez").status_code == 200
        assert _ask(f"{address}readyz").status_code == 200
        process.send_signal(how)
        ran = outcome(process)
    assert ran.code == code
    assert "Traceback" not in ran.err


def test_it_answers_on_the_other_loopback_too(season: str) -> None:
    with served("--database", season, "--host", "::1") as (_, address):
        assert address.startswith("http://[::1]:")
        assert _ask(f"{address}livez").status_code == 200


def test_a_port_in_use_is_told_before_anything_else(wattwright: Command, season: str) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        for command in (["serve", "--database", season], ["demo"]):
            ran = wattwright(*command, "--port", str(port))
            assert ran.code == 1
            assert ran.out == ""
            what, mend = ran.err.splitlines()
            assert what == f"port {port} on 127.0.0.1 is in use"
            assert "--port" in mend

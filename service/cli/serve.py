"""`wattwright serve`: the HTTP API, until it is told to stop."""

import errno
import gc
import signal
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

import click
import uvicorn

from service.app import create_app
from service.cli.house import database_option, opened, settings_for
from service.config import Settings
from service.errors import Refused


@click.command()
@click.option("--host", metavar="ADDRESS", help="A loopback address; nothing else until people can sign in.")
@click.option("--port", type=int, help="The port; 0 takes any free one.")
@database_option
def command(host: str | None, port: int | None, database: str | None) -> None:
    """Answer the HTTP API on this machine until Ctrl-C.

    The database must be up to date: wattwright db upgrade.
    """
    settings = settings_for(database, host=host, port=port).changed(server=None)
    with opened(settings):
        pass
    with taken(settings) as door:
        click.echo(f"Wattwright answers at {address(settings, door)}. Ctrl-C stops it.", err=True)
        serve(settings, door)


@contextmanager
def taken(settings: Settings) -> Iterator[socket.socket]:
    """The port, ours from now on: asked for before anything slow, so that a port in use is told at once."""
    family = socket.AF_INET6 if ":" in settings.host else socket.AF_INET
    with socket.socket(family, socket.SOCK_STREAM) as door:
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            door.bind((settings.host, settings.port))
            door.listen()
        except OSError as error:
            raise Refused(f"port {settings.port} on {settings.host} {_why(error)}", _mend(error)) from error
        yield door


def _why(error: OSError) -> str:
    if error.errno == errno.EADDRINUSE:
        return "is in use"
    if error.errno in (errno.EACCES, errno.EPERM):
        return "may not be used by this account"
    return f"cannot be had: {error.strerror or error}"


def _mend(error: OSError) -> str:
    if error.errno in (errno.EACCES, errno.EPERM):
        return "Name a port above 1023 with --port."
    return "Stop what uses it, or name another with --port; 0 takes any free one."


def address(settings: Settings, door: socket.socket) -> str:
    host = f"[{settings.host}]" if ":" in settings.host else settings.host
    return f"http://{host}:{door.getsockname()[1]}/"


class _Server(uvicorn.Server):
    """Stopped by SIGTERM it just ends, by Ctrl-C as interrupted; either way what is open closes first."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        caught: list[int] = []

        def stop(number: int, frame: FrameType | None) -> None:
            caught.append(number)
            self.handle_exit(number, frame)

        before = {number: signal.signal(number, stop) for number in (signal.SIGINT, signal.SIGTERM)}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)
        if signal.SIGINT in caught:
            raise KeyboardInterrupt


def serve(settings: Settings, door: socket.socket) -> None:
    """Answer at a door that is already ours."""
    config = uvicorn.Config(
        create_app(settings),
        log_level=settings.log_level.value,
        access_log=settings.log_level.value == "debug",
        server_header=False,
        timeout_graceful_shutdown=5,
    )
    with seldom_collected():
        _Server(config).run(sockets=[door])


@contextmanager
def seldom_collected() -> Iterator[None]:
    """What is loaded by now stays: looking through it again and again is most of the slowest answers."""
    before = gc.get_threshold()
    gc.collect()
    gc.freeze()
    gc.set_threshold(10_000, 20, 50)
    yield
    gc.set_threshold(*before)
    gc.unfreeze()

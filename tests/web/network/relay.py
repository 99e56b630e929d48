"""A line to a service that can be made to stall (what is asked goes out, nothing comes back) or be cut."""

import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager

BLOCK = 65_536


class Relay:
    """Passes bytes between a browser and a service."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._listener = socket.create_server(("127.0.0.1", 0))
        self._flows = threading.Event()
        self._flows.set()
        self._is_cut = False
        self._open: list[socket.socket] = []
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self._listener.getsockname()[1]}"

    def stall(self) -> None:
        self._flows.clear()

    def flow(self) -> None:
        self._flows.set()

    def cut(self) -> None:
        """Nobody is reached, though the network is up."""
        self._is_cut = True
        for line in self._open:
            line.close()

    def mend(self) -> None:
        self._is_cut = False

    def close(self) -> None:
        self._flows.set()
        for line in (self._listener, *self._open):
            line.close()

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            if self._is_cut:
                near.close()
                continue
            far = socket.create_connection(("127.0.0.1", self._to))
            self._open += [near, far]
            threading.Thread(target=self._pass, args=(near, far, False), daemon=True).start()
            threading.Thread(target=self._pass, args=(far, near, True), daemon=True).start()

    def _pass(self, source: socket.socket, target: socket.socket, is_answer: bool) -> None:
        try:
            while block := source.recv(BLOCK):
                if is_answer:
                    self._flows.wait()
                target.sendall(block)
            target.shutdown(socket.SHUT_WR)
        except OSError:
            return


@contextmanager
def relayed(site: str) -> Iterator[Relay]:
    relay = Relay(int(site.rpartition(":")[2]))
    try:
        yield relay
    finally:
        relay.close()

"""A line to a service that can be made to stall (what is asked goes out, nothing comes back), be cut, or have
a web server before it that reaches nobody and says so."""

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
        self._status = 0
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

    def lose_service(self, status: int) -> None:
        """What stands before the service answers with this, for it reaches nobody."""
        self._status = status
        for line in self._open:
            line.close()

    def mend(self) -> None:
        self._is_cut, self._status = False, 0

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
            if self._status:
                threading.Thread(target=self._refuse, args=(near, self._status), daemon=True).start()
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

    def _refuse(self, near: socket.socket, status: int) -> None:
        try:
            near.recv(BLOCK)
            near.sendall(f"HTTP/1.1 {status} \r\nContent-Length: 0\r\nConnection: close\r\n\r\n".encode())
            near.shutdown(socket.SHUT_WR)
            while near.recv(BLOCK):  # lest the answer is lost with what was not read
                pass
        except OSError:
            return
        finally:
            near.close()


@contextmanager
def relayed(site: str) -> Iterator[Relay]:
    relay = Relay(int(site.rpartition(":")[2]))
    try:
        yield relay
    finally:
        relay.close()

"""A way to the server that can be cut, or lose the answers."""

from __future__ import annotations

import contextlib
import socket
import threading


class Proxy:
    """``mode``: open, cut (nothing gets through) or deaf (posts arrive, their answers do not)."""

    def __init__(self, host: str, port: int) -> None:
        self._to, self.mode = (host, port), "open"
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._listening.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def close(self) -> None:
        self._listening.close()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listening.accept()
                threading.Thread(target=self._serve, args=(near,), daemon=True).start()

    def _serve(self, near: socket.socket) -> None:
        with near, contextlib.suppress(OSError):
            if self.mode == "cut":
                return
            with socket.create_connection(self._to) as far:
                threading.Thread(target=_pump, args=(near, far), daemon=True).start()
                if self.mode == "deaf":
                    far.recv(1)  # the server has begun to answer: it has kept the readings
                    near.shutdown(socket.SHUT_RDWR)
                else:
                    _pump(far, near)


def _pump(source: socket.socket, sink: socket.socket) -> None:
    with contextlib.suppress(OSError):
        while data := source.recv(65536):
            sink.sendall(data)

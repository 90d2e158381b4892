"""The server as a laboratory runs it, two worker processes, started and killed by a script.

What it runs is imported once, in a process of its own, and forked from there, so that starting
again takes a tenth of a second.
"""

from __future__ import annotations

import os
import random
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

WORKERS = 2


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Server:
    """One server at a time, on one port for good."""

    def __init__(
        self, application: str = "labbook.wsgi:application", *, is_quiet: bool = False
    ) -> None:
        self.port = free_port()
        self.master = 0
        command = [sys.executable, "-m", "tests.load.serving", application, str(self.port)]
        self.forking = subprocess.Popen(
            command,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            stderr=subprocess.DEVNULL if is_quiet else None,
        )

    def start(self) -> None:
        assert self.forking.stdin and self.forking.stdout
        self.forking.stdin.write("start\n")
        self.forking.stdin.flush()
        self.master = int(self.forking.stdout.readline())
        self._wait(answering=True)

    def kill(self) -> None:
        """SIGKILL to the master and all its workers."""
        os.killpg(self.master, signal.SIGKILL)
        self._wait(answering=False)

    def kill_worker(self, chosen: random.Random) -> None:
        """SIGKILL to one worker; its master starts another."""
        workers = self.workers()
        if workers:
            os.kill(chosen.choice(workers), signal.SIGKILL)

    def workers(self) -> list[int]:
        listed = Path(f"/proc/{self.master}/task/{self.master}/children").read_text()
        return [int(process) for process in listed.split()]

    def close(self) -> None:
        """End it as an administrator would, and the process it is forked from."""
        if self.master:
            os.kill(self.master, signal.SIGTERM)
            self._wait(answering=False)
        assert self.forking.stdin
        self.forking.stdin.close()
        self.forking.wait(10)

    def cpu_s(self) -> float:
        """Processor time of the master and its workers so far."""
        return sum(_cpu_s(process) for process in [self.master, *self.workers()])

    def _wait(self, *, answering: bool) -> None:
        for _ in range(1500):
            with socket.socket() as probe:
                if (probe.connect_ex(("127.0.0.1", self.port)) == 0) is answering:
                    return
            time.sleep(0.02)
        raise SystemExit("the server did not start" if answering else "the server did not end")


def _cpu_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _fork_on_demand(application: str, port: int) -> None:
    """Import the application, then fork a server for every line that is read."""
    from django.urls import get_resolver
    from gunicorn.app.base import BaseApplication
    from gunicorn.util import import_app

    loaded = import_app(application)
    _ = get_resolver().url_patterns  # imports every view, as the first request would

    class Served(BaseApplication):  # type: ignore[misc]  # gunicorn has no annotations
        def load_config(self) -> None:
            for key, value in {
                "bind": f"127.0.0.1:{port}", "workers": WORKERS, "loglevel": "critical"
            }.items():  # fmt: skip
                self.cfg.set(key, value)

        def load(self) -> object:
            return loaded

    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    for _ in sys.stdin:
        process = os.fork()
        if process == 0:
            os.setsid()
            Served().run()
        print(process, flush=True)


if __name__ == "__main__":
    _fork_on_demand(sys.argv[1], int(sys.argv[2]))

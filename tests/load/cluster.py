"""A PostgreSQL server of a script's own, which may be killed like any other process."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path

import psycopg

from .serving import free_port


class Cluster:
    def __init__(self) -> None:
        """Make it in a folder that goes away with ``close``; it asks nobody for a password."""
        self.programs = _programs()
        # A PostgreSQL server refuses to run as root; Debian's account for it is there to be used.
        self.user = "postgres" if os.geteuid() == 0 else None
        self.folder = Path(tempfile.mkdtemp(prefix="labbook-cluster-"))
        if self.user:
            shutil.chown(self.folder, self.user)
        initdb = [self.programs / "initdb", "-D", self.folder / "data", "-U", "postgres"]
        quiet = subprocess.DEVNULL
        subprocess.run(
            [*initdb, "-A", "trust", "-E", "UTF8", "--locale=C.UTF-8"],
            check=True,
            user=self.user,
            stdout=quiet,
        )
        self.port = free_port()
        self.address = f"postgres://postgres@127.0.0.1:{self.port}/postgres"

    def start(self) -> None:
        """Start it, again where it finds a process of one killed before still ending."""
        self._launch()
        for _ in range(600):
            try:
                psycopg.connect(self.address, connect_timeout=5).close()
                return
            except psycopg.OperationalError:
                time.sleep(0.1)
            if self.process.poll() is not None:
                self._launch()
        raise SystemExit("PostgreSQL did not start")

    def _launch(self) -> None:
        command = [
            self.programs / "postgres", "-D", self.folder / "data", "-p", str(self.port),
            "-k", self.folder, "-c", "listen_addresses=127.0.0.1",
        ]  # fmt: skip
        quiet = subprocess.DEVNULL
        self.process = subprocess.Popen(command, user=self.user, stdout=quiet, stderr=quiet)

    def kill(self) -> None:
        """SIGKILL to it and to every process it has for its connections."""
        listed = Path(f"/proc/{self.process.pid}/task/{self.process.pid}/children").read_text()
        for process in (self.process.pid, *map(int, listed.split())):
            try:
                os.kill(process, signal.SIGKILL)
            except ProcessLookupError:
                continue
        self.process.wait(20)

    def close(self) -> None:
        self.process.send_signal(signal.SIGQUIT)
        self.process.wait(20)
        shutil.rmtree(self.folder, ignore_errors=True)


def _programs() -> Path:
    """Where PostgreSQL's programs are: on the path, or where Debian puts them."""
    found = shutil.which("postgres")
    places = [Path(found).parent] if found else sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    if not places:
        raise SystemExit("PostgreSQL's programs were not found; install Debian's postgresql.")
    return places[-1]

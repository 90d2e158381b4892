"""The logger as a real process, against a real server: none lost, none doubled."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import tty
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from labbook.actions import devices
from labbook.lookups.readings import as_written
from labbook.models import ReadingBlock, Run

from ..api.conftest import Sender, listening, sender
from ..conftest import Laboratory, laboratory
from .proxy import Proxy

__all__ = ["laboratory", "listening", "sender"]
ROOT = Path(__file__).parents[3]
PATIENCE_S = 40


@dataclass
class Logger:
    """A logger process at the end of a serial line, with the words it says."""

    server: str
    token: Path
    spool: Path
    more: tuple[str, ...] = ()
    process: Any = None
    master: int = -1
    said: Path = field(default_factory=Path)

    def start(self, *more: str) -> Logger:
        self.master, slave = os.openpty()
        tty.setraw(slave)
        self.said = self.spool.with_name("said")
        command = [sys.executable, "-m", "labbook.logger", "--server", self.server]
        command += ["--token-file", str(self.token), "--spool", str(self.spool)]
        with self.said.open("w") as words:
            self.process = subprocess.Popen(
                [*command, "--port", os.ttyname(slave), *more], stderr=words, cwd=ROOT
            )
        until(lambda: " baud\n" in self.said.read_text(), self.said)
        os.close(slave)
        return self

    def feed(self, *numbers: int) -> None:
        for number in numbers:
            os.write(self.master, f"23.{number:04d}\r\n".encode())

    def spooled(self) -> int:
        return self.spool.read_text().count('"seq"')

    def kill(self) -> None:
        self.process.kill()
        self.process.wait()
        os.close(self.master)


def until(is_so: Callable[[], bool], said: Path) -> None:
    ends = time.monotonic() + PATIENCE_S
    while not is_so():
        assert time.monotonic() < ends, said.read_text()
        time.sleep(0.05)


@pytest.fixture
def proxy(transactional_db: None, live_server: Any) -> Iterator[Proxy]:
    found = urlsplit(live_server.url)
    made = Proxy(str(found.hostname), int(found.port or 80))
    yield made
    made.close()


@pytest.fixture
def logger(proxy: Proxy, sender: Sender, tmp_path: Path) -> Iterator[Logger]:
    (tmp_path / "token").write_text(sender.token)
    made = Logger(proxy.address, tmp_path / "token", tmp_path / "spool")
    yield made
    if made.process is not None and made.process.poll() is None:
        made.kill()


def kept(run: Run) -> list[str]:
    return sorted(reading.temperature for reading in as_written(run))


def values(*numbers: int) -> list[str]:
    return [f"23.{number:04d}" for number in numbers]


def test_lines_of_a_serial_port_are_readings_of_the_run(logger: Logger, listening: Run) -> None:
    logger.start()
    logger.feed(*range(1, 21))
    until(lambda: len(kept(listening)) == 20, logger.said)
    assert kept(listening) == values(*range(1, 21))
    assert "sending as probe 7 of bench B1" in logger.said.read_text()


def test_an_outage_a_lost_answer_and_a_killed_logger_lose_and_double_nothing(
    logger: Logger, proxy: Proxy, listening: Run
) -> None:
    proxy.mode = "cut"
    logger.start()
    logger.feed(*range(1, 16))
    until(lambda: logger.spooled() == 15, logger.said)
    assert kept(listening) == []
    logger.kill()
    proxy.mode = "deaf"
    logger.start()
    until(lambda: len(kept(listening)) == 15, logger.said)
    logger.feed(*range(16, 31))
    until(lambda: "23.0030" in logger.spool.read_text(), logger.said)
    logger.kill()
    proxy.mode = "open"
    logger.start()
    logger.feed(*range(31, 41))
    until(lambda: len(kept(listening)) >= 40, logger.said)
    assert kept(listening) == values(*range(1, 41))
    numbers = [
        (detail["series"], detail["seq"])
        for block in ReadingBlock.objects.all()
        for detail in block.read_details()
    ]
    assert len(set(numbers)) == 40


def test_readings_made_before_a_run_listens_are_offered_again(
    logger: Logger, sender: Sender, laboratory: Laboratory, listening: Run
) -> None:
    devices.take_over_by_typing(listening, by=laboratory.group)
    logger.start()
    logger.feed(1, 2, 3)
    until(lambda: "No run on bench B1" in logger.said.read_text(), logger.said)
    devices.listen_to_device(listening, sender.device, by=laboratory.group)
    logger.feed(4)
    until(lambda: len(kept(listening)) == 4, logger.said)
    assert kept(listening) == values(1, 2, 3, 4)


def piped(logger: Logger, text: str, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "labbook.logger", "--server", logger.server]
    command += ["--token-file", str(logger.token), "--spool", str(logger.spool), *more]
    return subprocess.run(
        command, input=text, capture_output=True, text=True, cwd=ROOT, timeout=PATIENCE_S
    )


def test_lines_of_standard_input_end_with_all_sent(logger: Logger, listening: Run) -> None:
    done = piped(logger, "1;23,104;x\n2;open;x\n\n3;23,106;x\n", "--column", "2", "--decimal-comma")
    assert done.returncode == 0, done.stderr
    assert kept(listening) == ["23.104", "23.106"]
    assert "no value was found in “2;open;x” (1 such lines so far)" in done.stderr
    assert "all readings are sent" in done.stderr


def test_what_stays_unsent_is_said_by_the_exit_code(
    logger: Logger, proxy: Proxy, listening: Run
) -> None:
    proxy.mode = "cut"
    done = piped(logger, "23.1\n23.2\n", "--wait", "0.1")
    assert done.returncode == 3
    assert f"2 readings stay in {logger.spool}" in done.stderr
    proxy.mode = "open"
    assert piped(logger, "").returncode == 0
    assert kept(listening) == ["23.1", "23.2"]


def test_refused_values_are_kept_beside_for_a_person(logger: Logger, listening: Run) -> None:
    done = piped(logger, "23,104\n23.2\n99.9\n")
    assert kept(listening) == ["23.2"]
    beside = logger.spool.with_name("spool.refused").read_text()
    assert '"23,104"' in beside and '"99.9"' in beside and "did you mean" in beside
    assert done.returncode == 0


def test_an_ended_token_ends_the_logger_with_a_sentence(
    logger: Logger, laboratory: Laboratory, sender: Sender
) -> None:
    devices.revoke_device(sender.device, by=laboratory.coordinator)
    done = piped(logger, "23.1\n")
    assert done.returncode == 4 and "knows no device by this token" in done.stderr

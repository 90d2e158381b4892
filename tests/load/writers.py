"""People and devices that go on writing whatever happens to the server, and write down what it
acknowledged.

Each sends what was not answered again, as the page and the devices do, until it is answered.
"""

from __future__ import annotations

import hashlib
import http.client
import json
import random
import re
import threading
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Hashable
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from labbook.models import Account, Run, Standardization
from tests.labbook.conftest import curve

from .requests import Answer, ask, form, send_part, session_of, upload

PAUSE_S = 0.05


@dataclass
class Diary:
    """What was sent and what was acknowledged, by kind; shared by all who write."""

    port: int
    sent: dict[str, set[Hashable]] = field(default_factory=lambda: defaultdict(set))
    acknowledged: dict[str, list[Hashable]] = field(default_factory=lambda: defaultdict(list))
    unanswered: int = 0
    resent: int = 0
    not_now: int = 0
    broken_off: int = 0
    odd: Counter[str] = field(default_factory=Counter)
    is_over: threading.Event = field(default_factory=threading.Event)

    def until_answered(
        self, path: str, body: bytes, headers: dict[str, str], fine: tuple[int, ...]
    ) -> Answer | None:
        """Send it until it is answered. A refusal of the first sending is an odd answer; of a
        later one it says that an earlier sending was taken. None when it was refused.
        """
        for sending in range(10_000):
            self.resent += sending > 0
            try:
                answer = ask(self.port, "POST", path, body, headers)
            except (OSError, http.client.HTTPException):
                self.unanswered += 1
                time.sleep(PAUSE_S)
                continue
            if answer.status == 503:
                self.not_now += 1
                time.sleep(PAUSE_S)
                continue
            is_fine = answer.status in fine or (sending and answer.status == 409)
            if is_fine and not answer.address.startswith("/sign-in/"):
                return answer
            self.odd[f"{answer.status} {re.sub('[0-9]+', 'N', path)}"] += 1
            if answer.status < 500:
                return None
            time.sleep(PAUSE_S)
        return None

    def write(
        self,
        kind: str,
        item: Hashable,
        path: str,
        sent: tuple[bytes, dict[str, str]],
        headers: dict[str, str],
        fine: tuple[int, ...] = (200, 302),
    ) -> Answer | None:
        self.sent[kind].add(item)
        answer = self.until_answered(path, sent[0], headers | sent[1], fine)
        if answer is not None:
            self.acknowledged[kind].append(item)
        return answer


class Writer(threading.Thread):
    """One thread that does its deed again and again, until the diary is over."""

    def __init__(self, diary: Diary, deed: Callable[[int], None], pause_s: float) -> None:
        super().__init__(daemon=True)
        self.diary, self.deed, self.pause_s = diary, deed, pause_s

    def run(self) -> None:
        number = 0
        while not self.diary.is_over.is_set():
            number += 1
            self.deed(number)
            time.sleep(self.pause_s * random.random())


def typing(diary: Diary, runs: list[Run], by: Account) -> Callable[[int], None]:
    """Typed readings as the page sends them, each with a key of its own."""
    headers = session_of(by) | {"Accept": "application/json", "X-Account": str(by.pk)}

    def deed(number: int) -> None:
        run = runs[number % len(runs)]
        key, text = f"{run.pk}-{number}", f"{20 + number / 10_000:.4f}"
        fields = {"time": str(number), "temperature": text, "page_key": key, "waited_s": "0.1"}
        path = f"/runs/{run.pk}/readings/typed/"
        diary.write("typed readings", (key, text), path, form(fields), headers, (200,))

    return deed


SHEET_FIELDS = ("charge_gross_g", "room_c", "remarks", "titre_ml", "bucket_gross_g")


def filling_in(diary: Diary, runs: list[Run], by: Account) -> Callable[[int], None]:
    """Figures of the sheet, one after the other in the same fields."""
    headers = session_of(by) | {"HX-Request": "true"}

    def deed(number: int) -> None:
        run, key = runs[number % len(runs)], SHEET_FIELDS[number % len(SHEET_FIELDS)]
        text = f"{number / 1000:.3f}"
        path = f"/runs/{run.pk}/figures/{key}/"
        diary.write("figures", (run.pk, key, text), path, form({key: text}), headers, (200,))

    return deed


def reckoning(diary: Diary, runs: list[Run], by: Account) -> Callable[[int], None]:
    """Hand figures."""
    headers = session_of(by)

    def deed(number: int) -> None:
        run, text = runs[number % len(runs)], f"{number / 1000:.3f}"
        path, sent = f"/runs/{run.pk}/hand-figures/rise/", {"rise": text, "unit_rise": "K"}
        diary.write("hand figures", (run.pk, "rise", text), path, form(sent), headers)

    return deed


def sending(diary: Diary, token: str) -> Callable[[int], None]:
    """A device that sends a few readings at once."""
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}

    def deed(number: int) -> None:
        now = datetime.now(UTC).isoformat()
        readings = [
            {"seq": 3 * number + i, "clock": now, "value": f"{20 + number / 1e4:.4f}", "unit": "°C"}
            for i in range(3)
        ]
        items: Any = [(one["seq"], one["value"]) for one in readings]
        diary.sent["device readings"].update(items)
        body = json.dumps({"sent_at": now, "series": "one", "readings": readings}).encode()
        answer = diary.until_answered("/api/v1/readings", body, headers, (200,))
        told: dict[str, Any] = json.loads(answer.content) if answer else {}
        if told.get("taken", 0) + told.get("known", 0) == len(readings):
            diary.acknowledged["device readings"].extend(items)
        else:
            diary.odd[f"device: {told.get('left')}"] += 1

    return deed


def handing_in(diary: Diary, runs: list[Run], by: Account) -> Callable[[int], None]:
    """Files of their own, each kept and then used."""
    headers = session_of(by)

    def deed(number: int) -> None:
        run, content = runs[number % len(runs)], curve(2 + number / 10_000, interval_s=30)
        item = (run.pk, hashlib.sha256(content).hexdigest())
        path = f"/runs/{run.pk}/files/"
        kept = diary.write("files", item, path, upload(f"{number}.csv", content), headers, (302,))
        if kept is not None:
            used = form({"use": "on"})
            diary.write("files used", item, kept.address, used, headers, (302,))

    return deed


def breaking_off(diary: Diary, run: Run, by: Account) -> Callable[[int], None]:
    """A browser that goes away within a number or a file. Nothing of it may be kept."""
    headers = session_of(by) | {"Accept": "application/json"}

    def deed(number: int) -> None:
        if number % 2:
            path, content = "files", curve(3 + number / 10_000, interval_s=30)
            (body, kind), left_out = upload(f"half {number}.csv", content), len(content) // 2
        else:
            path, fields = "readings/typed", {"time": f"{number}", "page_key": f"half-{number}"}
            (body, kind), left_out = form({**fields, "temperature": "23.1694"}), 2
        with suppress(OSError):
            send_part(diary.port, f"/runs/{run.pk}/{path}/", body, headers | kind, left_out)
            diary.broken_off += 1

    return deed


class Decisions:
    """Writes decisions down as the n-th of their kind about a subject, with their reason."""

    def __init__(self, diary: Diary) -> None:
        self.diary, self.counts = diary, Counter[tuple[str, str]]()

    def decide(
        self, subject: Run | Standardization, deed: str, path: str,
        headers: dict[str, str], **fields: str,
    ) -> None:  # fmt: skip
        about = f"{subject._meta.model_name} {subject.pk}"
        self.counts[about, deed] += 1
        reason = fields.get("reason", fields.get("remark", ""))
        item = (about, deed, self.counts[about, deed], reason)
        self.diary.write("decisions", item, path, form(fields), headers, (302,))


def signing(diary: Diary, run: Run, by: Account) -> Callable[[int], None]:
    """A TA who signs a run, takes it up, sets it aside and takes it up again."""
    headers, decisions = session_of(by), Decisions(diary)

    def deed(number: int) -> None:
        path = f"/runs/{run.pk}"
        decisions.decide(run, "signed", f"{path}/sign/", headers)
        decisions.decide(run, "taken up", f"{path}/take-up/", headers, reason=f"again {number}")
        spilled = {"cause": "spill", "remark": f"spilled {number}"}
        decisions.decide(run, "set aside", f"{path}/set-aside/", headers, **spilled)
        decisions.decide(run, "taken up", f"{path}/take-up/", headers, reason=f"dry {number}")

    return deed


def approving(
    diary: Diary, pool: list[tuple[Standardization, Account]], by: Account
) -> Callable[[int], None]:
    """Groups that put forward, a TA who sends back four times, approves once, and withdraws."""
    decisions, decider = Decisions(diary), session_of(by)
    groups = {found.pk: session_of(group) for found, group in pool}

    def deed(number: int) -> None:
        if not pool:
            return
        found = pool[0][0]
        path = f"/standardizations/{found.pk}"
        decisions.decide(found, "put forward", f"{path}/put-forward/", groups[found.pk])
        if number % 5:
            words = {"reason": f"look at run {number}"}
            decisions.decide(found, "sent back", f"{path}/send-back/", decider, **words)
            return
        seen = _seen(diary.port, path, decider)
        decisions.decide(
            found, "approved", f"{path}/approve/", decider, seen=seen, reason=f"fine {number}"
        )
        decisions.decide(
            found, "withdrawn", f"{path}/withdraw/", decider, reason=f"after all {number}"
        )
        pool.pop(0)

    return deed


def _seen(port: int, path: str, headers: dict[str, str]) -> str:
    """What the page says was seen, to be approved; asked until the page comes."""
    for _ in range(1000):
        try:
            answer = ask(port, "GET", f"{path}/", headers=headers)
        except (OSError, http.client.HTTPException):
            time.sleep(PAUSE_S)
            continue
        found = re.search(rb'name="seen" value="([^"]+)"', answer.content)
        if found:
            return found[1].decode()
        time.sleep(PAUSE_S)
    return ""

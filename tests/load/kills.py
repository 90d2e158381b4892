"""Kill the server at random moments while people and devices write; nothing acknowledged is lost.

    .venv/bin/python -m tests.load.kills [--kills 200] [--database postgres://…|private] [--seed 1]

A record of its own; two web processes. Threads type readings, fill in sheets, enter hand figures,
send readings by token, hand in and use files, sign, set aside, put forward, send back and approve.
Each writes down what was acknowledged, and sends what was not answered again. Meanwhile, every
second or so, the whole server is killed (SIGKILL to all its processes), or one of its workers; on
PostgreSQL its connections may be ended as well, and with ``--database private`` PostgreSQL itself
is killed. Every 25 kills and at the end: everything
acknowledged must be there once, nothing twice, nothing that was not sent, nothing half done, and
the chains of evidence whole. Exit code 1 when that is not so.
"""

from __future__ import annotations

from tests.load import scratch_record  # isort: skip  it makes the record labbook reads

import argparse
import random
import sys
import time
from collections import Counter
from dataclasses import dataclass, field

from django.db import connection
from tqdm import tqdm

from labbook.actions import devices, runs
from labbook.lookups.chain import verify_evidence
from labbook.models import Account, Membership, Role, Run, Standardization
from labbook.models.evidence import Link
from tests.labbook.conftest import (
    Laboratory,
    account,
    bench_with_configuration,
    completed,
    fired,
    group_in,
    set_up_laboratory,
)

from .kept import Items, Kept, file_is_sound, half_done
from .serving import Server
from .writers import (
    Diary,
    Writer,
    approving,
    breaking_off,
    filling_in,
    handing_in,
    reckoning,
    sending,
    signing,
    typing,
)

CHECK_EVERY, SHORTEST_S, LONGEST_S = 25, 0.3, 1.6
SETS = 8


def practice_runs(lab: Laboratory, count: int) -> list[Run]:
    return [runs.open_other_run(lab.bench, Run.Kind.PRACTICE, by=lab.group) for _ in range(count)]


def complete_sets(lab: Laboratory, count: int) -> list[tuple[Standardization, Account]]:
    """Standardizations of two runs, each of a group on a bench of its own."""
    made = []
    for number in range(count):
        bench = bench_with_configuration(f"S{number}", lab.coordinator)
        group = group_in(lab.term, f"section {number}", lab.assistant, f"G{number}", bench)
        Membership.objects.create(group=group, person=lab.person, since=lab.term.starts)
        by = account(f"g{number}", Role.GROUP, group=group)
        own = Laboratory(**{**vars(lab), "bench": bench, "group": by})
        for rise_k in (2.5, 2.502):
            run = runs.open_standardization_run(bench, by=by)
            completed(run, own, rise_k)
        assert run.standardization is not None
        made.append((run.standardization, by))
    return made


def hire(diary: Diary, lab: Laboratory) -> list[Writer]:
    """Everybody who writes, each with things of their own."""
    device, token = devices.make_device(lab.bench, "probe", by=lab.coordinator)
    (listening,) = practice_runs(lab, 1)
    devices.listen_to_device(listening, device, by=lab.group)
    to_sign, group = completed(practice_runs(lab, 1)[0], lab), lab.group
    with_files = [fired(run, lab) for run in practice_runs(lab, 4)]
    pool = complete_sets(lab, SETS)
    deeds = [
        (typing(diary, practice_runs(lab, 8), group), 0.1),
        (typing(diary, practice_runs(lab, 8), group), 0.1),
        (filling_in(diary, practice_runs(lab, 4), group), 0.1),
        (reckoning(diary, practice_runs(lab, 2), group), 0.2),
        (sending(diary, token), 0.2),
        (handing_in(diary, with_files, group), 0.3),
        (breaking_off(diary, with_files[0], group), 0.5),
        (signing(diary, to_sign, lab.assistant), 0.2),
        (approving(diary, pool, lab.assistant), 0.2),
    ]
    return [Writer(diary, deed, pause_s) for deed, pause_s in deeds]


@dataclass
class Found:
    """What was not as it should be, over all checks."""

    lost: Counter[str] = field(default_factory=Counter)
    doubled: Counter[str] = field(default_factory=Counter)
    not_sent: Counter[str] = field(default_factory=Counter)
    sentences: list[str] = field(default_factory=list)

    @property
    def is_whole(self) -> bool:
        return not (self.lost or self.doubled or self.not_sent or self.sentences)

    def check(self, diary: Diary, kept: Kept) -> None:
        for kind, items in kept.by_kind().items():
            self.lost[kind] += len(set(diary.acknowledged[kind]) - set(items))
            self.doubled[kind] += sum(count - 1 for count in items.values())
            self.not_sent[kind] += len(set(items) - diary.sent[kind])
        self.sentences += half_done()
        self.sentences += [f"{one.where}: {one.sentence}" for one in verify_evidence().breaks]
        if file_is_sound() != "ok":
            self.sentences.append(file_is_sound())
        # Without the kinds of which nothing is wrong.
        self.lost, self.doubled, self.not_sent = +self.lost, +self.doubled, +self.not_sent
        connection.close()


def kinds_of_blows() -> list[str]:
    """The kinds there are on this database, each as often as it shall come."""
    kinds = ["server"] * 6 + ["worker"] * 2
    if scratch_record.server:
        kinds += ["connections"] * 2
    if scratch_record.cluster:
        kinds += ["PostgreSQL"] * 4
    return kinds


def strike(kind: str, server: Server, chosen: random.Random) -> None:
    """One blow; everything runs again when this returns."""
    if kind == "worker":
        server.kill_worker(chosen)
    elif kind == "connections":
        scratch_record.end_connections()
    elif kind == "PostgreSQL":
        assert scratch_record.cluster
        scratch_record.cluster.kill()
        scratch_record.cluster.start()
    else:
        server.kill()
        server.start()


def go_on(
    kills: int, seed: int, diary: Diary, server: Server, kept: Kept
) -> tuple[Counter[str], Found]:
    """Kill, start again, and look from time to time what is there while nothing runs."""
    chosen, struck, found = random.Random(seed), Counter[str](), Found()
    for number in tqdm(range(1, kills + 1), unit=" kills", file=sys.stderr, mininterval=5):
        while True:
            time.sleep(chosen.uniform(SHORTEST_S, LONGEST_S))
            kind = chosen.choice(kinds_of_blows())
            strike(kind, server, chosen)
            struck[kind] += 1
            if kind != "worker":  # the other one goes on serving
                break
        if number % CHECK_EVERY == 0 and number < kills:
            server.kill()
            found.check(diary, kept)
            server.start()
    return struck, found


def show(diary: Diary, kept: dict[str, Items], struck: Counter[str], found: Found) -> None:
    print("killed:", ", ".join(f"{n} of {what}" for what, n in struck.items()))
    print(f"{'':18}{'acknowledged':>13}{'kept':>8}{'lost':>6}{'doubled':>9}{'not sent':>10}")
    for kind, items in kept.items():
        figures = len(diary.acknowledged[kind]), items.total(), found.lost[kind]
        print(f"{kind:18}{figures[0]:13}{figures[1]:8}{figures[2]:6}", end="")
        print(f"{found.doubled[kind]:9}{found.not_sent[kind]:10}")
    print(f"{diary.unanswered} requests were not answered, {diary.not_now} told to come again,")
    print(f"{diary.resent} sent again, {diary.broken_off} broken off within a number or a file")
    print("answers nobody expects:", dict(diary.odd) or "none")
    print(f"links verified: {Link.objects.count()}; the database file: {file_is_sound()}")
    print("not whole:" if found.sentences else "chains whole, nothing half done")
    for sentence in found.sentences[:20]:
        print(f"  {sentence}")


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--database", metavar="URL", help="a PostgreSQL server, to use instead")
    asked = parser.parse_args()
    server = Server(is_quiet=True)
    diary = Diary(server.port)
    writers = hire(diary, set_up_laboratory())
    kept = Kept()
    connection.close()
    began = time.monotonic()
    try:
        server.start()
        for writer in writers:
            writer.start()
        struck, found = go_on(asked.kills, asked.seed, diary, server, kept)
        diary.is_over.set()
        for writer in writers:
            writer.join()
    finally:
        server.close()
    found.check(diary, kept)
    show(diary, kept.by_kind(), struck, found)
    print(f"{time.monotonic() - began:.0f} s")
    return 0 if found.is_whole else 1


if __name__ == "__main__":
    sys.exit(main())

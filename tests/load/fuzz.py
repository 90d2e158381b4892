"""Every form, page and address of the interface for programs against what nobody would send.

    .venv/bin/python -m tests.load.fuzz [--cases 10000] [--database postgres://…]

The same requests as in ``tests/labbook/fuzz``, in number: a third of them made by schemathesis from
the interface's own description, the others by hypothesis from the forms of the pages, as every
persona. Each is taken back after its answer. Prints what came back; exit code 1 on any fault: a
500, a refusal without a sentence, an answer unlike its description, something half-written.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter
from unittest.mock import patch

from tests.load import scratch_record  # isort: skip  it makes the record labbook reads

from django.conf import settings
from django.test.utils import override_settings, setup_test_environment

from labbook.lookups.chain import verify_evidence
from tests.labbook.conftest import set_up_laboratory
from tests.labbook.fuzz.asking import Found, ask
from tests.labbook.fuzz.described import ask_as_described, tokens_of
from tests.labbook.fuzz.places import PERSONAS, all_names, places
from tests.labbook.pages.conftest import Afternoon, whole_afternoon

OPERATIONS, WITH_WRONG_TOKENS = 10, 1.2
QUICK = "django.contrib.auth.hashers.MD5PasswordHasher"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--cases", type=int, default=10_000)
    parser.add_argument("--database", help="a PostgreSQL server to make a scratch database on")
    parser.add_argument("--only", default="", help="only addresses whose name holds this")
    parser.add_argument("--part", choices=("forms", "programs"), help="only these")
    asked = parser.parse_args()
    setup_test_environment(debug=False)
    with (
        override_settings(PASSWORD_HASHERS=[QUICK]),
        patch("labbook.views.paper.as_pdf", lambda page, styles: page.encode()),
        patch("labbook.exchange.package.contents.can_make_pdf", lambda: False),
    ):
        afternoon = whole_afternoon(set_up_laboratory())
        found, a_third = {}, asked.cases // 3
        if asked.part != "programs":
            found["forms and pages"] = of_forms(afternoon, asked.cases - a_third, asked.only)
        if asked.part != "forms" and not asked.only:
            examples = round(a_third / OPERATIONS / WITH_WRONG_TOKENS)
            found["programs"] = ask_as_described(tokens_of(afternoon.lab), examples)
    sys.exit(told(found))


def of_forms(afternoon: Afternoon, cases: int, only: str) -> Found:
    there, found = places(afternoon), Found()
    names = all_names(there)
    chosen = [place for place in there if only in place.name]
    examples = max(1, round(cases / len(chosen) / len(PERSONAS)))
    for persona in PERSONAS:
        client = afternoon.client(persona)
        for place in chosen:
            ask(place, client, names, examples, found)
    return found


def told(found: dict[str, Found]) -> int:
    """Print the table; the exit code."""
    for words, one in found.items():
        by_status = ", ".join(f"{status}: {count}" for status, count in sorted(one.answers.items()))
        print(f"{words:<16} {sum(one.answers.values()):>7} answers   {by_status}")
    faults = Counter({fault: 1 for one in found.values() for fault in one.faults})
    for one in found.values():
        for fault, sent in one.faults.items():
            print(f"\n{fault}\n    {str(sent)[:600]}")
    whole = verify_evidence()
    database = settings.DATABASES["default"]["ENGINE"].rpartition(".")[2]
    print(f"\n{len(faults)} faults; evidence {'whole' if whole.is_whole else 'BROKEN'}; {database}")
    print(f"{time.process_time():.0f} s of processor time")
    return 1 if faults or not whole.is_whole else 0


if __name__ == "__main__":
    assert scratch_record.folder
    main()

"""Which deed of ``access.RIGHTS`` each address is, to read and to write: one row an address.

To add an address: give its name a row here. ``reads`` is the deed of GET and HEAD, ``writes`` that
of POST (or, where the address names its deed, one for each); what is left out is not served and
answered with 405. ``of`` says what the address is about, see ``SEEN_BY``. An address without a row
is answered to nobody, ``manage.py check`` names it, and ``tests/labbook/pages/test_reach.py``
tries every row with every method as every role, for one's own things and for others'.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.core.checks import CheckMessage, Error, register
from django.urls import URLPattern, URLResolver, get_resolver

from .access import RIGHTS

PUBLIC = "anyone, without a sign-in"
BY_DEVICE = "a bench's logger, by its token"

# Whoever may not do this to a thing is not told that it is there: 404.
SEEN_BY = {
    "run": "see run",
    "standardization": "see standardization",
    "group": "see hand-in",
    "hand-in": "mark",
    "section": "look after section",
    "bench": "report fault",
}


@dataclass(frozen=True)
class Address:
    """What is done at one address: the deed of each method, and what it is done to."""

    reads: str = ""
    writes: str | Mapping[str, str] = ""
    of: str = ""
    # For programs: by the rights of the account whose token is sent; no sign-in is looked at.
    by_token: bool = False

    @property
    def methods(self) -> list[str]:
        reading = ["GET"] if self.is_for_programs else ["GET", "HEAD"]
        return [*(reading if self.reads else []), *(["POST"] if self.writes else [])]

    @property
    def deeds(self) -> set[str]:
        written = {self.writes} if isinstance(self.writes, str) else set(self.writes.values())
        return ({self.reads} | written) - {""}

    @property
    def is_for_programs(self) -> bool:
        return self.by_token or self.deeds == {BY_DEVICE}

    @property
    def is_public(self) -> bool:
        """Whether it is answered without a sign-in."""
        return self.is_for_programs or self.deeds == {PUBLIC}

    def deed(self, method: str, given: Mapping[str, Any]) -> str:
        """The deed of a method that is served; "" where the address names one that is not."""
        if method != "POST":
            return self.reads
        return self.writes if isinstance(self.writes, str) else self.writes.get(given["deed"], "")


EVERYBODY = Address("use the record")
DECISIONS = {
    "put-forward": "put standardization forward",
    "take-back": "put standardization forward",
    "approve": "decide standardization",
    "send-back": "decide standardization",
    "withdraw": "decide standardization",
    "close": "decide standardization",
}
LOGGED = {
    "fault": "report fault",
    "near-miss": "report fault",
    "service": "keep bench log",
    "entry": "keep bench log",
    "out-of-service": "take bench out of service",
    "back-in-service": "take bench out of service",
    "release": "release overdue bench",
}

ADDRESSES: dict[str, Address] = {
    # First pages and sign-ins.
    "home": EVERYBODY,
    "sign_in": Address(PUBLIC, PUBLIC),
    "campus_openid": Address(PUBLIC),
    "campus_openid_back": Address(PUBLIC),
    "campus_saml": Address(PUBLIC),
    "campus_saml_back": Address(writes=PUBLIC),
    "campus_saml_metadata": Address(PUBLIC),
    "another_group": Address("use the record", "use the record"),
    "switch_group": Address(writes="use the record"),
    "sign_out": Address(writes="use the record"),
    "afternoon": Address("open run"),
    # Runs.
    "runs": Address("see review desk"),
    "open_run": Address(writes="open run"),
    "run": Address("see run", "fill in sheet", of="run"),
    "enter_figure": Address(writes="fill in sheet", of="run"),
    "note_presence": Address(writes="fill in sheet", of="run"),
    "tick_checklist": Address(writes="fill in sheet", of="run"),
    "answer_note": Address(writes="fill in sheet", of="run"),
    "record_happening": Address(writes="fill in sheet", of="run"),
    "open_again": Address(writes="open run", of="run"),
    "run_readings": Address("see run", of="run"),
    "add_typed_reading": Address(writes="fill in sheet", of="run"),
    "start_clock": Address(writes="fill in sheet", of="run"),
    "mark_fired_by_clock": Address(writes="fill in sheet", of="run"),
    "reading": Address("see run", of="run"),
    "strike_readings": Address(writes="fill in sheet", of="run"),
    "newer_readings": Address("see run", of="run"),
    "listen_to_device": Address(writes="fill in sheet", of="run"),
    "take_over_by_typing": Address(writes="fill in sheet", of="run"),
    "move_bound": Address(writes="fill in sheet", of="run"),
    "hand_in_file": Address(writes="fill in sheet", of="run"),
    "file": Address("see run", "fill in sheet", of="run"),
    "mark_fired": Address(writes="fill in sheet", of="run"),
    "unlock_limit": Address(writes="unlock limit", of="run"),
    "complete_run": Address(writes="fill in sheet", of="run"),
    "report_misfire": Address(writes="fill in sheet", of="run"),
    "set_aside": Address(writes="set run aside", of="run"),
    "take_up": Address(writes="set run aside", of="run"),
    "sign_run": Address(writes="sign run", of="run"),
    # Results and hand figures.
    "hand_figures": Address("see run", "enter hand figures", of="run"),
    "save_hand_figures": Address(writes="enter hand figures", of="run"),
    "enter_hand_figure": Address(writes="enter hand figures", of="run"),
    "cite_literature": Address(writes="enter hand figures", of="run"),
    "confirm_literature": Address(writes="confirm literature", of="run"),
    "run_result": Address("see run", of="run"),
    "run_working": Address("see run", of="run"),
    "run_working_data": Address("see run", of="run"),
    "monte_carlo": Address(writes="see run", of="run"),
    # Standardizations and the review desk.
    "standardization": Address("see standardization", of="standardization"),
    "exclude_point": Address(writes="change bench"),
    "decide": Address(writes=DECISIONS, of="standardization"),
    "review_desk": Address("see review desk"),
    # A section's afternoon.
    "sections": Address("look after section"),
    "section": Address("look after section", of="section"),
    "prepare_benches": Address("look after section", "look after section", of="section"),
    "attendance": Address("look after section", "look after section", of="section"),
    "seat_person": Address(writes="look after section", of="section"),
    "hand_over": Address("look after section", "look after section", of="section"),
    "section_deed": Address(
        writes={"sign": "sign run", "set-aside": "set run aside"}, of="section"
    ),
    # Benches, their histories and their logs.
    "benches": Address("see benches"),
    "compare_benches": Address("see benches"),
    "bench": Address("see benches", of="bench"),
    "bench_table": Address("see benches", of="bench"),
    "bench_points": Address("see benches", of="bench"),
    "bench_signs": Address("see benches", of="bench"),
    "bench_wear": Address("see benches", of="bench"),
    "wear_table": Address("see benches", of="bench"),
    "change_bench": Address("change bench", "change bench"),
    "freeze_limits": Address(writes="change bench"),
    "decide_break": Address(writes="change bench"),
    "bench_log": Address("see benches", of="bench"),
    "log_deed": Address(writes=LOGGED, of="bench"),
    "mend_fault": Address(writes="keep bench log", of="bench"),
    # Paper.
    "papers": EVERYBODY,
    "blank_sheet": EVERYBODY,
    "blank_sheet_pdf": EVERYBODY,
    "blank_plot_paper": EVERYBODY,
    "blank_plot_paper_pdf": EVERYBODY,
    "bench_labels": Address("see benches"),
    "bench_labels_pdf": Address("see benches"),
    "data_sheet": Address("see run", of="run"),
    "data_sheet_pdf": Address("see run", of="run"),
    "data_sheet_feet": Address("see run", of="run"),
    "run_plot_paper": Address("see run", of="run"),
    "run_plot_paper_pdf": Address("see run", of="run"),
    "at_bench": EVERYBODY,
    # Handing in.
    "handing_in": Address("see hand-in", of="group"),
    "hand_in": Address(writes="hand in", of="group"),
    "hand_in_version": Address("see hand-in", of="group"),
    "hand_in_package": Address("see hand-in", of="group"),
    "package_file": Address("see hand-in", of="group"),
    # Marking.
    "marking": Address("mark"),
    "section_marks": Address("mark", of="section"),
    "give_marks_out": Address(writes="give marks out", of="section"),
    "section_marks_table": Address(writes="mark", of="section"),
    "mark_hand_in": Address("mark", "mark", of="hand-in"),
    "handed_in_run": Address("mark", of="hand-in"),
    "share_hand_in": Address(writes="mark", of="hand-in"),
    "marks_spread": Address("mark", of="hand-in"),
    "group_mark": Address("see marks", of="group"),
    # Samples.
    "samples": Address("see sample identity"),
    "sealed_list": Address("see sample identity"),
    "sealed_list_pdf": Address("see sample identity"),
    "reveal_due_samples": Address(writes="reveal sample"),
    "issue_samples": Address("issue sample", "issue sample", of="section"),
    "reveal_sample": Address(writes="reveal sample"),
    # Terms and people.
    "terms": Address("set up"),
    "term": Address("set up"),
    "begin_term": Address("set up", "set up"),
    "term_compared": Address("compare term"),
    "likeness": Address("look for likeness"),
    "roster": Address("set up", "set up"),
    "take_roster": Address(writes="set up"),
    "slips": Address("set up", "set up"),
    "close_term": Address("set up", "set up"),
    "term_archive": Address(writes="set up"),
    "term_people": Address(writes="set up"),
    "term_marks": Address(writes="set up"),
    "retention": Address("set up"),
    "purge_term": Address(writes="set up"),
    "hold_term": Address(writes="set up"),
    "lift_hold": Address(writes="set up"),
    "sign_ins": Address("set up"),
    "lift_sign_in": Address(writes="set up"),
    "end_sign_in": Address(writes="set up"),
    "open_sign_in": Address(writes="set up"),
    # Set-up.
    "setup": Address("set up"),
    "setup_list": Address("set up"),
    "setup_new": Address("set up", "set up"),
    "setup_change": Address("set up", "set up"),
    "mark_scheme": Address("set up", "set up"),
    "copy_mark_scheme": Address(writes="set up"),
    "rereductions": Address("rereduce", "rereduce"),
    "rereduction": Address("rereduce"),
    "work_on": Address(writes="rereduce"),
    "apply_rereduction": Address(writes="rereduce"),
    "devices": Address("keep devices", "keep devices"),
    "revoke_device": Address(writes="keep devices"),
    # The record itself.
    "status": Address("keep the record"),
    "verify_record": Address(writes="keep the record"),
    "health": Address(PUBLIC),
    # For programs, and to publish.
    "term_open_data": Address("publish open data", "publish open data"),
    "bench_open_data": Address("publish open data", "publish open data"),
    "reading_tokens": Address("keep reading tokens", "keep reading tokens"),
    "revoke_reading_token": Address(writes="keep reading tokens"),
    "api_description": Address(PUBLIC),
    "api:openapi-json": Address(PUBLIC),
    "api:api-root": Address(PUBLIC),
    "api:send_readings": Address(writes=BY_DEVICE),
    "api:ping": Address(BY_DEVICE),
    "api:open_terms": Address("use the record", by_token=True),
    "api:open_benches": Address("see benches", by_token=True),
    "api:open_history": Address("see benches", of="bench", by_token=True),
    "api:open_runs": Address("see run", by_token=True),
    "api:open_run": Address("see run", of="run", by_token=True),
    "api:open_readings": Address("see run", of="run", by_token=True),
    "api:open_result": Address("see run", of="run", by_token=True),
    "api:open_standardization": Address("see standardization", of="standardization", by_token=True),
}


def address_names(patterns: list[Any] | None = None, before: str = "") -> Iterator[str]:
    """The name of every address in the URL configuration, as a request is resolved to it."""
    for pattern in get_resolver().url_patterns if patterns is None else patterns:
        if isinstance(pattern, URLResolver):
            inner = f"{before}{pattern.namespace}:" if pattern.namespace else before
            yield from address_names(pattern.url_patterns, inner)
        elif isinstance(pattern, URLPattern):
            yield f"{before}{pattern.name}"


@register
def check_addresses(**_: object) -> list[CheckMessage]:
    """Every address has its row, and every row names a deed that there is."""
    served = set(address_names())
    missing = [
        Error(f"The address “{name}” has no row.", hint="Add one to labbook/addresses.py.")
        for name in sorted(served - set(ADDRESSES))
    ]
    unknown = [
        Error(f"The row of “{name}” names a deed that labbook/access.py does not have: {deed}.")
        for name, row in ADDRESSES.items()
        for deed in sorted(row.deeds - {PUBLIC, BY_DEVICE, *RIGHTS})
    ]
    gone = [
        Error(f"No address is called “{name}”.", hint="Remove its row in labbook/addresses.py.")
        for name in sorted(set(ADDRESSES) - served)
    ]
    return [*missing, *unknown, *gone]

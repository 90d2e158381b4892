"""Sign-ins of groups made in bulk, with passphrases shown once; and sign-ins that end at once."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from axes.models import AccessFailureLog
from axes.utils import reset
from django.contrib.auth import SESSION_KEY
from django.contrib.auth.hashers import make_password
from django.contrib.sessions.models import Session
from django.db import transaction
from django.utils.crypto import salted_hmac

from .. import clock
from ..access import require
from ..lookups.sign_ins import TOKEN, is_guessing_tokens
from ..models import Account, Group, Role, Term
from ..problems import refuse
from ..problems.terms import refuse_if_closed
from .passphrases import make_passphrase
from .setup import keep


@dataclass(frozen=True)
class Slip:
    """What is handed to a group: its sign-in and the passphrase, which is kept only as a hash."""

    account: Account
    group: Group
    passphrase: str


def make_slips(term: Term, groups: Iterable[Group], *, by: Account) -> list[Slip]:
    """A new passphrase for each group, with a sign-in where it has none. Earlier ones stop.

    Hashing is slow on purpose: it is done before the transaction, which would hold up everybody.
    """
    require(by, "set up")
    refuse_if_closed(term)
    chosen = [group for group in groups if group.section.term_id == term.pk]
    if not chosen:
        raise refuse("groups", "No group was chosen. Choose whose slips are to be printed.")
    passphrases = [make_passphrase() for _ in chosen]
    hashes = [make_password(passphrase) for passphrase in passphrases]
    with transaction.atomic():
        term = Term.objects.select_for_update().get(pk=term.pk)
        refuse_if_closed(term)
        accounts = _sign_ins_of(chosen, hashes, by)
    return [Slip(*row) for row in zip(accounts, chosen, passphrases, strict=True)]


def _sign_ins_of(groups: list[Group], hashes: list[str], by: Account) -> list[Account]:
    there = {account.group_id: account for account in Account.objects.filter(group__in=groups)}
    taken = set(Account.objects.values_list("username", flat=True))
    accounts = []
    for group, password in zip(groups, hashes, strict=True):
        account = there.get(group.pk)
        if account is None:
            name = _free_name(group, taken)
            taken.add(name)
            account = Account(
                username=name, name=f"Group {group.code}", role=Role.GROUP, group=group
            )
        account.password, account.is_active = password, True
        keep(account, by=by)
        accounts.append(account)
    return accounts


def _free_name(group: Group, taken: set[str]) -> str:
    """The group's code, as its members say it; with a number where another term has it still."""
    plain = "".join(letter for letter in group.code.lower() if letter.isalnum() or letter in "-.")
    name, number = plain or "group", 1
    while name in taken:
        number += 1
        name = f"{plain or 'group'}-{number}"
    return name


@transaction.atomic
def end_sign_in(account: Account, *, by: Account) -> Account:
    """A leaver is out at once: the sign-in is closed, its sessions end, what was done stays."""
    require(by, "set up")
    account = Account.objects.select_for_update().get(pk=account.pk)
    if account.pk == by.pk:
        raise refuse("own", "You cannot end your own sign-in. Ask another coordinator.")
    if not account.is_active:
        raise refuse("closed", f"The sign-in {account.username} is closed already.")
    account.is_active = False
    keep(account, by=by)
    end_sessions([account])
    return account


@transaction.atomic
def open_sign_in(account: Account, *, by: Account) -> Account:
    """Open a sign-in again. Sessions from before it was closed stay ended."""
    require(by, "set up")
    account = Account.objects.select_for_update().get(pk=account.pk)
    if account.is_active:
        raise refuse("open", f"The sign-in {account.username} is open already.")
    account.is_active = True
    keep(account, by=by)
    return account


FAILURES_KEPT = timedelta(days=7)


def lift_hold_on(username: str, ip_address: str, *, by: Account) -> None:
    """Let a name be tried again at an address at which it was held."""
    require(by, "set up")
    if not reset(ip=ip_address, username=username):
        raise refuse("held", f"{username} is not held at {ip_address} any more.")


def forget_failures() -> None:
    """Names and addresses of failed sign-ins are kept for some days only."""
    AccessFailureLog.objects.filter(attempt_time__lt=clock.now() - FAILURES_KEPT).delete()


def note_wrong_token(ip_address: str) -> bool:
    """Count a wrong token of a program; whether its address has to wait."""
    if is_guessing_tokens(ip_address):
        return True
    AccessFailureLog.objects.create(
        username=TOKEN, ip_address=ip_address, user_agent="", http_accept="", path_info="/api/v1/"
    )
    return False


def use_once(what: str, until: datetime) -> bool:
    """Whether something that may be used once was not used before.

    It is kept among the sessions, which every process sees and which are cleared once over.
    """
    key = salted_hmac("labbook.once", what).hexdigest()[:40]
    _, is_new = Session.objects.get_or_create(session_key=key, defaults={"expire_date": until})
    return is_new


def end_sessions(accounts: Iterable[Account]) -> int:
    """Delete the sessions of these accounts; how many there were."""
    numbers = {str(account.pk) for account in accounts}
    going = Session.objects.filter(expire_date__gte=clock.now())
    theirs = [one.pk for one in going if str(one.get_decoded().get(SESSION_KEY)) in numbers]
    Session.objects.filter(pk__in=theirs).delete()
    return len(theirs)

"""Set-up: lists and forms for the records a coordinator looks after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.cache import never_cache

from ..access import require
from ..actions.setup import keep_method, save_setup
from ..forms.plain_words import AnyModelForm
from ..forms.setup import BY_KEY, KINDS, SetupKind
from ..lookups.setting_up import lacking
from ..lookups.setup_history import changes_of
from ..models import Account, Method
from ..models.labels import label_of
from ..parts import page
from ..requests import SignedIn

ROWS_A_PAGE = 60


@dataclass(frozen=True)
class SetupStep:
    """A kind of record on the set-up page: how many there are, and what stands before it."""

    kind: SetupKind
    count: int
    first: tuple[SetupKind, ...]
    lacks: str

    @property
    def is_open(self) -> bool:
        """Whether a first afternoon needs more of it, and it can be done now."""
        wanting = bool(self.lacks) or (self.count == 0 and not self.kind.may_wait)
        return wanting and not self.first


def setup(request: SignedIn) -> HttpResponse:
    require(request.user, "set up")
    steps = _steps()
    following = next((step for step in steps if step.is_open), None)
    return page(request, "setup/index.html", {"steps": steps, "following": following})


def _steps() -> list[SetupStep]:
    counts = {kind.key: kind.model._default_manager.count() for kind in KINDS}
    lacks = lacking()
    return [
        SetupStep(
            kind,
            counts[kind.key],
            tuple(BY_KEY[key] for key in kind.after if not counts[key]),
            lacks.get(kind.key, ""),
        )
        for kind in KINDS
    ]


def _kind(key: str) -> SetupKind:
    if key not in BY_KEY:
        raise Http404
    return BY_KEY[key]


@never_cache  # The list of samples must not be there for whoever presses Back.
def setup_list(request: SignedIn, key: str) -> HttpResponse:
    require(request.user, "set up")
    kind = _kind(key)
    listing = Paginator(kind.model._default_manager.all(), ROWS_A_PAGE)
    page_obj = listing.get_page(request.GET.get("page"))
    rows = [(record, [_cell(record, name) for name in kind.columns]) for record in page_obj]
    heads = [_label(kind, name) for name in kind.columns]
    context = {"kind": kind, "rows": rows, "heads": heads, "page_obj": page_obj}
    return page(request, "setup/list.html", context)


def _label(kind: SetupKind, name: str) -> str:
    return label_of(kind.model, name)


def _cell(record: Any, name: str) -> Any:
    show = getattr(record, f"get_{name}_display", None)
    return show() if show else getattr(record, name)


@never_cache
def setup_form(request: SignedIn, key: str, pk: int | None = None) -> HttpResponse:
    """A new record, or one to change. What was typed stays when something is refused."""
    require(request.user, "set up")
    kind = _kind(key)
    record = get_object_or_404(kind.model, pk=pk) if pk else None
    form = kind.form(request.POST or None, instance=record)
    if request.method == "POST" and form.is_valid():
        saved = _save(form, request.user)
        messages.success(request, f"Saved: {saved}.")
        return redirect("setup_list", key)
    changes = changes_of(record) if record else []
    context = {"kind": kind, "form": form, "record": record, "changes": changes}
    status = 422 if request.method == "POST" else 200
    return page(request, "setup/form.html", context, status=status)


def _save(form: AnyModelForm, account: Account) -> Any:
    record = form.save(commit=False)
    if isinstance(record, Method):
        return keep_method(record, by=account)
    saved = save_setup(record, by=account)
    form.save_m2m()
    return saved

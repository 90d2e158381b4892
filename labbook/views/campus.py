"""Signing in with the campus account. Nothing answers here unless the campus was set up."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.core import signing
from django.http import Http404, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, resolve_url
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt

from ..actions.sign_ins import use_once
from ..campus import openid, saml
from ..campus.configured import OpenID, Saml
from ..campus.refused import NotGiven
from ..lookups.campus import account_named
from ..parts import page
from ..requests import SignedIn
from ..shared_pc import sign_in_here

BACKEND = "django.contrib.auth.backends.ModelBackend"
NEXT = "campus_next"
# The answer comes as a form of another site, with which a browser sends no session: what was
# asked is kept in a signed cookie of its own.
ASKED, ASKED_FOR_S = "campus_asked", 600


def _next(request: SignedIn) -> str:
    """The page to go on to, within this record."""
    asked = request.GET.get("next", "")
    is_ours = url_has_allowed_host_and_scheme(asked, {request.get_host()}, request.is_secure())
    return asked if is_ours else resolve_url(settings.LOGIN_REDIRECT_URL)


def _enter(request: SignedIn, name: str, onward: str) -> HttpResponse:
    """Act for whom the name belongs to; signing in makes no new account."""
    account = account_named(name)
    if account is None:
        return page(request, "campus/unknown.html", {"name": name}, status=403)
    sign_in_here(request, account, BACKEND)
    return redirect(onward)


def _failed(request: SignedIn, why: NotGiven) -> HttpResponse:
    return page(request, "campus/failed.html", {"why": str(why)}, status=400)


# --- OpenID Connect -----------------------------------------------------------------------------
def _openid() -> OpenID:
    if settings.LABBOOK_CAMPUS.openid is None:
        raise Http404
    found: OpenID = settings.LABBOOK_CAMPUS.openid
    return found


@never_cache
@login_not_required
def campus_openid(request: SignedIn) -> HttpResponse:
    provider = _openid()
    request.session[NEXT] = _next(request)
    try:
        return openid.lead_there(
            provider, request, request.build_absolute_uri(reverse("campus_openid_back"))
        )
    except NotGiven as why:
        return _failed(request, why)


@never_cache
@login_not_required
def campus_openid_back(request: SignedIn) -> HttpResponse:
    provider = _openid()
    try:
        name = openid.name_given(provider, request)
    except NotGiven as why:
        return _failed(request, why)
    return _enter(request, name, request.session.pop(NEXT, "/"))


# --- SAML ---------------------------------------------------------------------------------------
def _saml() -> Saml:
    if settings.LABBOOK_CAMPUS.saml is None:
        raise Http404
    found: Saml = settings.LABBOOK_CAMPUS.saml
    return found


def _places(request: SignedIn) -> saml.Places:
    names = ("campus_saml_metadata", "campus_saml_back")
    return saml.Places(*(request.build_absolute_uri(reverse(name)) for name in names))


@never_cache
@login_not_required
def campus_saml(request: SignedIn) -> HttpResponse:
    try:
        there, number = saml.address_there(_saml(), _places(request), request)
    except NotGiven as why:
        return _failed(request, why)
    response = HttpResponseRedirect(there)
    response.set_cookie(
        ASKED,
        signing.dumps({"number": number, "next": _next(request)}, salt=ASKED),
        max_age=ASKED_FOR_S,
        path=reverse("campus_saml"),
        httponly=True,
        secure=settings.BEHIND_TLS,
        samesite="None" if settings.BEHIND_TLS else "Lax",
    )
    return response


@never_cache
@csrf_exempt
@login_not_required
def campus_saml_back(request: SignedIn) -> HttpResponse:
    """The provider's signed answer; its signature and its number stand in for a CSRF token."""
    provider = _saml()
    try:
        asked: dict[str, Any] = signing.loads(
            request.COOKIES.get(ASKED, ""), salt=ASKED, max_age=ASKED_FOR_S
        )
        named = saml.named_by(provider, _places(request), request, asked["number"])
        if not use_once(named.assertion, named.until):
            raise NotGiven("This answer of the campus sign-on was used before.")
    except signing.BadSignature:
        return _failed(request, NotGiven("Nothing was asked from here in the last 10 minutes."))
    except NotGiven as why:
        return _failed(request, why)
    response = _enter(request, named.name, asked["next"])
    response.delete_cookie(ASKED, path=reverse("campus_saml"))
    return response


@login_not_required
def campus_saml_metadata(request: SignedIn) -> HttpResponse:
    written = saml.metadata_of(_saml(), _places(request))
    return HttpResponse(written, content_type="application/samlmetadata+xml")

"""OpenID Connect: the authorization code flow with PKCE, state and nonce, by Authlib."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from .configured import OpenID
from .refused import NotGiven

ANSWER_WITHIN_S = 10


def client_of(provider: OpenID) -> Any:
    """Loaded only where it is used: a record without a campus sign-on needs no such library."""
    from authlib.integrations.django_client import OAuth

    return OAuth().register(
        name="campus",
        client_id=provider.client_id,
        client_secret=provider.client_secret,
        server_metadata_url=provider.discovery,
        client_kwargs={
            "scope": "openid profile",
            "code_challenge_method": "S256",
            "timeout": ANSWER_WITHIN_S,
        },
    )


def lead_there(provider: OpenID, request: HttpRequest, back: str) -> HttpResponse:
    """To the provider, which sends the browser back to ``back``."""
    from requests import RequestException

    try:
        answer: HttpResponse = client_of(provider).authorize_redirect(request, back)
    except (RequestException, ValueError) as error:
        raise NotGiven("The campus sign-on does not answer.") from error
    return answer


def name_given(provider: OpenID, request: HttpRequest) -> str:
    """The name in the provider's signed answer, checked for whom, by whom and when it was made."""
    from authlib.common.errors import AuthlibBaseError
    from joserfc.errors import JoseError
    from requests import RequestException

    client = client_of(provider)
    try:
        issuer = client.load_server_metadata()["issuer"]
        if issuer.rstrip("/") != provider.issuer.rstrip("/"):
            raise NotGiven("The campus sign-on goes by another name than its settings say.")
        expected = {
            "iss": {"essential": True, "values": [issuer]},
            "aud": {"essential": True, "values": [provider.client_id]},
        }
        given = client.authorize_access_token(request, claims_options=expected)
    except (AuthlibBaseError, JoseError, RequestException, ValueError, KeyError) as error:
        raise NotGiven("The answer of the campus sign-on was not the one asked for.") from error
    claims = given.get("userinfo") or {}
    return str(claims.get(provider.name_claim) or "")

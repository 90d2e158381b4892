"""SAML 2.0, browser single sign-on: a request by redirect, a signed assertion by POST back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from django.http import HttpRequest

from .configured import Saml
from .refused import NotGiven


@dataclass(frozen=True)
class Places:
    """This server's own addresses, by which the provider knows it."""

    metadata: str
    back: str


@dataclass(frozen=True)
class Named:
    """Who it is, by an assertion that may be used once."""

    name: str
    assertion: str
    until: datetime


def _settings(provider: Saml, places: Places) -> dict[str, Any]:
    from onelogin.saml2.idp_metadata_parser import OneLogin_Saml2_IdPMetadataParser as Parser

    return {
        "strict": True,
        "idp": Parser.parse(provider.metadata)["idp"],
        "sp": {
            "entityId": places.metadata,
            "assertionConsumerService": {
                "url": places.back,
                "binding": "urn:oasis:names:tc:SAML:2.0:bindings:HTTP-POST",
            },
            "NameIDFormat": "urn:oasis:names:tc:SAML:1.1:nameid-format:unspecified",
            "x509cert": provider.certificate,
            "privateKey": provider.key,
        },
        "security": {
            "wantAssertionsSigned": True,
            "authnRequestsSigned": bool(provider.key),
            "rejectDeprecatedAlgorithm": True,
            "requestedAuthnContext": False,
            "allowSingleLabelDomains": True,
            "signatureAlgorithm": "http://www.w3.org/2001/04/xmldsig-more#rsa-sha256",
            "digestAlgorithm": "http://www.w3.org/2001/04/xmlenc#sha256",
        },
    }


def _auth(provider: Saml, places: Places, request: HttpRequest) -> Any:
    """Loaded only where it is used: a record without a campus sign-on needs no such library."""
    from onelogin.saml2.auth import OneLogin_Saml2_Auth
    from onelogin.saml2.errors import OneLogin_Saml2_Error

    asked = {
        "https": "on" if request.is_secure() else "off",
        "http_host": request.get_host(),
        "script_name": request.path,
        "get_data": request.GET.dict(),
        "post_data": request.POST.dict(),
    }
    try:
        return OneLogin_Saml2_Auth(asked, _settings(provider, places))
    except (OneLogin_Saml2_Error, KeyError, ValueError) as error:
        raise NotGiven("The campus sign-on's metadata cannot be used as they are.") from error


def address_there(provider: Saml, places: Places, request: HttpRequest) -> tuple[str, str]:
    """Where to send the browser, and the number of the request that the answer must name."""
    auth = _auth(provider, places, request)
    return auth.login(return_to=places.back), auth.get_last_request_id()


def named_by(provider: Saml, places: Places, request: HttpRequest, asked: str) -> Named:
    """Whom the provider's signed answer to this very request names."""
    import xmlsec
    from lxml.etree import LxmlError
    from onelogin.saml2.errors import OneLogin_Saml2_Error

    auth = _auth(provider, places, request)
    try:
        auth.process_response(request_id=asked)
    except (OneLogin_Saml2_Error, LxmlError, xmlsec.Error, ValueError) as error:
        raise NotGiven("The campus sign-on sent nothing that can be read.") from error
    is_answer = auth.is_authenticated() and auth.get_last_response_in_response_to() == asked
    if auth.get_errors() or not is_answer:
        raise NotGiven("The answer of the campus sign-on was not the one asked for.")
    until = datetime.fromtimestamp(auth.get_last_assertion_not_on_or_after(), UTC)
    return Named(_name(provider, auth), auth.get_last_assertion_id(), until)


def _name(provider: Saml, auth: Any) -> str:
    if not provider.name_attribute:
        return str(auth.get_nameid() or "")
    values = auth.get_attribute(provider.name_attribute) or [""]
    return str(values[0])


def metadata_of(provider: Saml, places: Places) -> str:
    """This server's metadata, for the campus to read."""
    from onelogin.saml2.settings import OneLogin_Saml2_Settings

    settings = OneLogin_Saml2_Settings(_settings(provider, places), sp_validation_only=True)
    written = settings.get_sp_metadata()
    return written.decode() if isinstance(written, bytes) else str(written)

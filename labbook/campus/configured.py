"""The settings of the campus sign-on, read once; nothing of it is there unless they are given."""

from __future__ import annotations

from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured


@dataclass(frozen=True)
class OpenID:
    """A provider of OpenID Connect, by its discovery document."""

    issuer: str
    client_id: str
    client_secret: str = field(repr=False)
    name_claim: str

    @property
    def discovery(self) -> str:
        return f"{self.issuer.rstrip('/')}/.well-known/openid-configuration"


@dataclass(frozen=True)
class Saml:
    """A SAML 2.0 identity provider, by its metadata, and this server's key where it signs."""

    metadata: str
    name_attribute: str
    certificate: str
    key: str = field(repr=False)


@dataclass(frozen=True)
class Campus:
    openid: OpenID | None = None
    saml: Saml | None = None


def read_campus(env: Any) -> Campus:
    return Campus(_read_openid(env), _read_saml(env))


def _needs(library: str, variable: str) -> None:
    if find_spec(library) is None:
        raise ImproperlyConfigured(
            f"{variable} is set, but the campus sign-on's libraries are not installed; install the "
            "record with them: pip install '.[campus]'"
        )


def _read_openid(env: Any) -> OpenID | None:
    issuer: str = env.str("LABBOOK_OIDC_ISSUER", default="")
    if not issuer:
        return None
    _needs("authlib", "LABBOOK_OIDC_ISSUER")
    if not issuer.startswith(("https://", "http://127.0.0.1", "http://localhost")):
        raise ImproperlyConfigured(
            f"LABBOOK_OIDC_ISSUER is {issuer!r}; an address with https:// was expected."
        )
    found = OpenID(
        issuer,
        env.str("LABBOOK_OIDC_CLIENT_ID", default=""),
        env.str("LABBOOK_OIDC_CLIENT_SECRET", default=""),
        env.str("LABBOOK_OIDC_NAME_CLAIM", default="preferred_username"),
    )
    if not found.client_id or not found.client_secret:
        raise ImproperlyConfigured(
            "LABBOOK_OIDC_ISSUER is set; LABBOOK_OIDC_CLIENT_ID and LABBOOK_OIDC_CLIENT_SECRET "
            "were expected with it, as the campus gave them."
        )
    return found


def _read_saml(env: Any) -> Saml | None:
    metadata = _content(env, "LABBOOK_SAML_METADATA")
    if not metadata:
        return None
    _needs("onelogin", "LABBOOK_SAML_METADATA")
    return Saml(
        metadata,
        env.str("LABBOOK_SAML_NAME_ATTRIBUTE", default=""),
        _content(env, "LABBOOK_SAML_CERTIFICATE"),
        _content(env, "LABBOOK_SAML_KEY"),
    )


def _content(env: Any, variable: str) -> str:
    """What is in the file that a variable names."""
    name: str = env.str(variable, default="")
    if not name:
        return ""
    try:
        return Path(name).read_text()
    except (OSError, UnicodeDecodeError) as error:
        raise ImproperlyConfigured(
            f"{variable} names {name}, which cannot be read; a text file was expected."
        ) from error

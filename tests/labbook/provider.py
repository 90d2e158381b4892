"""A campus sign-on of the tests' own, by OpenID Connect and by SAML, on this machine."""

from __future__ import annotations

import base64
import hashlib
import json
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.x509.oid import NameOID
from joserfc import jwt
from joserfc.jwk import RSAKey
from onelogin.saml2.utils import OneLogin_Saml2_Utils

CLIENT_ID, CLIENT_SECRET = "bench-record", "a secret of the tests"
Claims = dict[str, Any]


@dataclass
class OpenIDProvider:
    """It answers one code with what ``claims`` says; ``twist`` makes the answer a wrong one."""

    issuer: str = ""
    key: RSAKey = field(default_factory=lambda: RSAKey.generate_key(2048, {"kid": "one"}))
    signed_with: RSAKey | None = None
    name: str = "ta-campus"
    nonce: str = ""
    challenge: str = ""
    twist: Callable[[Claims], Claims] = lambda claims: claims
    verifiers_right: list[bool] = field(default_factory=list)

    def discovery(self) -> Claims:
        """By OpenID Connect Discovery 1.0, section 3."""
        return {
            "issuer": self.issuer,
            "authorization_endpoint": f"{self.issuer}/authorize",
            "token_endpoint": f"{self.issuer}/token",
            "jwks_uri": f"{self.issuer}/keys",
            "response_types_supported": ["code"],
            "subject_types_supported": ["public"],
            "id_token_signing_alg_values_supported": ["RS256"],
        }

    def keys(self) -> Claims:
        return {"keys": [self.key.as_dict(private=False)]}

    def token(self, sent: dict[str, list[str]]) -> Claims:
        """Only for the verifier that goes with the challenge: RFC 7636, section 4.6."""
        digest = hashlib.sha256(sent["code_verifier"][0].encode()).digest()
        made = base64.urlsafe_b64encode(digest).rstrip(b"=").decode()
        self.verifiers_right.append(made == self.challenge)
        now = int(datetime.now(UTC).timestamp())
        claims = self.twist({
            "iss": self.issuer, "sub": "1", "aud": CLIENT_ID, "exp": now + 300, "iat": now,
            "nonce": self.nonce, "preferred_username": self.name,
        })  # fmt: skip
        header = {"alg": "RS256", "kid": "one"}
        signed = jwt.encode(header, claims, self.signed_with or self.key)
        return {"access_token": "x", "token_type": "Bearer", "id_token": signed}


@contextmanager
def serving(provider: OpenIDProvider) -> Iterator[OpenIDProvider]:
    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            known = {"/.well-known/openid-configuration": provider.discovery}
            self._say((known | {"/keys": provider.keys})[self.path]())

        def do_POST(self) -> None:
            length = int(self.headers["Content-Length"])
            self._say(provider.token(parse_qs(self.rfile.read(length).decode())))

        def _say(self, answer: Claims) -> None:
            content = json.dumps(answer).encode()
            self.send_response(200)
            self.send_header("Content-Type", "application/json")
            self.send_header("Content-Length", str(len(content)))
            self.end_headers()
            self.wfile.write(content)

        def log_message(self, *_: object) -> None:
            """Nothing is printed."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    provider.issuer = provider.issuer or f"http://127.0.0.1:{server.server_port}"
    try:
        yield provider
    finally:
        server.shutdown()
        server.server_close()


@dataclass(frozen=True)
class Pair:
    """A private key and its own certificate, as PEM."""

    key: str
    certificate: str


def key_and_certificate() -> Pair:
    key = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "sign-on of the tests")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(1)
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=1))
        .sign(key, hashes.SHA256())
    )
    private = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    return Pair(private.decode(), made.public_bytes(serialization.Encoding.PEM).decode())


IDP = "https://sign-on.example/idp"


def idp_metadata(pair: Pair) -> str:
    """By SAML 2.0 Metadata, section 2.4.3."""
    bare = "".join(pair.certificate.splitlines()[1:-1])
    return f"""<md:EntityDescriptor xmlns:md="urn:oasis:names:tc:SAML:2.0:metadata"
 xmlns:ds="http://www.w3.org/2000/09/xmldsig#" entityID="{IDP}">
 <md:IDPSSODescriptor protocolSupportEnumeration="urn:oasis:names:tc:SAML:2.0:protocol">
  <md:KeyDescriptor use="signing"><ds:KeyInfo><ds:X509Data><ds:X509Certificate>{bare}
  </ds:X509Certificate></ds:X509Data></ds:KeyInfo></md:KeyDescriptor>
  <md:SingleSignOnService Binding="urn:oasis:names:tc:SAML:2.0:bindings:HTTP-Redirect"
   Location="{IDP}/sso"/>
 </md:IDPSSODescriptor>
</md:EntityDescriptor>"""


@dataclass
class Answer:
    """A SAML response by Core, sections 2.3.3 and 3.3.3, with one signed assertion."""

    in_response_to: str
    name: str = "ta-campus"
    back: str = "http://testserver/sign-in/saml/back/"
    audience: str = "http://testserver/sign-in/saml/metadata/"
    number: str = "_a1"
    valid_for: timedelta = timedelta(minutes=5)
    issuer: str = IDP

    def assertion(self) -> str:
        now = datetime.now(UTC)
        at, until = (f"{t:%Y-%m-%dT%H:%M:%SZ}" for t in (now, now + self.valid_for))
        before = f"{now - timedelta(minutes=20):%Y-%m-%dT%H:%M:%SZ}"
        return f"""<saml:Assertion xmlns:saml="urn:oasis:names:tc:SAML:2.0:assertion"
 ID="{self.number}" Version="2.0" IssueInstant="{at}"><saml:Issuer>{self.issuer}</saml:Issuer>
<saml:Subject><saml:NameID>{self.name}</saml:NameID>
<saml:SubjectConfirmation Method="urn:oasis:names:tc:SAML:2.0:cm:bearer">
<saml:SubjectConfirmationData NotOnOrAfter="{until}" Recipient="{self.back}"
 InResponseTo="{self.in_response_to}"/></saml:SubjectConfirmation></saml:Subject>
<saml:Conditions NotBefore="{before}" NotOnOrAfter="{until}"><saml:AudienceRestriction>
<saml:Audience>{self.audience}</saml:Audience></saml:AudienceRestriction></saml:Conditions>
<saml:AuthnStatement AuthnInstant="{at}"><saml:AuthnContext><saml:AuthnContextClassRef>
urn:oasis:names:tc:SAML:2.0:ac:classes:Password</saml:AuthnContextClassRef></saml:AuthnContext>
</saml:AuthnStatement><saml:AttributeStatement><saml:Attribute Name="uid"><saml:AttributeValue>
{self.name}</saml:AttributeValue></saml:Attribute></saml:AttributeStatement></saml:Assertion>"""

    def around(self, assertions: str) -> str:
        at = f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ}"
        return f"""<samlp:Response xmlns:samlp="urn:oasis:names:tc:SAML:2.0:protocol"
 xmlns:saml="urn:oasis:names:tc:SAML:2.0:assertion" ID="_r{self.number}" Version="2.0"
 IssueInstant="{at}" Destination="{self.back}" InResponseTo="{self.in_response_to}">
<saml:Issuer>{self.issuer}</saml:Issuer><samlp:Status><samlp:StatusCode
 Value="urn:oasis:names:tc:SAML:2.0:status:Success"/></samlp:Status>{assertions}</samlp:Response>"""

    def signed(self, pair: Pair) -> str:
        """The response with its assertion signed: XML Signature, RSA with SHA-256."""
        made = OneLogin_Saml2_Utils.add_sign(
            self.assertion(), pair.key, pair.certificate,
            sign_algorithm="http://www.w3.org/2001/04/xmldsig-more#rsa-sha256",
            digest_algorithm="http://www.w3.org/2001/04/xmlenc#sha256",
        )  # fmt: skip
        return self.around(made.decode() if isinstance(made, bytes) else made)


def packed(xml: str) -> str:
    return base64.b64encode(xml.encode()).decode()

"""Signing in with the campus account, against a provider of the tests' own."""

from __future__ import annotations

import base64
import zlib
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from typing import Any
from urllib.parse import parse_qs, urlsplit

import environ
import pytest
from django.core.exceptions import ImproperlyConfigured
from django.test import Client
from django.utils import timezone
from joserfc.jwk import RSAKey

from labbook.campus.configured import Campus, OpenID, Saml, read_campus
from labbook.lookups.campus import account_named
from labbook.models import Account, Membership, Person, Term

from ..conftest import Laboratory, signed_in
from ..provider import (
    CLIENT_ID,
    CLIENT_SECRET,
    IDP,
    Answer,
    OpenIDProvider,
    Pair,
    idp_metadata,
    key_and_certificate,
    packed,
    serving,
)  # fmt: skip

SAML_BACK = "/sign-in/saml/back/"


@pytest.fixture
def lab(laboratory: Laboratory) -> Laboratory:
    Account.objects.filter(pk=laboratory.assistant.pk).update(campus_name="ta-campus")
    Person.objects.filter(pk=laboratory.person.pk).update(student_number="4711")
    return laboratory


def acting(client: Client) -> int | None:
    number = client.session.get("_auth_user_id")
    return int(number) if number else None


# --- whom a name belongs to --------------------------------------------------------------------
def test_staff_are_found_by_the_name_entered_and_students_by_their_roster(lab: Laboratory) -> None:
    assert account_named("ta-campus") == lab.assistant
    assert account_named("4711") == lab.group
    for nobody in ("", "TA-CAMPUS", "ta", "m1", "4711 "):
        assert account_named(nobody) is None, nobody


def test_a_leaver_and_a_term_that_is_over_open_nothing(lab: Laboratory) -> None:
    Account.objects.filter(pk=lab.assistant.pk).update(is_active=False)
    assert account_named("ta-campus") is None
    yesterday = timezone.localdate() - timedelta(days=1)
    Membership.objects.update(until=yesterday)
    assert account_named("4711") is None
    Membership.objects.update(until=None)
    assert account_named("4711") == lab.group
    Term.objects.update(ends=yesterday)
    assert account_named("4711") is None


def test_a_coordinator_enters_the_name(lab: Laboratory) -> None:
    html = signed_in(lab.coordinator).get(f"/set-up/sign-ins/{lab.assistant.pk}/")
    assert 'name="campus_name"' in html.content.decode()


# --- only where it is set up -------------------------------------------------------------------
def test_nothing_of_it_is_there_unless_it_is_set_up(lab: Laboratory) -> None:
    assert "campus account" not in Client().get("/sign-in/").content.decode()
    for path in ("/sign-in/campus/", "/sign-in/campus/back/", "/sign-in/saml/metadata/"):
        assert Client().get(path).status_code == 404
    assert Client().post(SAML_BACK).status_code == 404


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({"LABBOOK_OIDC_ISSUER": "http://elsewhere.example"}, "https://"),
        ({"LABBOOK_OIDC_ISSUER": "https://x.example"}, "LABBOOK_OIDC_CLIENT_ID"),
        ({"LABBOOK_SAML_METADATA": "/nowhere.xml"}, "cannot be read"),
    ],
)
def test_a_setting_that_is_amiss_is_refused_with_a_sentence(
    monkeypatch: pytest.MonkeyPatch, given: dict[str, str], words: str
) -> None:
    for name, value in given.items():
        monkeypatch.setenv(name, value)
    with pytest.raises(ImproperlyConfigured, match=words):
        read_campus(environ.FileAwareEnv())


# --- OpenID Connect ----------------------------------------------------------------------------
@pytest.fixture
def openid(settings: Any) -> Iterator[OpenIDProvider]:
    with serving(OpenIDProvider()) as provider:
        found = OpenID(provider.issuer, CLIENT_ID, CLIENT_SECRET, "preferred_username")
        settings.LABBOOK_CAMPUS = Campus(openid=found)
        yield provider


def begun(client: Client, provider: OpenIDProvider, onward: str = "") -> str:
    """Led to the provider; the state that has to come back."""
    response = client.get("/sign-in/campus/", {"next": onward})
    assert response.status_code == 302, response.content.decode()
    asked = {
        key: values[0] for key, values in parse_qs(urlsplit(response["Location"]).query).items()
    }
    assert response["Location"].startswith(f"{provider.issuer}/authorize?")
    assert asked["response_type"] == "code" and asked["client_id"] == CLIENT_ID
    assert asked["redirect_uri"] == "http://testserver/sign-in/campus/back/"
    assert asked["code_challenge_method"] == "S256" and "openid" in asked["scope"].split()
    provider.nonce, provider.challenge = asked["nonce"], asked["code_challenge"]
    return asked["state"]


def come_back(client: Client, state: str, **more: str) -> Any:
    return client.get("/sign-in/campus/back/", {"code": "c", "state": state} | more)


def test_openid_signs_staff_in_and_leads_on(lab: Laboratory, openid: OpenIDProvider) -> None:
    client = Client()
    shown = client.get("/sign-in/", {"next": "/runs/"}).content.decode()
    assert 'href="/sign-in/campus/?next=%2Fruns%2F"' in shown
    response = come_back(client, begun(client, openid, "/runs/"))
    assert response.status_code == 302 and response["Location"] == "/runs/"
    assert acting(client) == lab.assistant.pk and openid.verifiers_right == [True]


def test_openid_signs_a_student_in_as_the_group(lab: Laboratory, openid: OpenIDProvider) -> None:
    client, openid.name = Client(), "4711"
    assert come_back(client, begun(client, openid))["Location"] == "/"
    assert acting(client) == lab.group.pk


def test_a_name_nobody_has_is_told_and_makes_no_account(
    lab: Laboratory, openid: OpenIDProvider
) -> None:
    before = Account.objects.count()
    client, openid.name = Client(), "<nobody>"
    response = come_back(client, begun(client, openid))
    html = response.content.decode()
    assert response.status_code == 403 and "&lt;nobody&gt;" in html and "Ask your TA" in html
    assert acting(client) is None and Account.objects.count() == before


@pytest.mark.parametrize(
    "onward", ["https://elsewhere.example/", "//elsewhere.example", "javascript:1"]
)
def test_it_leads_to_no_other_site(lab: Laboratory, openid: OpenIDProvider, onward: str) -> None:
    client = Client()
    assert come_back(client, begun(client, openid, onward))["Location"] == "/"


def changed(**by: Any) -> Any:
    return lambda claims: claims | by


def without(name: str) -> Any:
    return lambda claims: {key: value for key, value in claims.items() if key != name}


LONG_AGO = 1_000_000_000


@pytest.mark.parametrize(
    "twist",
    [
        changed(nonce="another"), without("nonce"), changed(aud="another"), without("aud"),
        changed(iss="https://another.example"), without("iss"), without("exp"),
        changed(exp=LONG_AGO), changed(iat=LONG_AGO, exp=LONG_AGO + 300),
    ],
    ids=["nonce", "no nonce", "audience", "no audience", "issuer", "no issuer", "no end", "over",
         "old"],
)  # fmt: skip
def test_a_wrong_openid_answer_signs_nobody_in(
    lab: Laboratory, openid: OpenIDProvider, twist: Any
) -> None:
    client, openid.twist = Client(), twist
    response = come_back(client, begun(client, openid))
    assert response.status_code == 400 and "did not go through" in response.content.decode()
    assert acting(client) is None


def test_another_signature_signs_nobody_in(lab: Laboratory, openid: OpenIDProvider) -> None:
    client = Client()
    openid.signed_with = RSAKey.generate_key(2048, {"kid": "one"})
    assert come_back(client, begun(client, openid)).status_code == 400
    assert acting(client) is None


def test_an_answer_nobody_asked_for_signs_nobody_in(
    lab: Laboratory, openid: OpenIDProvider
) -> None:
    client, other = Client(), Client()
    state = begun(client, openid)
    assert come_back(client, "another state").status_code == 400
    assert come_back(other, state).status_code == 400
    assert come_back(client, "").status_code == 400
    refused = client.get("/sign-in/campus/back/", {"error": "access_denied", "state": state})
    assert refused.status_code == 400
    assert acting(client) is None and acting(other) is None


def test_a_state_is_used_once(lab: Laboratory, openid: OpenIDProvider) -> None:
    client = Client()
    state = begun(client, openid)
    assert come_back(client, state).status_code == 302
    client.post("/sign-out/")
    assert come_back(client, state).status_code == 400 and acting(client) is None


def test_a_provider_that_is_away_is_said_so(lab: Laboratory, settings: Any) -> None:
    away = OpenID("http://127.0.0.1:9", CLIENT_ID, CLIENT_SECRET, "preferred_username")
    settings.LABBOOK_CAMPUS = Campus(openid=away)
    response = Client().get("/sign-in/campus/")
    assert response.status_code == 400 and "does not answer" in response.content.decode()


# --- SAML --------------------------------------------------------------------------------------
@pytest.fixture(scope="module")
def pair() -> Pair:
    return key_and_certificate()


@pytest.fixture
def saml(settings: Any, pair: Pair) -> Pair:
    settings.LABBOOK_CAMPUS = Campus(saml=Saml(idp_metadata(pair), "", "", ""))
    return pair


def asked_by_saml(client: Client, onward: str = "") -> Answer:
    """Led to the provider; the answer to that very request, to be signed."""
    response = client.get("/sign-in/saml/", {"next": onward})
    assert response.status_code == 302 and response["Location"].startswith(f"{IDP}/sso?")
    request = parse_qs(urlsplit(response["Location"]).query)["SAMLRequest"][0]
    xml = zlib.decompress(base64.b64decode(request), -15).decode()
    return Answer(xml.split('ID="')[1].split('"')[0])


def sent_back(client: Client, xml: str, **more: str) -> Any:
    return client.post(SAML_BACK, {"SAMLResponse": packed(xml)} | more)


def test_saml_signs_in_and_leads_on_whatever_the_relay_state(lab: Laboratory, saml: Pair) -> None:
    client = Client()
    answer = asked_by_saml(client, "/runs/")
    response = sent_back(client, answer.signed(saml), RelayState="https://elsewhere.example/")
    assert response.status_code == 302 and response["Location"] == "/runs/"
    assert acting(client) == lab.assistant.pk


def test_saml_names_by_an_attribute_where_one_is_set(
    lab: Laboratory, saml: Pair, settings: Any
) -> None:
    found = replace(settings.LABBOOK_CAMPUS.saml, name_attribute="uid")
    settings.LABBOOK_CAMPUS = Campus(saml=found)
    client = Client()
    answer = replace(asked_by_saml(client), name="4711")
    assert sent_back(client, answer.signed(saml)).status_code == 302
    assert acting(client) == lab.group.pk


def test_a_saml_answer_is_used_once(lab: Laboratory, saml: Pair) -> None:
    client = Client()
    xml = asked_by_saml(client).signed(saml)
    kept = client.cookies["campus_asked"].value
    assert sent_back(client, xml).status_code == 302
    again = Client()
    again.cookies["campus_asked"] = kept
    assert sent_back(again, xml).status_code == 400
    assert acting(again) is None


@pytest.mark.parametrize(
    "wrong",
    [
        {"in_response_to": "_another"}, {"audience": "http://another.example/"},
        {"back": "http://another.example/back/"}, {"valid_for": timedelta(minutes=-10)},
        {"issuer": "https://another.example/idp"},
    ],
    ids=["request", "audience", "place", "over", "issuer"],
)  # fmt: skip
def test_a_wrong_saml_answer_signs_nobody_in(
    lab: Laboratory, saml: Pair, wrong: dict[str, Any]
) -> None:
    client = Client()
    answer = replace(asked_by_saml(client), **wrong)
    response = sent_back(client, answer.signed(saml))
    assert response.status_code == 400 and "did not go through" in response.content.decode()
    assert acting(client) is None


def test_a_saml_answer_that_was_changed_or_is_not_signed_signs_nobody_in(
    lab: Laboratory, saml: Pair
) -> None:
    client = Client()
    answer = asked_by_saml(client)
    right = replace(answer, name="4711").signed(saml)
    unsigned = answer.around(answer.assertion())
    forged = replace(answer, number="_a2").assertion()
    wrapped = right.replace("<saml:Assertion", f"{forged}<saml:Assertion", 1)
    others = answer.signed(key_and_certificate())
    entity = '<!DOCTYPE x [<!ENTITY y SYSTEM "file:///etc/passwd">]><x>&y;</x>'
    for xml in (
        right.replace("4711", "ta-campus"),
        unsigned,
        wrapped,
        others,
        entity,
        "<x/>",
        "no XML",
        "",
    ):
        assert sent_back(client, xml).status_code == 400, xml[:60]
        assert acting(client) is None
    assert client.post(SAML_BACK).status_code == 400
    assert sent_back(client, right).status_code == 302


def test_a_saml_answer_to_another_browser_signs_nobody_in(lab: Laboratory, saml: Pair) -> None:
    xml = asked_by_saml(Client()).signed(saml)
    other = Client()
    assert sent_back(other, xml).status_code == 400
    asked_by_saml(other)
    assert sent_back(other, xml).status_code == 400 and acting(other) is None


def test_this_servers_metadata_can_be_read_by_the_campus(lab: Laboratory, saml: Pair) -> None:
    response = Client().get("/sign-in/saml/metadata/")
    xml = response.content.decode()
    assert response["Content-Type"] == "application/samlmetadata+xml"
    assert f"http://testserver{SAML_BACK}" in xml and 'WantAssertionsSigned="true"' in xml

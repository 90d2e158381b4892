"""Talking to the record's server: one post, one answer, or the sentence why there was none."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from dataclasses import dataclass
from typing import Any

from .spool import Reading

TIMEOUT_S = 10.0


class Unreachable(Exception):
    """No answer that says what became of the post: it is sent again."""


class TokenRefused(Exception):
    """The server knows no device by this token now."""


@dataclass(frozen=True)
class Server:
    address: str
    token: str

    def ping(self) -> dict[str, Any]:
        return self._ask("ping", None)

    def send(self, readings: list[Reading], sent_at: str) -> dict[str, Any]:
        """Post readings of one series; the answer says what became of each."""
        body = {
            "series": readings[0].series,
            "sent_at": sent_at,
            "readings": [
                {"seq": one.seq, "clock": one.clock, "value": one.value, "unit": one.unit}
                for one in readings
            ],
        }
        return self._ask("readings", json.dumps(body).encode())

    def _ask(self, what: str, body: bytes | None) -> dict[str, Any]:
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        request = urllib.request.Request(f"{self.address}/api/v1/{what}", body, headers)
        try:
            with _no_redirects.open(request, timeout=TIMEOUT_S) as response:
                answer = json.loads(response.read())
        except urllib.error.HTTPError as error:
            with error:
                answer = self._refused(error)
        except (OSError, ValueError) as error:
            reason = getattr(error, "reason", None) or error
            raise Unreachable(f"the server does not answer ({reason})") from error
        if not isinstance(answer, dict):
            raise Unreachable("what answers at this address is not the record")
        return answer

    def _refused(self, error: urllib.error.HTTPError) -> dict[str, Any]:
        if error.code == 401:
            raise TokenRefused
        if error.code == 422:
            return {"refused": _sentence(error)}
        raise Unreachable(f"the server answers with error {error.code}")


def _sentence(error: urllib.error.HTTPError) -> str:
    """Why a post was refused, in the server's words."""
    try:
        said = json.loads(error.read())
        faults = [fault["why"] for fault in said.get("faults", [])]
        return " ".join([said["why"], *dict.fromkeys(faults)])
    except (ValueError, KeyError, TypeError, AttributeError) as unread:
        raise Unreachable("the server refuses without saying why") from unread


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    """A redirect would carry the token to another address."""

    def redirect_request(self, *args: Any, **kwargs: Any) -> None:
        return None


_no_redirects = urllib.request.build_opener(_NoRedirects)

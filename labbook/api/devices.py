"""A bench's logger: its readings, and that it is there."""

from __future__ import annotations

from typing import Any, cast

from django.http import HttpRequest
from ninja import Router, Schema, Status
from pydantic import Field, field_validator

from .. import clock
from ..actions.device_readings import Post, Taken, note_heartbeat, take_device_readings
from ..intake.device_posts import EXPECTED_CLOCK, UNITS, Left, Unreadable, read_clock, read_readings
from ..lookups.devices import clock_words, listening_runs
from .answers import Fault, Refusal, refusal
from .tokens import DeviceToken, FromDevice

router = Router(tags=["devices"], auth=DeviceToken())
MOST_READINGS = 1000
CLOCK: dict[str, Any] = {"anyOf": [{"type": "string", "format": "date-time"}, {"type": "number"}]}
READING: dict[str, Any] = {
    "type": "object",
    "required": ["seq", "clock", "value", "unit"],
    "properties": {
        "seq": {
            "type": "integer",
            "minimum": 0,
            "description": "The reading's number in its series; a number is taken once.",
        },
        "clock": CLOCK | {"description": "The device's clock when it was read, like sent_at."},
        "value": {
            "anyOf": [{"type": "string"}, {"type": "number"}],
            "description": "Kept digit by digit; a decimal comma is read in a string.",
        },
        "unit": {"type": "string", "enum": list(UNITS), "description": "Of the value."},
    },
}


class ReadingsIn(Schema):
    """Readings a device sends together. Each is looked at by itself."""

    series: str = Field(
        "",
        max_length=40,
        pattern=r"^[A-Za-z0-9 ._:+-]*$",
        description="A name for one count of numbers. Another one whenever the device counts anew.",
    )
    sent_at: Any = Field(
        description=f"The device's clock at the moment of sending: {EXPECTED_CLOCK}.",
        json_schema_extra=CLOCK,
    )
    readings: list[Any] = Field(
        description=f"At most {MOST_READINGS}, in any order.",
        json_schema_extra={"items": READING, "maxItems": MOST_READINGS},
    )

    @field_validator("readings")
    @classmethod
    def _not_too_many(cls, readings: list[Any]) -> list[Any]:
        if len(readings) > MOST_READINGS:
            raise ValueError(
                f"{len(readings)} readings were sent; at most {MOST_READINGS} are taken at once. "
                "Send them in several posts."
            )
        return readings


class LeftOut(Schema):
    """A reading that was not taken. Its number may be sent again."""

    seq: int | None = Field(description="Its number; none where none could be read.")
    code: str = Field(
        description="unreadable, out of range, number used, before the run, still to come, typed: "
        "sending it again changes nothing. no run: it may be taken once a run is open."
    )
    why: str = Field(description="The same in a sentence, for people.")


class ReadingsOut(Schema):
    """What became of the readings."""

    run: int | None = Field(description="The run that takes this device's readings now.")
    taken: int = Field(description="Readings that are new and on disk.")
    known: int = Field(description="Readings that were taken before.")
    left: list[LeftOut] = Field(description="Readings that were not taken.")
    server_time: str = Field(description="This server's clock, ISO 8601.")


class Heard(Schema):
    """The device was heard."""

    bench: str = Field(description="The bench the token belongs to.")
    device: str = Field(description="The device it was made for.")
    run: int | None = Field(description="The run that takes this device's readings now.")
    clock: str = Field(description="How the device's clock stands to this server's, in words.")
    server_time: str = Field(description="This server's clock, ISO 8601.")


REFUSALS = {401: Refusal, 413: Refusal, 422: Refusal, 429: Refusal}


@router.post("readings", response={200: ReadingsOut, **REFUSALS})
def send_readings(request: HttpRequest, sent: ReadingsIn) -> Any:
    """Send readings of the token's bench.

    They go to the bench's open run that takes this device's readings. The answer says what became
    of each: the same number of the same series is taken once, so that a post without an answer
    can be repeated as it was, later and in any order.
    """
    try:
        sent_at_s, by_time_of_day = read_clock(sent.sent_at)
    except Unreadable as error:
        fault = Fault(where="sent_at", why=str(error))
        return Status(422, refusal(422, "When it was sent cannot be read.", fault))
    readings, unreadable = read_readings(sent.readings, by_time_of_day=by_time_of_day)
    given = take_device_readings(Post(readings, sent_at_s, sent.series), by=device_of(request))
    if unreadable and not readings:
        return Status(422, _none_readable(unreadable))
    return _out(given, unreadable)


@router.get("ping", response={200: Heard, 401: Refusal, 429: Refusal})
def ping(request: HttpRequest) -> Any:
    """Say that the device is there, when it has no readings to send."""
    device = note_heartbeat(by=device_of(request))
    run = listening_runs(device).first()
    return Heard(
        bench=device.bench.code,
        device=device.name,
        run=run.pk if run else None,
        clock=clock_words(device),
        server_time=clock.now().isoformat(),
    )


def device_of(request: HttpRequest) -> Any:
    return cast(FromDevice, request).auth


def _none_readable(unreadable: list[Left]) -> Refusal:
    faults = [Fault(where=f"readings, seq {left.seq}", why=left.why) for left in unreadable]
    return refusal(422, "None of the readings can be read.", *faults)


def _out(given: Taken, unreadable: list[Left]) -> ReadingsOut:
    left = [LeftOut(seq=one.seq, code=one.code, why=one.why) for one in [*unreadable, *given.left]]
    return ReadingsOut(
        run=given.run.pk if given.run else None,
        taken=given.taken,
        known=given.known,
        left=left,
        server_time=clock.now().isoformat(),
    )

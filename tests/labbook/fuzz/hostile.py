"""What nobody would type, and programs send all the same."""

from __future__ import annotations

from dataclasses import dataclass, field
from urllib.parse import quote_from_bytes

from hypothesis import strategies as st

TEXTS = (
    "", " ", "\0", "a\0b", "\ud800", "\udfff tail", "\ufeff1.5", "\u202e5.1", "e\u0301", "🔥" * 40,
    "x" * 300, "x" * 5000, "1" * 400, "9" * 5000, "1e999", "-1e999", "1e-999", "1E5", "NaN", "nan",
    "inf", "-Infinity", "-0", "0", "-1", "1,5", "1,234", "1.234,5", "1_000", "0x10", "²", "½", "٣",
    "２", "2147483648", "9223372036854775807", "9223372036854775808", "1" + "0" * 30, "1.5.2",
    "--", "+", ".", ",", "=1+1", "<script>alert(1)</script>", "{{ 7|add:7 }}", "%s%n", "%00",
    "' OR 1=1 --", "../../etc/passwd", "a\r\nSet-Cookie: b=c", "null", "[]", "{}", "true", "yes",
    "on", "0001-01-01", "9999-12-31", "2026-02-30", "2026-13-45", "10000-01-01", "24:61", "1:99",
    "2026-01-01T00:00", "0001-01-01T00:00", "9999-12-31T23:59", "C" + "9" * 40, "C6H12O6)", "((C",
)  # fmt: skip
FORM = "application/x-www-form-urlencoded"
PART = {"HX-Request": "true"}
BOUNDARY = "a-boundary-of-ours"
OTHER_KINDS = (
    "application/json", "text/plain", "multipart/form-data", f"{FORM}; charset=utf-7",
    f"{FORM}; charset=none-such", "multipart/form-data; boundary=", "",
)  # fmt: skip
FILES = (
    b"", b"\0" * 100, b"\xff\xfe1\0", b"time_s,temperature_c\n1,1e999\nNaN,2\n",
    b"time,temp\n" + b"1,1\n" * 3, b"PK\x03\x04 no zip", b"\xef\xbb\xbf\xed\xa0\x80,1\n2,3\n",
    b"name,student_number,section,group\n=1+1,\0,,\n", b"," * 5000, b'"' * 999, b"1;2\n" * 2000,
)  # fmt: skip

anything = st.one_of(
    st.sampled_from(TEXTS),
    st.text(max_size=30),
    st.integers(-(2**70), 2**70).map(str),
    st.floats().map(str),
    st.dates().map(str),
    st.datetimes().map(str),
)


@dataclass(frozen=True)
class Sent:
    """A request as it goes out: what stands in the body, or in the query of a GET."""

    fields: list[tuple[str, str]]
    files: list[tuple[str, bytes]] = field(default_factory=list)
    kind: str = FORM
    headers: dict[str, str] = field(default_factory=dict)
    number: str = ""

    @property
    def query(self) -> str:
        """Lone surrogates and all, as bytes that need not be UTF-8."""
        pieces = ("=".join(_quoted(piece) for piece in pair) for pair in self.fields)
        return "&".join(pieces)

    @property
    def body(self) -> bytes:
        return self._parts() if self.files else self.query.encode()

    @property
    def content_type(self) -> str:
        return f"multipart/form-data; boundary={BOUNDARY}" if self.files else self.kind

    def _parts(self) -> bytes:
        parts = [
            *(_part(name, b"", _bytes(value)) for name, value in self.fields),
            *(_part(name, b'; filename="run.csv"', content) for name, content in self.files),
        ]
        return b"".join([*parts, f"--{BOUNDARY}--\r\n".encode()])


def _bytes(text: str) -> bytes:
    return text.encode("utf-8", "surrogatepass")


def _quoted(text: str) -> str:
    return quote_from_bytes(_bytes(text), safe="")


def _part(name: str, more: bytes, content: bytes) -> bytes:
    head = b'Content-Disposition: form-data; name="' + _bytes(name) + b'"' + more
    return f"--{BOUNDARY}\r\n".encode() + head + b"\r\n\r\n" + content + b"\r\n"


def requests_to(known: dict[str, list[str]], names: list[str]) -> st.SearchStrategy[Sent]:
    """Requests to a place whose form has these fields with these values; most of them are kept.

    ``names`` are those of all forms: any of them may come along.
    """
    asked = {name: values for name, values in known.items() if name != "csrfmiddlewaretoken"}
    of_form = [_field(name, values) for name, values in sorted(asked.items())]
    form = st.tuples(*of_form).map(lambda fields: [pair for pairs in fields for pair in pairs])
    strange = st.lists(st.tuples(st.sampled_from(names) | anything, anything), max_size=3)
    uploads = [*(name for name in known if "file" in name or name == "roster"), *names[:1]]
    return st.builds(
        Sent,
        st.builds(lambda first, then: first + then, form, strange),
        st.just([]) | st.lists(st.tuples(_any_of(uploads), st.sampled_from(FILES)), max_size=2),
        st.just(FORM) | st.just(FORM) | st.sampled_from(OTHER_KINDS),
        st.sampled_from(({}, {}, {}, PART, PART, PART, {**PART, "X-Account": "0"})),
        st.sampled_from(("", "", "", "", "0", "9223372036854775808", "1" + "0" * 40)),
    )


def _any_of(names: list[str]) -> st.SearchStrategy[str]:
    return st.sampled_from(names)


def _field(name: str, values: list[str]) -> st.SearchStrategy[list[tuple[str, str]]]:
    """A field as it should be, as it should not, left out, or twice."""
    sound = st.sampled_from(values) if values else st.just("1")
    one = st.one_of(sound, sound, sound, anything)
    several = st.lists(one, max_size=2)
    found = st.one_of(one.map(lambda value: [value]), one.map(lambda value: [value]), several)
    return found.map(lambda values: [(name, value) for value in values])

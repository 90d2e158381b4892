"""Checked reading of plain dictionaries into frozen dataclasses, and back.

A field declares how it is read (`quantity`, `text`, `choice`, `part`, …); `read_record` walks the
fields, refuses unknown keys and names the field in every complaint.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import MISSING, Field, field, fields, is_dataclass
from decimal import Decimal
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

from reduction.errors import InputError

Record = TypeVar("Record")
Reader = Callable[[object, str], object]


def declare(read: Reader, optional: bool, key: str | None = None, **default: Any) -> Any:
    """A dataclass field read by `read`; `key` is its name in the dictionary where it differs."""
    if optional and not default:
        default = {"default": None}
    return field(metadata={"read": read, "key": key}, **default)


def quantity(
    unit: str,
    *,
    above: float | None = None,
    at_least: float | None = None,
    optional: bool = False,
    hint: str = "",
    **default: Any,
) -> Any:
    """A finite number in `unit`, within its limits; `hint` says what to do when it is not."""

    def read(value: object, path: str) -> float:
        expected = f"expected {_wanted(unit, above, at_least)}"
        number = _as_number(value)
        if number is None:
            raise InputError(path, f"{_shown(value)} is not a number; {expected}.")
        low = (above is not None and number <= above) or (
            at_least is not None and number < at_least
        )
        if not math.isfinite(number) or low:
            raise InputError(path, f"{number:g} cannot be used; {expected}.{hint and ' ' + hint}")
        return number

    return declare(read, optional, **default)


def _as_number(value: object) -> float | None:
    """The float of a number; infinite where it is too large for one, None where it is none."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal | np.number):
        return None
    try:
        return float(value)
    except OverflowError:
        return math.inf


def _shown(value: object) -> str:
    """What was found, short enough for a sentence."""
    shown = repr(value)
    return shown if len(shown) <= 40 else f"{shown[:37]}..."


def _wanted(unit: str, above: float | None, at_least: float | None) -> str:
    limit = "" if above is None else f" above {above:g}"
    limit += "" if at_least is None else f" of {at_least:g} or more"
    return f"a number{limit} in {unit}" if unit else f"a number{limit}"


def text(*, optional: bool = False, key: str | None = None, **default: Any) -> Any:
    """A piece of text."""

    def read(value: object, path: str) -> str:
        if not isinstance(value, str):
            raise InputError(path, f"{_shown(value)} is not text; expected words in quotes.")
        return value

    return declare(read, optional, key, **default)


def choice(*allowed: str, **default: Any) -> Any:
    """One of a few words."""

    def read(value: object, path: str) -> str:
        if value not in allowed:
            known = ", ".join(allowed)
            raise InputError(path, f"{_shown(value)} is not known; expected one of {known}.")
        return str(value)

    return declare(read, False, **default)


def flag(default: bool) -> Any:
    """True or false."""

    def read(value: object, path: str) -> bool:
        if not isinstance(value, bool):
            raise InputError(path, f"{_shown(value)} is neither true nor false.")
        return value

    return declare(read, False, default=default)


def part(kind: type[Any], *, optional: bool = True, **default: Any) -> Any:
    """A record inside the record."""
    return declare(lambda value, path: read_record(kind, value, path), optional, **default)


def parts(kind: type[Any]) -> Any:
    """A list of records, empty when not given."""

    def read(value: object, path: str) -> tuple[Any, ...]:
        if not isinstance(value, list | tuple):
            raise InputError(path, "expected a list.")
        return tuple(read_record(kind, item, f"{path}[{i}]") for i, item in enumerate(value))

    return declare(read, False, default=())


def free(*, optional: bool = True) -> Any:
    """A dictionary kept as it is."""

    def read(value: object, path: str) -> dict[str, object]:
        if not isinstance(value, Mapping):
            raise InputError(path, f"{_shown(value)} is not a set of named values.")
        return dict(value)

    return declare(read, optional)


def series(unit: str) -> Any:
    """A list of finite numbers in `unit`; null marks a blank slot and becomes NaN."""

    def read(value: object, path: str) -> NDArray[np.float64]:
        if not isinstance(value, list | tuple | np.ndarray):
            raise InputError(path, f"expected a list of numbers in {unit}.")
        if {type(item) for item in value} <= {int, float} and np.isfinite(value).all():
            return np.array(value, dtype=float)
        numbers = [math.nan if item is None else _as_number(item) for item in value]
        for position, (item, number) in enumerate(zip(value, numbers, strict=True)):
            if number is None or (item is not None and not math.isfinite(number)):
                raise InputError(
                    f"{path}[{position}]", f"{_shown(item)} is not a number in {unit}."
                )
        return np.array(numbers, dtype=float)

    return declare(read, False)


def read_record(kind: type[Record], data: object, path: str = "") -> Record:
    """Read a dictionary into the dataclass `kind`, or raise InputError naming the field."""
    declared: dict[str, Field[Any]] = {_key(f): f for f in fields(kind)}  # type: ignore[arg-type]  # any dataclass
    if not isinstance(data, Mapping):
        raise InputError(path or "run", f"expected an object with the keys {', '.join(declared)}.")
    for key in data:
        if key not in declared:
            known = ", ".join(declared)
            raise InputError(_join(path, str(key)), f"is not a known key; expected one of {known}.")
    values: dict[str, Any] = {}
    for key, declaration in declared.items():
        if data.get(key) is not None:
            values[declaration.name] = declaration.metadata["read"](data[key], _join(path, key))
        elif declaration.default is MISSING and declaration.default_factory is MISSING:
            raise InputError(_join(path, key), "is missing.")
    return kind(**values)


def record_dict(value: Any) -> Any:
    """Plain JSON types of a record, all digits kept; blank slots of a series become null."""
    if is_dataclass(value) and not isinstance(value, type):
        return {_key(f): record_dict(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, np.ndarray):
        return [None if math.isnan(item) else item for item in value.tolist()]
    if isinstance(value, tuple | list):
        return [record_dict(item) for item in value]
    return value


def _key(declaration: Field[Any]) -> str:
    return declaration.metadata.get("key") or declaration.name


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key

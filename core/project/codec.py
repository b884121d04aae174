"""Frozen dataclasses to plain JSON values and back, told by their type hints.

One codec serves the whole document, so a field added to a record is stored without another
line of code. Reading is strict: a value of the wrong kind names its place, such as
``panels[3].quantity``; a key that is missing takes the record's default; a key that is not
known is left out and named by the caller if it wishes.
"""

from __future__ import annotations

import dataclasses
import math
import types
from enum import Enum
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from core.errors import UnreadableProject

_SPARSE = "left-out-if-default"
#: Metadata of a field that is only written when it differs from its default.
LEFT_OUT_IF_DEFAULT = types.MappingProxyType({_SPARSE: True})


def to_plain(value: Any) -> Any:
    """Dataclasses as dicts, tuples as lists, enums as their value.

    A number without a fraction is written as a whole one, whether it was kept as 18 or 18.0,
    so equal documents give equal texts. Fields marked LEFT_OUT_IF_DEFAULT are only written
    when they hold something else.
    """
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {
            f.name: to_plain(getattr(value, f.name))
            for f in dataclasses.fields(value)
            if not (f.metadata.get(_SPARSE) and getattr(value, f.name) == _default(f))
        }
    if isinstance(value, tuple | list):
        return [to_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and value.is_integer() and abs(value) < 2**53:
        return int(value)
    return value


def _default(item: dataclasses.Field[Any]) -> Any:
    if item.default_factory is not dataclasses.MISSING:
        return item.default_factory()
    return item.default


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _wrong(where: str, expected: str, value: Any) -> UnreadableProject:
    shown = repr(value)
    if len(shown) > 40:
        shown = shown[:37] + "…"
    return UnreadableProject(
        f"Expected {expected}, found {shown}",
        where or "the top level",
        "Restore the file from a backup, or mend this value.",
    )


def from_plain(kind: Any, value: Any, where: str = "") -> Any:
    """The plain JSON value as an instance of kind (a class or a type hint).

    Raises UnreadableProject naming the place of the first value that does not fit.
    """
    origin = get_origin(kind)
    if origin in (Union, types.UnionType):
        options = get_args(kind)
        if value is None and type(None) in options:
            return None
        rest = [o for o in options if o is not type(None)]
        return from_plain(rest[0], value, where)
    if origin is tuple:
        return _tuple(get_args(kind), value, where)
    if dataclasses.is_dataclass(kind) and isinstance(kind, type):
        return _record(kind, value, where)
    if isinstance(kind, type) and issubclass(kind, Enum):
        try:
            return kind(value)
        except ValueError:
            names = ", ".join(str(member.value) for member in kind)
            raise _wrong(where, f"one of {names}", value) from None
    return _scalar(kind, value, where)


def _scalar(kind: Any, value: Any, where: str) -> Any:
    if kind is bool:
        if isinstance(value, bool):
            return value
        raise _wrong(where, "true or false", value)
    if kind is int:
        if isinstance(value, int) and not isinstance(value, bool):
            return value
        raise _wrong(where, "a whole number", value)
    if kind is float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            if math.isfinite(value):
                return float(value)
            raise _wrong(where, "a finite number", value)
        raise _wrong(where, "a number", value)
    if kind is str:
        if isinstance(value, str):
            return value
        raise _wrong(where, "a text", value)
    raise TypeError(f"no codec for {kind!r}")


def _tuple(args: tuple[Any, ...], value: Any, where: str) -> tuple[Any, ...]:
    if not isinstance(value, list):
        raise _wrong(where, "a list", value)
    if len(args) == 2 and args[1] is Ellipsis:
        return tuple(from_plain(args[0], item, f"{where}[{i}]") for i, item in enumerate(value))
    if len(value) != len(args):
        raise _wrong(where, f"a list of {len(args)} values", value)
    return tuple(
        from_plain(a, item, f"{where}[{i}]")
        for i, (a, item) in enumerate(zip(args, value, strict=True))
    )


def _record(kind: Any, value: Any, where: str) -> Any:
    if not isinstance(value, dict):
        raise _wrong(where, "a record", value)
    hints = _hints(kind)
    fields: dict[str, Any] = {}
    for field in dataclasses.fields(kind):
        place = f"{where}.{field.name}" if where else field.name
        if field.name in value:
            fields[field.name] = from_plain(hints[field.name], value[field.name], place)
        elif field.default is dataclasses.MISSING and field.default_factory is dataclasses.MISSING:
            raise UnreadableProject("A value is missing", place, "Restore it from a backup.")
    return kind(**fields)

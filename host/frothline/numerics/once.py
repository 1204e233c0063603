"""A property that is computed on first use and kept, without a lock.

``functools.cached_property`` of Python 3.11 holds one lock for all instances of a class while it computes. Two threads
that compute properties which need each other's class then wait for each other for ever. Without a lock two threads may
both compute a value; it is the same one.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Generic, TypeVar, overload

Value = TypeVar("Value")


class once(Generic[Value]):  # noqa: N801  used like property
    """``@once`` in place of ``@cached_property``."""

    def __init__(self, compute: Callable[[Any], Value]) -> None:
        self._compute = compute
        self.__doc__ = compute.__doc__

    def __set_name__(self, _: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, instance: None, _: type | None = None) -> once[Value]: ...

    @overload
    def __get__(self, instance: object, _: type | None = None) -> Value: ...

    def __get__(self, instance: object | None, _: type | None = None) -> once[Value] | Value:
        if instance is None:
            return self
        value: Value = self._compute(instance)
        instance.__dict__[self._name] = value  # found before this from now on: it is no data descriptor
        return value

"""JSON laid out for people: a record that fits on a line stays on one, exact decimals stay exact."""

from __future__ import annotations

import json
from collections.abc import Mapping
from decimal import Decimal
from json.encoder import encode_basestring, encode_basestring_ascii
from typing import Any

_WIDTH = 110


def json_text(value: Any) -> str:  # noqa: ANN401 - any JSON value
    """Write a JSON value (RFC 8259) as text that ends with a line feed.

    Keys keep their order; `Decimal` is written digit by digit, so 18.50 stays `18.50`. Raises `ValueError`
    for a number JSON cannot hold, `TypeError` for anything that is no JSON value.
    """
    return _laid_out(value, 0) + "\n"


def _laid_out(value: Any, indent: int) -> str:  # noqa: ANN401
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, Mapping):
        rows = [f"{_quoted(key)}: {_laid_out(item, indent + 2)}" for key, item in value.items()]
        return _bracketed("{", rows, "}", indent)
    if isinstance(value, list | tuple):
        return _bracketed("[", [_laid_out(item, indent + 2) for item in value], "]", indent)
    if isinstance(value, Decimal) and value.is_finite():
        return f"{value:f}"
    return json.dumps(value, allow_nan=False)


def _bracketed(opening: str, rows: list[str], closing: str, indent: int) -> str:
    length = sum(map(len, rows)) + 2 * len(rows) + indent
    if length <= _WIDTH and not any("\n" in row for row in rows):
        return f"{opening}{', '.join(rows)}{closing}"
    margin = " " * (indent + 2)
    return f"{opening}\n{margin}" + f",\n{margin}".join(rows) + f"\n{' ' * indent}{closing}"


def _quoted(text: str) -> str:
    """Quote a string; a lone surrogate, which UTF-8 cannot carry, is written as an escape."""
    try:
        text.encode()
    except UnicodeEncodeError:
        return encode_basestring_ascii(text)
    return encode_basestring(text)

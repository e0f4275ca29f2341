"""Numbers as people type them into tables."""

from __future__ import annotations

import re
from decimal import Decimal

_NUMBER = re.compile(r"[0-9]{1,12}(?:\.[0-9]{0,9})?|\.[0-9]{1,9}")
_THOUSANDS = re.compile(r"[1-9][0-9]{0,2},[0-9]{3}")


def read_number(text: str) -> Decimal | None:
    """Read an amount as people write it: `18.50`, `18,50`, `1,250.00`, `1.250,00`; None for anything else.

    A single comma parts thousands where exactly three digits follow and no zero stands before it, else it is
    the decimal mark. Nothing below 0 is an amount.
    """
    plain = "".join(text.split())
    if "," in plain and "." in plain:
        decimal = max(plain.rindex(","), plain.rindex("."))
        plain = re.sub(r"[.,]", "", plain[:decimal]) + "." + plain[decimal + 1 :]
    elif plain.count(",") > 1 or _THOUSANDS.fullmatch(plain):
        plain = plain.replace(",", "")
    else:
        plain = plain.replace(",", ".")
    return Decimal(plain) if _NUMBER.fullmatch(plain) else None

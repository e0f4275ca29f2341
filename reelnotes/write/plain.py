"""Words, times, amounts and money as plain text, the same in every form we write."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from reelnotes.timing import Span, format_time

_CENT = Decimal("0.01")
_SPACE, _SURROGATES, _AFTER_SURROGATES = 0x20, 0xD800, 0xE000
_NO_CHARACTERS = (0xFFFE, 0xFFFF)


def one_line(text: str) -> str:
    """Put a text on one line: white space becomes single spaces, and what XML 1.0 cannot carry goes.

    Control characters and lone surrogates are what goes (XML 1.0, production 2, Char).
    """
    line = " ".join(text.split())
    return line if line.isprintable() else " ".join("".join(filter(_is_character, line)).split())


def _is_character(letter: str) -> bool:
    code = ord(letter)
    return code >= _SPACE and not _SURROGATES <= code < _AFTER_SURROGATES and code not in _NO_CHARACTERS


def referenced(text: str) -> str:
    """Write what WebVTT and XML would read as markup as character references."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def shortened(text: str, max_chars: int) -> str:
    """Cut a one-line text at a word's end to at most `max_chars` characters, an ellipsis counted in."""
    line = one_line(text)
    if len(line) <= max_chars:
        return line
    head = line[: max_chars - 1]
    return f"{head.rpartition(' ')[0] or head}…" if max_chars > 0 else ""


def number_text(value: Decimal) -> str:
    """Write a number without exponent and without idle zeros: `1000`, `2.4`."""
    text = f"{value:f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def amount_text(amount: Decimal | None, unit: str | None) -> str:
    """Write an amount with its unit, `150 ml`; empty where the amount is unknown."""
    return "" if amount is None else f"{number_text(amount)} {unit or ''}".rstrip()


def in_cents(value: Decimal) -> Decimal:
    """Give money with exactly two decimals, halves away from zero as on a till receipt."""
    return value.quantize(_CENT, ROUND_HALF_UP)


def money_text(value: Decimal | None, currency: str) -> str:
    """Write money: a symbol before the figure (`£18.50`), a code behind it (`18.50 EUR`)."""
    if value is None:
        return ""
    figure = str(in_cents(value))
    return f"{figure} {currency}".rstrip() if not currency or currency[0].isalpha() else f"{currency}{figure}"


def span_text(span: Span) -> str:
    """Write a span as people read it: `9:12–9:41`."""
    return f"{format_time(span.start_ms)}–{format_time(span.end_ms)}"

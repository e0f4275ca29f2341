"""Amounts that a maker leaves to be reckoned: weighed before and after, so much a coat, put right, left.

`412 g before, 380 g after`, `480 -> 430 ml`, `5 coats at 40 ml each`, `7 strips at 60 cm`,
`15 g. make that 25`, `30, 20, 10 ml`, "a third of the bottle left".
Ways of writing are common practice of the bench, no source.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from reelnotes.words.amounts import PACKS, Amount
from reelnotes.words.numbers import is_figure
from reelnotes.words.units import SPELLINGS, UNITS, convert

_NUMBER = r"\d+(?:[.,]\d+)?"
# Written as text, made ready by `re` when they are first asked for: few episodes need more than two.
_WRONG = r"no|oops|wait|sorry|correction|i mean|make (?:that|it)|should (?:be|read)|rather"
_PUT_RIGHT = (
    rf"[\s.,;:(–-]*(?:(?:{_WRONG})\b[\s,:;]*)+(?:it(?:'s| is| was)\s+)?(?:more like\s+)?(?:abt |about )?"
)
_BARE = rf"({_NUMBER})(?=\s*(?:$|[.,;)](?!\d)|in all\b|altogether\b))"
_BEFORE, _AFTER = r"\s*(?:before|at (?:the )?start|full)\b", r"\s*(?:after|now|at (?:the )?end)\b"
_DOWN_TO = r"\s*(?:-+>|=>|→|(?:went )?down to)\s*"
_ARROW = rf"(?i)({_NUMBER})\s*([a-z]*)\s*(?:-+>|=>|→)\s*({_NUMBER})\s*([a-z]+)\b"
_A_COAT = r"\s*(?:each(?: coat| time)?|(?:a|per|every) (?:coat|time|go)|/ ?coat|apiece)\b"
_LEFT = (
    r"(?: of (?:the )?\w+(?: \w+)?)?\s*(?:(?:is|was|'s|still|now)\s+)*(?:left|remain(?:s|ing)?)\b"
    r"(?! (?:over from|by|me|it|on|in|to)\b)"
)
_LONG = (
    rf"[^.;\d]{{0,30}}?(?:\b(?:at|x)|[×@,])\s*({_NUMBER})\s?(mm|cm|m)\b(?!\s*[x×])"
    r"(\s*(?:each|long|apiece|a piece))?"
)
_LISTED = rf"(?<![\w.,/#>+-])((?:{_NUMBER}\s*(?:,\s+|\+\s*|and\s+|&\s*)){{2,4}})$"
_SIGNS = " .,;:(–-"
_EACH_LONG = ("at ", "x ", "×", "@", "each", "long", "piece")
_WRONG_HINTS = ("no", "oops", "wait", "sorry", "correct", "mean", "make", "should", "rather")
_BACK, _NEAR, _ON = 40, 45, 50
_LIKE = 5  # times, that parts of one list may differ
_SHORTEST_MM = 40  # what is shorter is a thickness
_GRITS = frozenset(map(Decimal, (40, 60, 80, 100, 120, 150, 180, 220, 240, 280, 320, 400, 600)))


def reckoned(text: str, amounts: Sequence[Amount]) -> list[Amount]:
    """Give the amounts of a text (as `find_amounts` finds them) with what has to be reckoned, reckoned.

    An amount that was put right is dropped, two weighings become the difference between them, an amount a
    coat is multiplied by the coats, what is left of a pack becomes what was taken from it.
    """
    folded = text.casefold()
    if len(folded) != len(text):
        return list(amounts)
    poured = _poured(text) if "->" in text or "→" in text or "=>" in text else []
    if not amounts:
        return poured
    kept = [one for one in amounts if not any(p.start < one.end and one.start < p.end for p in poured)]
    kept = _joined(folded, [_alone(folded, one) for one in kept])
    return sorted([*kept, *poured], key=lambda one: one.start) if poured else kept


def _alone(text: str, one: Amount) -> Amount:
    """Reckon what one amount and the words beside it say."""
    behind = text[one.end : one.end + _ON]
    if one.unit in PACKS:
        left = one.value < 1 and ("left" in behind or "remain" in behind) and re.match(_LEFT, behind)
        return one._replace(value=1 - one.value, approximate=True) if left else one
    if one.unit not in UNITS or UNITS[one.unit].measure not in {"volume", "mass"}:
        return one
    bare = _put_right(behind) if behind.lstrip(_SIGNS).startswith(_WRONG_HINTS) else None
    if bare is not None:
        return one._replace(value=bare)
    before = text[max(0, one.start - _BACK) : one.start]
    ahead = before.rstrip(" ,+&and")  # a list has a figure before its comma
    return _listed(before, one) if len(ahead) < len(before.rstrip()) and is_figure(ahead[-1:]) else one


def _put_right(behind: str) -> Decimal | None:
    """Read the bare number that puts an amount right: `. make that 25`."""
    right = re.match(_PUT_RIGHT, behind)
    bare = re.match(_BARE, behind[right.end() :]) if right else None
    return _decimal(bare[1]) if bare else None


def _listed(before: str, last: Amount) -> Amount:
    """Add up `30, 20, 10 ml`: only the last has its unit; a row of grits is no such list."""
    found = re.search(_LISTED, before)
    parts = [_decimal(part) for part in re.findall(_NUMBER, found[1])] if found else []
    alike = all(last.value <= _LIKE * part and part <= _LIKE * last.value for part in parts)
    if found is None or not alike or _GRITS.issuperset(parts):
        return last
    start = last.start - len(before) + found.start()
    return last._replace(value=last.value + sum(parts), start=start)


def _joined(text: str, amounts: list[Amount]) -> list[Amount]:
    """Reckon what two amounts, one behind the other, say together."""
    kept: list[Amount] = []
    for one in amounts:
        before = kept[-1] if kept else None
        if before is not None and one.start < before.end:
            continue  # the length of each of several, told with their number
        if before is not None and one.start - before.end <= _NEAR and (both := _pair(text, before, one)):
            kept[-1:] = both
        else:
            kept.append(one)
        last = kept[-1]
        if last.unit in {"lengths", "strips", "pcs"} and (long := _lengths(text, last)):
            kept.append(long)
    return kept


def _pair(text: str, first: Amount, second: Amount) -> list[Amount] | None:
    between = text[first.end : second.start]
    if "coats" in {first.unit, second.unit} and first.unit != second.unit:
        return _by_coats(text, first, second, between)
    if first.unit not in UNITS or second.unit not in UNITS:
        return None
    again = convert(second.value, second.unit, first.unit)
    if again is None or UNITS[first.unit].measure not in {"volume", "mass", "length"}:
        return None
    if between.lstrip(_SIGNS).startswith(_WRONG_HINTS) and re.fullmatch(_PUT_RIGHT, between):
        return [second]
    if again < first.value and _poured_out(text, first, second, between):
        return [first._replace(value=first.value - again, end=second.end)]
    return None


def _poured_out(text: str, first: Amount, second: Amount, between: str) -> bool:
    """Tell whether two amounts are what was there before and after."""
    if between.strip() == "to":
        return text[: first.start].rstrip().endswith("from")
    behind = text[second.end : second.end + _ON]
    weighed = re.match(_BEFORE, between) and re.match(_AFTER, behind)
    return bool(weighed or re.fullmatch(_DOWN_TO, between))


def _by_coats(text: str, first: Amount, second: Amount, between: str) -> list[Amount] | None:
    """Read `5 coats at 40 ml each` and `40 ml a coat, 5 coats`."""
    coats, amount = (first, second) if first.unit == "coats" else (second, first)
    each = re.match(_A_COAT, text[amount.end : amount.end + _ON])
    if each is None or ". " in between or amount.unit not in UNITS:
        return None
    return [amount._replace(value=amount.value * coats.value)]


def _lengths(text: str, counted: Amount) -> Amount | None:
    """Read how long each of several lengths is: `12 lengths x 1.8 m`, `7 strips webbing, 60 cm each`."""
    at, behind = counted.end, text[counted.end : counted.end + _ON]
    if not any(sign in behind for sign in _EACH_LONG):
        return None
    found = re.match(_LONG, behind)
    if found is None or (not found[3] and behind[: found.start(1)].rstrip().endswith(",")):
        return None
    value, unit = _decimal(found[1]), found[2]
    if value * UNITS[unit].size < _SHORTEST_MM:
        return None
    return Amount(
        counted.value * value, unit, found[0], at + found.start(1), at + found.end(2), counted.approximate
    )


def _poured(text: str) -> list[Amount]:
    """Read `bottle 480 -> 430 ml`: what went out of it."""
    found = []
    for match in re.finditer(_ARROW, text):
        high, low = _decimal(match[1]), _decimal(match[3])
        unit = SPELLINGS.get(match[4].casefold(), "")
        other = SPELLINGS.get(match[2].casefold(), "") if match[2] else unit
        if low < high and unit == other and unit in UNITS and UNITS[unit].measure in {"volume", "mass"}:
            found.append(Amount(high - low, unit, match[0], *match.span()))
    return found


def _decimal(text: str) -> Decimal:
    return Decimal(text.replace(",", "."))

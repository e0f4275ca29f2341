"""Was it used, or only spoken of? The words around a product's name decide.

"last time I used", "you could also", "people say why don't you just use", "not", a thing bought and never
fitted, a thing taken off: none of these is a use. The signs are common practice of speech, no source.
"""

from __future__ import annotations

import re
from typing import Literal

from reelnotes.draft.signs import Signs
from reelnotes.words.products import Mention

Use = Literal["used", "bought", "spoken"]

_BEFORE_CHARS, _AFTER_CHARS = 110, 60
_NOTE_BEFORE, _NOTE_AFTER = 45, 40

#: Said of what might be done, of what others do or ask.
_SUPPOSED = Signs(
    """
    (could|might|would|should)('ve)?
    if (you|yours|your)
    you'd
    (you can|can use)
    (some )?people (say|ask|use|wax|put|swear|like|tell|always|will)
    (had|have) people say
    some (people|folks?)
    (some|any|every)(body|one)('s going to| will)? (says?|asks?|always|tells?|uses?|wants?|in the comments|writes?|keeps?)
    (some|any|every)(body|one)'s going to
    they (say|tell)
    why (not|don't|wouldn't)
    tempted
    (think|thought|thinking|thinks) (about|of)
    (considered|wanted to|meant to|going to (try|use)|wish i('d| had))
    (next (time|week)|one day)
    (instead of|rather than|as opposed to|better than)
    (i get asked|asked (me )?(about|why|if)|in the comments)
    """  # noqa: E501 - one sign a line
)
#: Said of what others did to the piece, right before the name.
_OTHER_HAND = Signs(
    """
    (somebody|someone|whoever|they|he|she|people|owner) ... (used|put|tried|painted|glued|stuck|slapped)( [a-z]+){0,3}
    """,  # noqa: E501 - one sign a line
    at_end=True,
)
#: Said of another piece or time.
_OTHER_TIME = Signs(
    """
    (the )?last (time|year|week|month|summer|winter|job|one) (i|we|on|that|with|it)
    last (time|year|month|summer|winter)
    the last (time|job|one)
    (years?|months?) ago
    i used to
    (on|with) the other
    on (a|an|another|the last) ... (once|before)
    (once (used|tried|had)|i did that on)
    other (job|bench|table|chair|video|piece|one)
    (back when|when i was|previous|an earlier|in the old days)
    """
)
_NEGATION = (
    r"\b(?:not|never|no|nothing|without|neither|nor|[a-z]+n't|dont|didnt|wont|wouldnt|cant|isnt|aint)\b"
)
_NEGATED = re.compile(_NEGATION + r"[^.,;:!?]{0,28}$")
_NEGATED_FROM_FAR = re.compile(
    r"\b(?:not putting|not using|never use|don'?t use|didn'?t use|no need (?:of|for))\b[^.!?]{0,50}$"
)
_UNUSED_AFTER = re.compile(
    r"^[^.!?]{0,45}\b(?:can stay|could (?:have|'ve)|never opened|i never|(?:still )?on the shelf|left over|"
    r"stays? (?:shut|in)|so no|wouldn'?t|is(?:n't| not) (?:for|any good|the)|won'?t (?:do|stick|work|hold)|"
    r"either)\b"
)
#: Where a clause ends: at a full stop, and in captions without any where a new one opens.
_CLAUSE = re.compile(r"[.!?]\s|\b(?:but|then|now|so(?! that\b)|and (?=(?:i|it|it's|there's|we|that's)\b))\b")

#: In a note, right before the name.
_NOTE_NO = Signs(
    """
    (no|not|without|w/o|instead of|out of)( (any|the|more))?( [a-z-]+)?
    (need|needs|order|ordered|buy|get more|price of|rang re|asked? about)( (any|the|more|some))?( [a-z-]+)?
    (didn't|never|forgot|wanted)( (any|the))?( [a-z-]+)?
    (thought|thinking|think) (about|of)( (the|some|using|more))*( [a-z-]+)?
    considered( (the|some|using))*( [a-z-]+)?
    (cleaned|scraped|clean|check|picked)( out)?( the)? old( [a-z-]+)?
    (scraped|cleaned|check|old)
    old [a-z-]+ (and|&|[+])( the)?
    """,
    at_end=True,
)
#: In a note, right behind the name: it was refused; it was taken off, is broken, or lies where it was.
_NOTE_REFUSED = re.compile(r"^\W{0,2}no(?=[.,;!]|$)")
_NOTE_GONE = re.compile(
    r"^\W{0,3}(?:\w+\W+){0,2}?(?:off|removed|still in|not (?:used|needed|fitted|opened)|unopened|unused|"
    r"left over|arrived|came|ordered|won'?t|sheared|missing|rusted|broken|worn(?! out)|gone(?! through)|"
    r"perish\w*|for next|in bag)\b"
)
_HOLES = re.compile(r"^\W{0,2}(?:holes?|slots?|heads?|stubs?|marks?|shank)\b")
_SHOPPING = re.compile(
    r"^(?:to )?(?:the )?(?:shop|shops|yard|timber yard|merchants?|diy|hardware store|store|town|builders)\b|"
    r"\b(?:bought|picked up|ordered|to town for|to shop|yard for|shop for|from shop|delivery|parcel)\b"
)
_TAKEN_APART = re.compile(
    r"\b(?:off|out|apart|removed|took|stripped|pulled|dismantled|broken|undone|unscrewed)\b"
)
_PUT_ON = re.compile(r"\b(?:on|in|back|fitted|fixed|new|glued|nailed|pinned|screwed)\b")


def speech_use(said: str, mention: Mention) -> Use:
    """Tell how a mention in speech (as `plain` makes it) is meant: a use in this work, or only talk."""
    before = said[max(0, mention.start - _BEFORE_CHARS) : mention.start]
    after = said[mention.end : mention.end + _AFTER_CHARS]
    *_, clause = _CLAUSE.split(before)
    if _SUPPOSED.search(clause) or _OTHER_TIME.search(clause) or _OTHER_TIME.search(_CLAUSE.split(after)[0]):
        return "spoken"
    if (
        _OTHER_HAND.search(clause.rstrip())
        or _NEGATED.search(clause)
        or _NEGATED_FROM_FAR.search(before)
        or _UNUSED_AFTER.search(after)
    ):
        return "spoken"
    return "used"


def note_use(note: str, mention: Mention, *, hardware: bool) -> Use:
    """Tell how a mention in an entry (as `plain` makes it) is meant.

    Notes say what was done, so it is a use unless a sign says no. `hardware` is for things that are taken off
    as often as they are put on.
    """
    before = note[max(0, mention.start - _NOTE_BEFORE) : mention.start]
    after = note[mention.end : mention.end + _NOTE_AFTER]
    if _SHOPPING.search(note):
        return "bought"
    if not mention.deed and (_HOLES.search(after) or _NOTE_NO.search(before.rstrip())):
        return "spoken"
    if _NOTE_REFUSED.search(after):
        return "spoken"
    if _NOTE_GONE.search(after) and (hardware or not mention.exact):
        return "spoken"
    sentence = re.split(r"\.\s", before)[-1] + mention.text + re.split(r"\.\s", after)[0]
    taken = hardware and not mention.exact and _TAKEN_APART.search(note)
    return "spoken" if taken and not _PUT_ON.search(sentence) else "used"

"""Was it used, or only spoken of? The words around a product's name decide.

"last time I used", "you could also", "people say why don't you just use", "not", a thing bought and never
fitted, a thing taken off: none of these is a use. The signs are common practice of speech, no source.
"""

from __future__ import annotations

import re
from typing import Literal

from reelnotes.words.products import Mention

Use = Literal["used", "bought", "spoken"]

_BEFORE_CHARS, _AFTER_CHARS = 110, 60

#: Said of what might be done, of what others do or ask, of another piece or time.
_SUPPOSED = re.compile(
    r"\b(?:could(?:'?ve)?|might|if you|you'?d|you can|can use|would(?:'?ve)?|should(?:'?ve)?|why not|"
    r"why (?:don'?t|wouldn'?t)|"
    r"(?:some )?people (?:say|ask|use|wax|put|swear|like|tell|always|will)|had people say|some (?:people|"
    r"folks?)|"
    r"(?:some|any|every)(?:body|one)(?:'?s going to| will)? (?:says?|asks?|always|tells?|uses?|wants?|"
    r"in the comments|writes?|keeps?)|"
    r"somebody'?s going to|they (?:say|tell)|tempted|(?:think|thought|thinking|thinks) (?:about|of)|"
    r"considered|"
    r"wanted to|going to (?:try|use)|next (?:time|week)|one day|instead of|rather than|as opposed to|"
    r"better than|"
    r"i get asked|asked (?:me )?(?:about|why|if)|in the comments|wish i(?:'?d| had)|meant to|"
    r"(?:there'?s|i'?ve got|i have got|i have|got) (?:a|an|some|half|still)\b[^.]{0,40}\bi (?:could|never|"
    r"didn'?t))\b"
)
_OTHER_TIME = re.compile(
    r"\b(?:last (?:time|year|week|month|summer|winter|job)|the last (?:time|one|job)|years? ago|months? ago|"
    r"i used to|"
    r"(?:on|with) the other|on (?:a|an|another|the last) [a-z ]{2,24} (?:once|before)|once (?:used|tried|"
    r"had)|i did that on|"
    r"other (?:job|bench|table|chair|video|piece|one)|back when|when i was|previous|an earlier|"
    r"in the old days)\b"
)
_NEGATED = re.compile(
    r"\b(?:not|never|no|nothing|without|neither|nor|[a-z]+n'?t|dont|didnt|wont|wouldnt|cant|isnt|aint|"
    r"nothing to do with)\b"
    r"(?:[^.,;:!?]{0,28})$"
)
_NEGATED_FROM_FAR = re.compile(
    r"\b(?:not putting|not using|never use|don'?t use|didn'?t use|no need (?:of|for))\b[^.!?]{0,50}$"
)
_UNUSED_AFTER = re.compile(
    r"^[^.!?]{0,45}\b(?:can stay|could (?:have|'ve)|never opened|i never|(?:still )?on the shelf|left over|"
    r"stays? (?:shut|in)|"
    r"wouldn'?t|is(?:n't| not) (?:for|any good|the)|won'?t (?:do|stick|work|hold)|either)\b"
)
_CLAUSE = re.compile(r"[.!?]\s|\b(?:but|so then|and then)\b")

_LOG_UNUSED_BEFORE = re.compile(
    r"\b(?:no|not|without|w/o|instead of|out of|need|needs|order|ordered|buy|get more|didn'?t|dont|never|"
    r"forgot|wanted|"
    r"rang re|ask(?:ed)? (?:re|abt|about)|price of|old|used to be|next time|cleaned(?: old)?|"
    r"scraped(?: old)?|clean|check|try)\s*"
    r"(?:any |the |more |some |old )?[\w-]{0,14}\s?$"
)
_LOG_UNUSED_AFTER = re.compile(
    r"^\W{0,3}(?:\w+\W+){0,2}?(?:off|removed|still in|not (?:used|needed|fitted|opened)|unopened|unused|"
    r"left|arrived|came|ordered|wont|won't|"
    r"sheared|missing|rusted|broken|worn|gone|perished|perishd|back to|for next|in bag)\b"
)
_HOLES = re.compile(r"^\W{0,2}(?:holes?|slots?|heads?|stubs?|marks?|shank)\b")
_SHOPPING = re.compile(
    r"^(?:to )?(?:the )?(?:shop|shops|yard|timber yard|merchants?|diy|hardware store|store|town|builders)\b|"
    r"\b(?:bought|picked up|ordered|to town for|to shop|yard for|shop for|from shop|delivery|parcel)\b"
)
_TAKEN_APART = re.compile(
    r"\b(?:off|out of|out|apart|removed|stripped out|took|dismantled|broken|undone|unscrewed)\b"
)
_PUT_ON = re.compile(r"\b(?:on|in|back|fitted|fixed|new|glued|nailed|pinned|screwed)\b")


def speech_use(text: str, mention: Mention) -> Use:
    """Tell how a mention in speech is meant: a use of this piece's work, or only talk."""
    before = text[max(0, mention.start - _BEFORE_CHARS) : mention.start].casefold().replace("’", "'")
    after = text[mention.end : mention.end + _AFTER_CHARS].casefold().replace("’", "'")
    clause = _last_clause(before)
    if _SUPPOSED.search(clause) or _OTHER_TIME.search(before) or _OTHER_TIME.search(_first_clause(after)):
        return "spoken"
    if _NEGATED.search(clause) or _NEGATED_FROM_FAR.search(before) or _UNUSED_AFTER.search(after):
        return "spoken"
    return "used"


def _last_clause(before: str) -> str:
    ends = [match.end() for match in _CLAUSE.finditer(before)]
    return before[ends[-1] :] if ends else before


def _first_clause(after: str) -> str:
    match = _CLAUSE.search(after)
    return after[: match.start()] if match else after


def log_use(text: str, mention: Mention, *, hardware: bool) -> Use:
    """Tell how a mention in a log entry is meant: notes say what was done, so a use unless a sign says no.

    `hardware` is for things that are taken off as often as they are put on.
    """
    folded = text.casefold().replace("’", "'")
    before, after = folded[max(0, mention.start - 45) : mention.start], folded[mention.end : mention.end + 40]
    if _SHOPPING.search(folded[: mention.start + 1]) or _SHOPPING.search(folded):
        return "bought"
    if _HOLES.search(after) or (_LOG_UNUSED_BEFORE.search(before) and not mention.deed):
        return "spoken"
    if _LOG_UNUSED_AFTER.search(after) and (hardware or not mention.exact):
        return "spoken"
    note = re.split(r"\.\s", before)[-1] + mention.text + re.split(r"\.\s", after)[0]
    if hardware and not mention.exact and _TAKEN_APART.search(folded) and not _PUT_ON.search(note):
        return "spoken"
    return "used"

"""Where a given or paid-for product is named or praised, and where its disclosure has to stand.

16 CFR 255 (the FTC's Endorsement Guides, revised 2023, 88 FR 48092): a material connection that viewers do
not expect must be disclosed clearly and conspicuously (255.5); for a video, in the video itself and not
only in its description (FTC, Disclosures 101 for Social Media Influencers, 2019). Other rules hold
elsewhere: check yours.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from reelnotes.draft.signs import Signs, plain
from reelnotes.draft.speech import passages
from reelnotes.model import Cue, Flag, ShelfItem, stable_id
from reelnotes.records import frozen
from reelnotes.timing import Span, format_time
from reelnotes.words.lexicon import Lexicon
from reelnotes.words.products import shelf_names

SOURCE = "16 CFR 255.5; FTC, Disclosures 101 for Social Media Influencers (2019)"

_PRAISE = Signs(
    """
    (love|lovely|brilliant|fantastic|great|best|beautiful|beautifully|gorgeous|amazing|excellent|superb)
    (recommend|favourite|favorite|perfect|impressed|pleased)
    (can't fault|swear by|worth every|good stuff|nice stuff|a dream|easy to use|nothing better)
    """
)
#: Who gives: "it gave me trouble" and "I gave it a coat" disclose nothing.
_GIVER = "(they|he|she|company|makers?|manufacturers?|brand|firm|people|shop|seller|mill)"
_DISCLOSED = Signs(
    f"""
    (i|we)('ve| have|'d| had)?( (was|were|been|got))( kindly)? (sent|given|gifted|lent)
    (was|were|been)( kindly)? (sent|given|lent|provided|supplied|donated) (to (me|us)|by|for (nothing|free|this|me|us)|free)
    sent (me|us) (it|this|these|them|some|a|an|the|one|two|free)
    {_GIVER} ... (sent|gave|posted|supplied|provided|donated|lent|gifted) (me|us|it|them|the|this tin|these to|this to|this for)
    sent (it|this|these|them) (to (me|us)|over|along|free|for)
    (gifted|given to (me|us)|for free|free of charge|on the house|in return for|discounted|free samples?)
    (came|comes|come|got (it|this|them)|had (it|this|them)) (free|for nothing)
    (let|letting) (me|us) have
    (a (gift|present|loan) from|(got|get|had|have|gave (me|us)) a discount)
    (didn't|did not|haven't|never) (pay|paid|buy|bought)
    sponsor(s|ed|ing)?
    {_GIVER} ... paid (me|us)
    paid (for by|to (say|use|show|make)|partnership)
    (partnership|affiliate)
    (i'm|we're|i am|we are|been) working with (the )?(company|makers?|brand|people|firm|manufacturers?)
    thanks to ... for (sending|giving|supplying|letting|the (sample|loan|gift|tin|bottle|jar|tub|pot|can|glue|oil|wax|paint))
    (this|it|that|video)('s| is| counts as| was)( partly| really)? (an ad|an advert|an advertisement|advertising)
    """  # noqa: E501 - one sign a line
)
#: Right before: the opposite is said ("nobody paid me", "this is not sponsored").
_DENIED = Signs(
    "(not|never|nobody|no one|none|isn't|wasn't|aren't|weren't|hasn't|haven't|no)( [a-z]+)?( [a-z]+)?",
    at_end=True,
)
_DENIED_CHARS = 30
_NEAR_MS = 20_000


@frozen
class Disclosure:
    """A disclosure that is owed: for which product, from whom, and where.

    `span` is the first place where the product is named in the video (praised, if it is praised anywhere):
    the disclosure must stand there or before, in the picture if the product is seen, in the sound if it is
    named, in both if both. `said_at_ms` is where the maker says that it was given, None if nowhere; said too
    late (after `span`) or about something else it does not count. `missing` tells what is still owed: nothing
    is owed in sound once it was said in time, but words seen on screen remain the safer way.
    """

    product: str
    given: str
    span: Span
    quote: str
    praised: bool
    said_at_ms: int | None
    missing: tuple[Literal["sound", "picture"], ...]
    mentions_ms: tuple[int, ...]
    source: str = SOURCE


def find_disclosures(
    cues: Sequence[Cue], shelf: Sequence[ShelfItem], lexicon: Lexicon
) -> tuple[Disclosure, ...]:
    """Give the disclosures that an episode owes: one for each given product that is named in it.

    A product bought at full price needs none; one that is given and never named needs none either.
    """
    given = [item for item in shelf if item.given.strip()]
    if not given or not cues:
        return ()
    names = shelf_names(shelf)
    named: dict[int, list[tuple[int, str, bool]]] = {}
    disclosed: list[int] = []
    for passage in passages(cues, lexicon):
        folded = plain(passage.text)
        disclosed += [cues[passage.cue_at(at)].start_ms for at in _said_so(folded)]
        for mention in names.find(passage.text):
            if len(mention.options) != 1 or not shelf[mention.options[0]].given.strip():
                continue
            around = folded[max(0, mention.start - 90) : mention.end + 110]
            at = passage.cue_at(mention.start)
            named.setdefault(mention.options[0], []).append((at, cues[at].text, bool(_PRAISE.search(around))))
    return tuple(
        _owed(shelf[index], places, disclosed, cues)
        for index, places in sorted(named.items(), key=lambda pair: pair[1][0][0])
    )


def _said_so(folded: str) -> list[int]:
    """Give the places of a text (as `plain` makes it) where something is said to be given or paid for."""
    return [
        match.start()
        for match in _DISCLOSED.finditer(folded)
        if not _DENIED.search(folded[max(0, match.start() - _DENIED_CHARS) : match.start()].rstrip())
    ]


def disclosure_flags(disclosures: Sequence[Disclosure]) -> tuple[Flag, ...]:
    """Turn owed disclosures into flags: firm where nothing was said in time, else worth a look.

    The span is where the product is first named: the insert must stand there or before.
    """
    return tuple(_flag(owed) for owed in disclosures)


def _flag(owed: Disclosure) -> Flag:
    said = owed.said_at_ms is not None
    told = (
        f"it is said at {format_time(owed.said_at_ms)}" if owed.said_at_ms is not None else "nothing says so"
    )
    where = " and ".join(f"in the {part}" for part in owed.missing)
    return Flag(
        id=stable_id("disclosure", owed.product, owed.quote),
        topic="disclosure",
        signal="NOTICE",
        start_ms=owed.span.start_ms,
        end_ms=owed.span.end_ms,
        entry=None,
        quote=owed.quote,
        why=f"{owed.product} was given to the workshop ({owed.given}) and is "
        f"{'praised' if owed.praised else 'named'} in the video; {told}.",
        caution=f"Say it {where}, where the product is first named or before; a line in the description "
        "alone does not count. Rules differ from country to country: check yours.",
        source=owed.source,
        evidence=tuple(f"named at {format_time(at_ms)}" for at_ms in owed.mentions_ms),
        tier="look" if said and "sound" not in owed.missing else "firm",
    )


def _owed(
    item: ShelfItem, places: Sequence[tuple[int, str, bool]], disclosed: Sequence[int], cues: Sequence[Cue]
) -> Disclosure:
    first, quote, _ = places[0]
    span = Span(cues[first].start_ms, max(cues[first].end_ms, cues[first].start_ms))
    times = [cues[at].start_ms for at, _, _ in places]
    near = [at_ms for at_ms in disclosed if any(abs(at_ms - said) <= _NEAR_MS for said in times)]
    in_time = [at_ms for at_ms in near if at_ms <= span.end_ms + _NEAR_MS]
    missing: tuple[Literal["sound", "picture"], ...] = ("picture",) if in_time else ("sound", "picture")
    return Disclosure(
        product=item.name,
        given=item.given,
        span=span,
        quote=quote,
        praised=any(praised for _, _, praised in places),
        said_at_ms=min(near, default=None),
        missing=missing,
        mentions_ms=tuple(times),
    )

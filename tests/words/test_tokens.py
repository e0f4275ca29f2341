from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from nltk.stem.snowball import EnglishStemmer

from reelnotes.words.lexicon import load_lexicon
from reelnotes.words.tokens import remember_stems, stem, tokenise, words_in

#: Pairs of the sample vocabulary on the page of the Snowball English stemmer (from memory).
SNOWBALL_SAMPLE = {
    "consign": "consign", "consigned": "consign", "consigning": "consign", "consignment": "consign",
    "consisted": "consist", "consistency": "consist", "consolation": "consol", "consolatory": "consolatori",
    "consolidated": "consolid", "consoling": "consol", "conspicuous": "conspicu", "conspiracy": "conspiraci",
    "constables": "constabl", "constancy": "constanc", "knackeries": "knackeri", "knaves": "knave",
    "knavish": "knavish", "kneaded": "knead", "kneeling": "kneel", "knees": "knee", "knelt": "knelt",
    "knights": "knight", "knitted": "knit", "knives": "knive", "knobs": "knob", "knocking": "knock",
}  # fmt: skip


@pytest.mark.parametrize(("word", "expected"), SNOWBALL_SAMPLE.items())
def test_stems_match_the_published_sample(word: str, expected: str) -> None:
    """The stems are those of the Snowball English page."""
    assert stem(word) == expected


def test_stems_match_an_independent_stemmer() -> None:
    """Over the words of the lexicon, nltk's own Snowball English gives the same stems, but for a handful.

    nltk follows an older revision of the algorithm, which differs in a few endings.
    """
    other = EnglishStemmer()
    words = sorted({word for word in load_lexicon().short.values() if word.isalpha()} | set(SNOWBALL_SAMPLE))
    differing = [word for word in words if other.stem(word) != stem(word)]
    assert len(words) > 150
    assert len(differing) <= len(words) // 50, differing


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("6mm dowel x2", ["6", "mm", "dowel", "x", "2"]),
        ("glu'd w/ pva, w/o cramps", ["glu'd", "w/", "pva", "w/o", "cramps"]),
        ("80>120>180 + 1-1/4", ["80", "120", "180", "1", "1/4"]),
        ("£12.50 9:40, 1,200 'em", ["12.50", "9:40", "1,200", "em"]),
        ("the 2nd coat isn’t on", ["the", "2nd", "coat", "isn’t", "on"]),
        ("½ a tin", ["½", "a", "tin"]),
        ("wood/ply", ["wood", "ply"]),
        ("", []),
        ("… — !!", []),
    ],
)
def test_texts_are_cut_as_makers_write(text: str, words: list[str]) -> None:
    """Units come off their numbers, marks inside a word or number stay."""
    assert [token.text for token in tokenise(text)] == words


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=80))
def test_tokens_stand_where_they_say(text: str) -> None:
    """Every token is the slice it names, in order; the quick reading gives the same words."""
    tokens = tokenise(text)
    assert all(text[token.start : token.end] == token.text for token in tokens)
    assert all(one.end <= two.start for one, two in itertools.pairwise(tokens))
    if text.isascii():
        assert [token.text.casefold() for token in tokens] == words_in(text)


def test_stems_leave_out_case_and_apostrophes() -> None:
    """A possessive, a curly apostrophe and a capital make no difference."""
    assert stem("Clamp's") == stem("clamps") == stem("CLAMP’s") == "clamp"
    assert stem("don’t") == stem("dont")


def test_many_stems_are_those_of_one_by_one() -> None:
    """Stemming in bulk gives what stemming one by one gives."""
    assert remember_stems(["Sanding", "hinges", "it's"]) == [stem("Sanding"), stem("hinges"), stem("it's")]

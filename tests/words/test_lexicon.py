from __future__ import annotations

import tomllib
from collections import Counter
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import reelnotes.words.lexicon
from reelnotes.settings import WordSettings
from reelnotes.words.lexicon import load_lexicon
from reelnotes.words.tokens import tokenise

LEXICON = load_lexicon()
DATA = Path(reelnotes.words.lexicon.__file__).with_name("lexicon.toml")


def lines(block: str) -> list[tuple[str, list[str]]]:
    table = tomllib.loads(DATA.read_text("utf-8"))
    kept = [line for line in table[block].splitlines() if line and not line.startswith("#")]
    return [(line.split(": ")[0], line.split(": ")[1].split(", ")) for line in kept]


def heads(text: str) -> list[str]:
    return LEXICON.stems(text)


# --- what captions mishear ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        ("two coats of she lack", "two coats of shellac"),
        ("Then it's She lack on that", "Then it's Shellac on that"),
        ("a pair of doles", "a pair of dowels"),
        ("the vin ear lifted", "the veneer lifted"),
        ("glued in the re bait", "glued in the rebate"),
        ("ox alec crystals in the car case", "oxalic crystals in the carcase"),
        ("big tea hinges", "big tee hinges"),
    ],
)
def test_misheard_words_are_put_back(heard: str, said: str) -> None:
    """What captions make of trade words is mended, capitals kept."""
    assert LEXICON.repair(heard) == said


@pytest.mark.parametrize(
    ("heard", "said"),
    [
        ("rub in the paste whacks", "rub in the paste wax"),
        ("a few whacks with a mallet", "a few whacks with a mallet"),
        ("a spot of promise fills the grain", "a spot of pumice fills the grain"),
        ("I promise it is dry", "I promise it is dry"),
        ("took it off with the plain, lovely shavings", "took it off with the plane, lovely shavings"),
        ("it is plain oak", "it is plain oak"),
    ],
)
def test_doubtful_words_need_fitting_company(heard: str, said: str) -> None:
    """A word that a maker may well say is changed only beside words of that work."""
    assert LEXICON.repair(heard) == said


def test_a_doubtful_word_is_read_both_ways() -> None:
    """For matching, a doubtful mishearing counts as either word."""
    assert {"promis", "pumic"} <= set(heads("a spot of promise"))


@settings(max_examples=40, deadline=None)
@given(st.lists(st.sampled_from(["leg", "the", "sanded", "drawer", "2", "mm,", "glue.", "Oak"]), max_size=12))
def test_plain_speech_is_left_alone(words: list[str]) -> None:
    """A text without anything misheard or shortened comes back as it was."""
    text = " ".join(words)
    assert LEXICON.repair(text) == text
    assert LEXICON.expand(text) == text


# --- what dirty hands shorten ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("note", "whole"),
    [
        ("sndd drwr frnts", "sanded drawer fronts"),
        ("LH arm glu'd w/ pva", "Left hand arm glued with pva"),
        ("plugd rail, walkd home", "plugged rail, walked home"),
        ("ct 2 abt 60 ml", "coat 2 about 60 ml"),
        ("top bds nailed dn", "top boards nailed down"),
        ("planed, oiled, waxed", "planed, oiled, waxed"),
        ("add red wood", "add red wood"),
    ],
)
def test_short_words_are_written_out(note: str, whole: str) -> None:
    """Listed short forms and deeds shortened to a `d` are written out; whole words stay."""
    assert LEXICON.expand(note) == whole


# --- what means the same -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("cramped", "clamps"),
        ("offered up", "dry fit"),
        ("took the finish off", "stripped"),
        ("mineral spirits", "white spirit"),
        ("mortice", "mortise"),
        ("methylated spirits", "denatured alcohol"),
        ("glasspaper", "sandpaper"),
        ("lumber", "timber"),
        ("ROS", "random orbital"),
        ("french polish", "she lack"),
        ("2nd", "second"),
        ("mm", "millimetres"),
    ],
)
def test_trade_synonyms_share_a_head(one: str, other: str) -> None:
    """What means the same at the bench counts as the same, British or American."""
    assert heads(one)[0] == heads(other)[0]


def test_the_longest_phrase_counts() -> None:
    """`hide glue` is one thing, not leather and glue; with parts its words follow."""
    assert heads("hot hide glue")[-1] == "hide glue"
    assert LEXICON.stems("hide glue", parts=True) == ["hide glue", "hide", "glue"]


def test_heads_stand_where_the_words_do() -> None:
    """A head's place is that of the words it stands for, mended or shortened ones too."""
    text = "RH vin ear was offered up dry"
    places = {token.stem: text[token.start : token.end] for token in LEXICON.heads(text)}
    assert places["veneer"] == "vin ear"
    assert places["dri fit"] == "offered up"
    assert places["right hand"] == "RH"


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                "she",
                "lack",
                "hide",
                "glue",
                "sndd",
                "promise",
                "offered",
                "up",
                "w/",
                "the",
                "a",
                "dole",
                "6mm",
            ]
        ),
        max_size=9,
    )
)
def test_stems_are_those_of_the_heads(words: list[str]) -> None:
    """The quick reading without places gives the same heads."""
    text = " ".join(words)
    for parts in (False, True):
        assert LEXICON.stems(text, parts=parts) == [t.stem for t in LEXICON.heads(text, parts=parts)]


def test_fields_of_work_join_what_belongs_together() -> None:
    """A clamp and glue share the field of gluing; a plain word has none."""
    clamp, glue = heads("clamp")[0], heads("glue")[0]
    assert "~gluing" in LEXICON.fields_of(clamp)
    assert "~gluing" in LEXICON.fields_of(glue)
    assert LEXICON.fields_of("seagul") == ()


# --- a workshop's own words --------------------------------------------------------------------------


def test_a_workshop_adds_its_words() -> None:
    """Own groups join the trade's group of one of their words; own mishearings are mended."""
    extra = WordSettings(
        same=(("the beast", "thicknesser"), ("goo", "hide glue")), misheard={"bun ting": "bunting"}
    )
    own = load_lexicon(extra)
    assert own.stems("through the beast")[-1] == own.stems("thicknesser")[0]
    assert own.stems("goo") == own.stems("hide glue")
    assert own.repair("red bun ting") == "red bunting"
    assert load_lexicon().repair("red bun ting") == "red bun ting"


def test_no_words_of_ones_own_is_the_trade_lexicon() -> None:
    """Without own words the one lexicon of the trade is shared."""
    assert load_lexicon(WordSettings()) is load_lexicon()


# --- the data ----------------------------------------------------------------------------------------


def test_the_lexicon_covers_the_trade() -> None:
    """Several hundred groups of words, mishearings, short forms, and a hundred fields."""
    assert len(lines("same")) >= 300
    assert len(lines("misheard")) >= 100
    assert sum(len(words) for _, words in lines("short")) >= 350
    assert len(lines("fields")) >= 100


@pytest.mark.parametrize("block", ["misheard", "short"])
def test_no_word_is_listed_twice(block: str) -> None:
    """What is misheard or shortened stands for one word only."""
    counts = Counter(word for _, words in lines(block) for word in words)
    assert [word for word, count in counts.items() if count > 1] == []


def test_no_phrase_belongs_to_two_groups() -> None:
    """A word or phrase counts under one head."""
    owners: dict[str, set[str]] = {}
    for head, words in lines("same"):
        for word in [head, *words]:
            owners.setdefault(" ".join(t.stem for t in tokenise(word)), set()).add(head)
    assert {word: heads for word, heads in owners.items() if len(heads) > 1} == {}


def test_doubtful_words_name_their_company() -> None:
    """Every doubtful mishearing says beside which words it is mended."""
    assert all(any("@" in word for word in words) for _, words in lines("doubtful"))


def test_misheard_words_are_no_words_of_the_trade() -> None:
    """Nothing that is mended without asking is itself a word or phrase of the lexicon's groups."""
    good = {word for head, words in lines("same") for word in [head, *words]}
    bad = {word for said, words in lines("misheard") for word in words if word in good and said not in good}
    assert bad == set()

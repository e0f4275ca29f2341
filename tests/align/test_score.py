from __future__ import annotations

from math import log

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.align.near import Spellings
from reelnotes.align.score import Echo, Features, Heard, features_of, gains, lifts, with_products
from reelnotes.model import ShelfItem
from reelnotes.words.lexicon import Lexicon, load_lexicon
from reelnotes.words.products import shelf_names

LEXICON = load_lexicon()
PLAIN = Lexicon(fields={"glue": ("~gluing",), "clamp": ("~gluing",), "wax": ("~waxing",)})
WORDS = st.lists(st.sampled_from(["glue", "clamp", "wax", "leg", "gull", "#6"]), max_size=5)


def features(words: list[str]) -> Features:
    return Features(tuple(words), tuple(name for word in words for name in PLAIN.fields_of(word)))


def said(text: str) -> set[str]:
    return set(features_of(text, LEXICON).words)


def naive_gain(entry: list[str], beat: list[str], transcript: list[list[str]], echo: Echo) -> float:
    """Write the same chances down plainly, for one entry and one beat."""
    everything = [word for one in transcript for word in set(one)]
    total = len(everything) or 1

    def share(name: str) -> float:
        count = sum((word == name) + PLAIN.fields_of(word).count(name) for word in everything)
        return (count + (3 if name[0] == "~" else 0.5)) / (total + 200)

    heard = set(everything) | {name for word in everything for name in PLAIN.fields_of(word)}
    rarity = {
        w: -log(share(w)) if w in heard else -0.5 * log(0.5 / (total + 200)) for w in dict.fromkeys(entry)
    }
    fields = [name for word in entry for name in PLAIN.fields_of(word)]
    rest, gain = 1 - echo.words - echo.fields, 0.0
    for word in set(beat):
        ratio = (
            echo.words * rarity.get(word, 0.0) / sum(rarity.values()) / share(word) if word in rarity else 0.0
        )
        for name in PLAIN.fields_of(word):
            ratio += echo.fields * fields.count(name) / max(1, len(fields)) / share(name)
        gain += log(1 + ratio / rest)
    return gain + log(rest) * len(set(beat))


@settings(max_examples=60, deadline=None)
@given(st.lists(WORDS, min_size=1, max_size=3), st.lists(WORDS, min_size=1, max_size=5))
def test_gains_match_the_plain_formula(entries: list[list[str]], transcript: list[list[str]]) -> None:
    """The matrix of gains is what the chances give word by word."""
    echo = Echo()
    heard = Heard([features(beat) for beat in transcript], PLAIN)
    found = gains(lifts([features(entry) for entry in entries], heard, echo), heard, echo)
    for i, entry in enumerate(entries):
        for j, beat in enumerate(transcript):
            assert found[i, j] == pytest.approx(naive_gain(entry, beat, transcript, echo), abs=1e-9)


def test_a_rare_word_counts_more_than_a_common_one() -> None:
    """Two entries share one word each with a beat: the word that is rare in the transcript wins."""
    transcript = [["leg", "gull"], ["leg"], ["leg"], ["leg"]]
    heard = Heard([features(beat) for beat in transcript], PLAIN)
    gain = gains(lifts([features(["gull"]), features(["leg"])], heard, Echo()), heard, Echo())
    assert gain[0, 0] > gain[1, 0]


def test_words_of_one_field_speak_for_each_other() -> None:
    """A clamp in speech speaks for an entry about glue, and not for one about wax."""
    heard = Heard([features(beat) for beat in (["clamp", "leg"], ["wax"], ["gull"], ["leg", "gull"])], PLAIN)
    gain = gains(lifts([features(["glue"]), features(["wax"])], heard, Echo()), heard, Echo())
    assert gain[0, 0] > gain[1, 0]


@pytest.mark.parametrize(
    ("noted", "spoken"),
    [
        ("60 ml", "about sixty mil of it"),
        ("180", "then one eighty"),
        ("14x 20mm pins", "fourteen little pins, twenty mil"),
        ("0.5 L", "half a litre"),
        ("ct 2", "the second one"),
        ("240 grit", "two forty"),
        ("£12.50", "twelve fifty"),
    ],
)
def test_numbers_agree_on_both_sides(noted: str, spoken: str) -> None:
    """A measure counts the same however it is written or spoken."""
    numbers = {word for word in said(noted) if word[0] == "#"}
    assert numbers & said(spoken)


def test_talk_that_says_nothing_is_left_out() -> None:
    """Function words and single letters are no features."""
    assert said("and then I went and got it, you know, x") == set()


def test_products_go_by_any_name() -> None:
    """A product of the shelf is the same in log and speech where only it can be meant."""
    shelf = (ShelfItem("Otter satin varnish", kind="varnish"), ShelfItem("Lugger linseed oil", kind="oil"))
    names = shelf_names(shelf)

    def products(text: str, *, log: bool = False) -> set[str]:
        found = with_products(features_of(text, LEXICON), text, names, log=log)
        return {word for word in found.words if word[0] == "@"}

    assert products("1 coat otter", log=True) == products("so that's the satin varnish") == {"@0"}
    assert products("so that's the linseed") == {"@1"}


def test_a_text_of_marks_alone_has_no_features() -> None:
    """Nothing but dots and dashes is read as nothing, with a shelf too."""
    names = shelf_names((ShelfItem("Otter varnish", kind="varnish"),))
    nothing = features_of("– …", LEXICON)
    assert nothing == with_products(nothing, "– …", names) == Features((), ())


# --- near spellings ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("noted", "heard"),
    [
        ("brckt", "bracket"),
        ("ladderbck", "ladderback"),
        ("escutch", "escutcheon"),
        ("davnport", "davenport"),
        ("casette", "cassette"),
        ("tressel", "tressle"),
    ],
)
def test_short_and_misspelt_words_find_their_like(noted: str, heard: str) -> None:
    """Missing vowels, a missing end, a slip of one letter."""
    assert heard in Spellings(["gull", heard, "window", "leg"]).near(noted)


@pytest.mark.parametrize(
    ("noted", "heard"), [("gull", "glue"), ("pear", "pru"), ("leg", "lug"), ("hate", "hat"), ("#60", "#6")]
)
def test_words_that_only_look_alike_stay_apart(noted: str, heard: str) -> None:
    """A whole word of other vowels, a short one, a number: not the same."""
    assert heard not in Spellings([heard]).near(noted)


def test_a_near_spelling_brings_the_entry_home() -> None:
    """An entry whose one telling word is misspelt still gains where the right word is spoken."""
    heard = Heard([features(beat) for beat in (["davenport"], ["leg"], ["gull"])], PLAIN)
    gain = gains(lifts([features(["davnport"])], heard, Echo()), heard, Echo())
    assert gain[0].argmax() == 0
    assert gain[0, 0] > 0 > gain[0, 1]


def test_a_long_transcript_is_summed_in_parts() -> None:
    """More beats than are summed at once give the same gains."""
    beats = [features(["glue", "leg"]) if k % 7 else features(["wax"]) for k in range(1203)]
    heard = Heard(beats, PLAIN)
    gain = gains(lifts([features(["wax"])], heard, Echo()), heard, Echo())[0]
    assert np.ptp(gain[::7]) < 1e-9
    assert np.ptp(np.delete(gain, np.arange(0, 1203, 7))) < 1e-9

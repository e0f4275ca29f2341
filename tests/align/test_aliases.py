from __future__ import annotations

import numpy as np

from reelnotes.align.aliases import add_aliases
from reelnotes.align.score import Echo, Features, Heard, gains, lifts
from reelnotes.words.lexicon import Lexicon

PLAIN = Lexicon()


def features(text: str) -> Features:
    return Features(tuple(text.split()), ())


LOG = [features(text) for text in ("lamp flex", "base drawer", "lamp holder", "base runner", "lamp polish")]
SPEECH = [
    "doris cable wire", "doris cable gone", "drawers stuck", "drawers out",
    "doris switch brass", "doris brass", "runner worn", "runner new", "doris shellac", "doris shellac",
]  # fmt: skip
TALK = [f"gull number{k} on the pier" for k in range(20)]
TELLING = np.hstack([np.kron(np.eye(5), np.ones((1, 2))), np.zeros((5, 20))])


def test_a_nickname_is_learnt_from_several_entries() -> None:
    """What is spoken over every entry of the lamp and nowhere else becomes the lamp's name."""
    heard = Heard([features(text) for text in SPEECH + TALK], PLAIN)
    plain = lifts(LOG, heard, Echo())
    learnt = add_aliases(plain, TELLING, LOG, heard, 0.2)
    name = heard.index["doris"]
    assert (learnt[[0, 2, 4], name] > 0.5).all()
    assert not plain[:, name].any()
    assert not learnt[[1, 3], name].any()


def test_the_name_then_brings_the_others_home() -> None:
    """A beat that has only the nickname gains for the lamp's entries and not for the base's."""
    heard = Heard([features(text) for text in [*SPEECH, *TALK, "doris"]], PLAIN)
    telling = np.hstack([TELLING, np.zeros((5, 1))])
    learnt = add_aliases(lifts(LOG, heard, Echo()), telling, LOG, heard, 0.2)
    gain = gains(learnt, heard, Echo())[:, -1]
    assert gain[[0, 2, 4]].min() > gain[[1, 3]].max()


def test_a_word_of_one_entry_learns_nothing() -> None:
    """What is spoken over a single entry may be chance: `flex` gets no names."""
    heard = Heard([features(text) for text in SPEECH + TALK], PLAIN)
    one = [features("flex"), features("drawer"), features("holder"), features("runner"), features("polish")]
    plain = lifts(one, heard, Echo())
    assert (add_aliases(plain, TELLING, one, heard, 0.2) == plain).all()


def test_what_is_spoken_everywhere_is_no_name() -> None:
    """A word that runs through all tellings alike is not taken for the lamp."""
    heard = Heard([features(f"{text} lovely") for text in SPEECH + TALK], PLAIN)
    plain = lifts(LOG, heard, Echo())
    learnt = add_aliases(plain, TELLING, LOG, heard, 0.2)
    assert not learnt[:, heard.index["lovely"]].any()

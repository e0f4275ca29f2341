"""Promises: a link owed, something owed later, a question put to viewers."""

from __future__ import annotations

import pytest

from reelnotes.draft.promises import draft_promises
from reelnotes.model import Cue, Promise


def talk(*lines: str) -> tuple[Cue, ...]:
    """Make a talk of cues of 10 s each."""
    return tuple(Cue(10_000 * i, 10_000 * i + 9_900, line, i + 1) for i, line in enumerate(lines))


def promised(*lines: str) -> tuple[Promise, ...]:
    promises, problems = draft_promises(talk(*lines), (), ())
    assert problems == []
    return promises


@pytest.mark.parametrize(
    "line",
    [
        "The plans are linked below.",
        "I'll put the cut list in the description.",
        "there's a link in the description if you want one",
        "all the sizes are in the notes",
        "Links to the hinges are down there.",
        "I'll stick the drawing below.",
    ],
)
def test_link(line: str) -> None:
    """What will be found below the video is a link owed."""
    assert [(p.kind, p.said_at_ms) for p in promised("hello", line)] == [("link", 10_000)]


@pytest.mark.parametrize(
    "line",
    [
        "We'll come back to that.",
        "well come back to those",
        "Hold that thought.",
        "bear that in mind",
        "I'll show you how that goes in a minute.",
        "more on that later",
        "somebody put a chipboard top on it which we'll come to",
        "I'll explain the lock at the end.",
    ],
)
def test_later(line: str) -> None:
    """What will come later is owed, and not kept where it never came."""
    assert [(p.kind, p.kept_at_ms) for p in promised(line, "and so on", "and so forth")] == [("later", None)]


@pytest.mark.parametrize(
    "line",
    [
        "Tell me in the comments what you'd have done.",
        "let me know which colour",
        "Answers below please.",
        "if you know the family get in touch",
        "What would you have done?",
    ],
)
def test_ask(line: str) -> None:
    """A question put to viewers is owed to the pinned note."""
    assert [p.kind for p in promised(line)] == ["ask"]


@pytest.mark.parametrize(
    "line",
    [
        "somebody in the comments said get him on a lead",
        "the drawer below that one was fine",
        "the chest came back to me in March",
        "people tell me in the comments I should",
        "he hung it on a link of chain",
        "a coat underneath the table",
        "I said hold that thought",
        "nobody will tell me",
        "it links the two rails",
    ],
)
def test_no_promise(line: str) -> None:
    """What others said, and words that only look alike, promise nothing."""
    assert promised(line) == ()


def test_kept_by_its_words() -> None:
    """'I said hold that thought' keeps the thought that was to be held."""
    (promise,) = promised(
        "and there it is, drilled. Hold that thought.", *["talk"] * 4, "Right. I said hold that thought."
    )
    assert promise.kept_at_ms == 50_000


def test_kept_by_its_subject() -> None:
    """A promise is kept where its rare words are told again, later on."""
    lines = [
        "the lock barrel is seized, we'll come back to that",
        *["we plane a board"] * 4,
        "so the lock, the barrel of it",
    ]
    (promise,) = promised(*lines)
    assert promise.kept_at_ms is not None
    assert 30_000 <= promise.kept_at_ms <= 50_000


def test_another_video() -> None:
    """What is put off to another video is not looked for in this one."""
    lines = [
        "I'll show you the lock barrel in another video.",
        *["talk"] * 4,
        "so the lock, the barrel of it",
    ]
    assert [p.kept_at_ms for p in promised(*lines)] == [None]


def test_across_cues() -> None:
    """A promise is heard across the border of two cues, and quoted whole."""
    (promise,) = promised("So that's that. I'll put the cut", "list in the description. Bye now.")
    assert (promise.quote, promise.said_at_ms) == ("I'll put the cut list in the description.", 0)


def test_in_order() -> None:
    """Promises come in order of time, each once."""
    kinds = [p.kind for p in promised("let me know how", "it's linked below", "we'll come back to it")]
    assert kinds == ["ask", "link", "later"]


def test_silence() -> None:
    """No speech promises nothing."""
    assert promised() == ()
    assert promised("", "[Music]") == ()


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("Check the description for the supplier.", "link"),
        ("More about the hinge later on.", "later"),
        ("I'll get to the lock in a bit.", "later"),
        ("We'll fix that drawer later.", "later"),
        ("Anyone know who made this?", "ask"),
        ("I'd love to hear how you would do it.", "ask"),
        ("Tell me below.", "ask"),
        ("I glued a strip below the drawer.", None),
        ("Later I sanded it again.", None),
        ("The link of the chain had snapped.", None),
        ("He let me know it was ready.", None),
    ],
)
def test_more_ways_to_promise(line: str, kind: str | None) -> None:
    """A thing named instead of "that" is promised as well; work told is no promise."""
    assert [p.kind for p in promised("hello", line)] == ([kind] if kind else [])

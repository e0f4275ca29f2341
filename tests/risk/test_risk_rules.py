"""The rules as data: what fires, what takes it back, and what is shown to the maker."""

from __future__ import annotations

from importlib.resources import files

import pytest

from reelnotes.model import Topic
from reelnotes.risk.finding import findings
from reelnotes.risk.mentions import find_mentions
from reelnotes.risk.rules import (
    NO_INJURY,
    TOPICS,
    compile_rules,
    own_rules,
    own_texts,
    rules_json,
    rules_with,
)
from reelnotes.risk.speech import bounds, text_run

#: A risky passage of each topic, and its near-miss twin.
TWINS: list[tuple[Topic, str, str]] = [
    (
        "live-tool",
        "I swapped the router bit with it still plugged in at the wall.",
        "I swapped the router bit with the plug out and lying on the bench.",
    ),
    (
        "loose-work",
        "I drilled the little block while holding it in my left hand, between my fingers.",
        "I drilled the little block held in the vice, both hands on the drill.",
    ),
    (
        "missing-guard",
        "There was no guard on the table saw when I ripped those.",
        "The guard was down on the table saw when I ripped those.",
    ),
    (
        "old-paint",
        "All that old paint came off with the heat gun and a scraper, it never got tested.",
        "All that old paint was tested first and came off wet, with stripper and a scraper.",
    ),
    (
        "dust",
        "I sanded the whole rosewood top without a mask.",
        "I sanded the whole rosewood top with a mask on and the hose running.",
    ),
    (
        "fumes",
        "I brushed the paint stripper on with the windows shut to keep the warm in.",
        "I brushed the paint stripper on outside in the yard.",
    ),
    (
        "rag-fire",
        "The oily rags got stuffed in the bin when I went home.",
        "The oily rags got hung on the washing line one at a time.",
    ),
    (
        "ignition",
        "The gas heater was lit while I wiped it down with white spirit.",
        "The heater was unplugged before I wiped it down with white spirit, no flame anywhere.",
    ),
    (
        "chemical-mix",
        "Then I poured bleach over it while the vinegar was still wet.",
        "I rinsed the vinegar off and let it dry before the bleach came anywhere near.",
    ),
    (
        "eyes-ears",
        "I cut the nails off with the grinder and never put my glasses on.",
        "I cut the nails off with the grinder and had my glasses on.",
    ),
    (
        "tip-over",
        "The bookcase is just free standing, nothing holding it.",
        "The bookcase is screwed to the wall with two brackets.",
    ),
    (
        "mains",
        "I joined the lamp flex with the wires twisted together and some insulating tape.",
        "I took the lamp flex to an electrician, who joined it and tested it.",
    ),
    (
        "wood-movement",
        "I ran a bead of glue all the way round and clamped the solid oak top on.",
        "The solid oak top sits in slots so that it can swell and shrink, no glue.",
    ),
    (
        "finish-stack",
        "I rolled the second coat on top while the first was still tacky.",
        "I let it dry overnight before the second coat went on top.",
    ),
    (
        "blind-fit",
        "I drilled the holes off the packet without measuring the handle.",
        "I marked through the handle itself and only then drilled the holes.",
    ),
]

#: Published sources that were read, in the words shown; everything else is common practice.
CONFIRMED_SOURCES = {
    "16 CFR 1303.1: furniture paint over 0.009 % lead is banned for consumers",
    "16 CFR 1261.2 (ASTM F2057-23), clothing storage units made after 2023-09-01",
    "29 CFR 1910.213(c): hood and spreader on hand-fed rip saws",
    "NFPA tip sheet (2017), oily rags",
    "NIOSH Pocket Guide to Chemical Hazards, wood dust (npgd0667)",
    "NIOSH recommended exposure limit for noise: 85 dBA over 8 hours, 3 dB exchange",
    "OSHA booklet 3080, Hand and Power Tools (2002)",
    "OSHA booklet 3080, Hand and Power Tools (2002), general precautions",
    "Public-health and poison-centre advice on chlorine bleach",
    "USDA Wood Handbook, FPL-GTR-190 (2010), ch. 13, eq. 13-2",
}


def topics_met(text: str) -> set[Topic]:
    run = text_run(text)
    book = own_rules()
    mentions = find_mentions(run.words, run.sentence, book)
    return {finding.topic for finding in findings(mentions, bounds(run), book)}


@pytest.mark.parametrize(("topic", "risky", "safe"), TWINS, ids=[t for t, _, _ in TWINS])
def test_twins(topic: Topic, risky: str, safe: str) -> None:
    """A topic's rules fire on a risky passage and stay silent on its near-miss twin."""
    assert topic in topics_met(risky)
    assert topic not in topics_met(safe)


def test_every_topic_has_twins_and_rules() -> None:
    """No topic is without a rule file, a rule, and a pair of passages that try it."""
    assert [topic for topic, _, _ in TWINS] == list(TOPICS)
    assert set(own_rules().topics) == set(TOPICS)
    assert all(known.rules for known in own_rules().topics.values())


@pytest.mark.parametrize(
    "text",
    [
        "I changed the blade and never unplugged it.",
        "I changed the blade and I ought to have unplugged it first.",
        "I changed the blade, I should have pulled the plug before that.",
        "changed the blade, couldnt be bothered to unplug it",
    ],
)
def test_precaution_denied_or_wished_for(text: str) -> None:
    """A precaution that is denied, or told as what ought to have been done, is a risk."""
    assert "live-tool" in topics_met(text)


@pytest.mark.parametrize(
    "text",
    [
        "Do not ever put bleach in with the vinegar.",
        "Never mix bleach and ammonia.",
        "If you put bleach with vinegar you get a gas, so keep them apart.",
    ],
)
def test_warning_is_no_risk(text: str) -> None:
    """What is told as a warning does not meet the rule."""
    assert "chemical-mix" not in topics_met(text)


def test_words_do_not_reach_across_sentences() -> None:
    """A denial in one sentence does not deny the next."""
    assert "dust" not in topics_met("I had no idea. The mask was on while I sanded it.")


def test_compiled_table_is_current() -> None:
    """The compiled table is what scripts/compile_rules.py makes of the rule texts."""
    held = files("reelnotes.risk").joinpath("rules.json").read_text(encoding="utf-8")
    assert held == rules_json(), "run scripts/compile_rules.py, then scripts/train_reader.py"


def test_sources_are_confirmed() -> None:
    """Every source that can be shown is one that was read; none is given where there is only practice."""
    shown = set()
    for known in own_rules().topics.values():
        shown |= {known.source, *(r.source for r in known.rules), *(j.source for j in known.joins)}
    assert shown - {None} == CONFIRMED_SOURCES


def test_notice_is_never_about_injury() -> None:
    """NOTICE is for topics in which nobody gets hurt, and for no other (ANSI Z535.4)."""
    for topic, known in own_rules().topics.items():
        words = {known.signal, *(r.signal for r in known.rules), *(j.signal for j in known.joins)}
        assert ("NOTICE" in words) == (topic in NO_INJURY)


def test_danger_is_for_the_extreme_case() -> None:
    """DANGER is kept for what will kill (ANSI Z535.4): a hand in live mains wiring."""
    topics = own_rules().topics.items()
    extreme = [(t, rule.name) for t, known in topics for rule in known.rules if rule.signal == "DANGER"]
    extreme += [(t, join.name) for t, known in topics for join in known.joins if join.signal == "DANGER"]
    assert extreme == [("mains", "hands in live wiring")]
    assert not any(known.signal == "DANGER" for known in own_rules().topics.values())


def test_every_topic_has_its_texts() -> None:
    """Every topic says why, what to do, and why it has its signal word."""
    for known in own_rules().topics.values():
        assert known.title
        assert known.signal_reason
        assert known.why.endswith(".")
        assert known.caution.endswith(".")


OWN = """
topic = "dust"
[words]
lime = ["lime plaster"]
stirred = ["brushed .. off", "swept|blew"]
[[rule]]
name = "lime dust"
all = ["lime", "stirred"]
unless = ["mask"]
why = "Lime dust burns."
"""


def test_workshop_rule_is_read_with_the_own_ones() -> None:
    """A rule of the workshop fires beside the tool's own, with gaps and choices in its patterns."""
    book, problems = rules_with([("rules/lime.toml", OWN)])
    assert problems == []
    for text, met in [
        ("The lime plaster I just brushed the most of off.", True),
        ("Lime plaster again, and I swept it.", True),
        ("Lime plaster again, and I swept it with a mask on.", False),
    ]:
        run = text_run(text)
        found = findings(find_mentions(run.words, run.sentence, book), bounds(run), book)
        assert ("lime dust" in {f.rule.name for f in found}) == met, text


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('topic = "dust"\nnot toml', "is not TOML"),
        ('topic = "dusty"', "is none of"),
        ('topic = "dust"\n[[rule]]\nname = "x"\nwithin = 3', "names no words"),
        ('topic = "dust"\n[[rule]]\nname = "x"\nall = ["nowhere"]', "has no words"),
        ('topic = "dust"\n[[join]]\nname = "x"\nfirst = ["mask"]', "lacks first or then"),
        ('topic = "dust"\nsignal = "NOTICE"', "not about injury"),
        ('topic = "dust"\nsignal = "BEWARE"', "no signal word"),
        ('topic = "dust"\nwhen = "always"', "no such key as 'when'"),
        ('topic = "dust"\nwords = 3', "words must be a table"),
        ('topic = "dust"\n[words]\nlime = "lime"', "must be a list of texts"),
        ('topic = "dust"\n[[rule]]\nname = "x"\nall = "mask"', "all must be a list of groups"),
        ('topic = "dust"\nrule = [3]', "rule must be a list of tables"),
        (
            'topic = "dust"\n[[rule]]\nname = "x"\nall = ["mask", "nowhere"]\nwithin = "near"',
            "must be a number",
        ),
    ],
)
def test_bad_workshop_rule_is_reported(text: str, said: str) -> None:
    """A rule text that cannot be read is a Problem with its file, and the tool's own rules still stand."""
    book, problems = rules_with([("rules/mine.toml", text)])
    assert {(p.code, p.file) for p in problems} == {("rule", "rules/mine.toml")}
    assert said in problems[0].message
    assert book.topics["dust"].signal == "WARNING"
    assert len(book.topics["dust"].rules) == len(own_rules().topics["dust"].rules)


def test_own_texts_compile_without_problems() -> None:
    """The tool's own rule texts are all read, the shared one among them."""
    texts = own_texts()
    assert {name.removesuffix(".toml") for name, _ in texts} == {*TOPICS, "shared"}
    assert compile_rules(texts)[1] == []

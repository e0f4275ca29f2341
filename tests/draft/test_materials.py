"""Materials: what was used, how much, and what it cost."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest

Spent = Callable[..., Any]

SHELF = """
Fenland hemp oil          | 500 ml  | 16.00 | oil
Denatured alcohol         | 1 qt    | 9.50  | solvent
Bluebell clear paste wax  | 400 g   | 13.50 | wax
Coal black wax            | 200 g   | 11.00 | wax      | for ironwork
Liquid hide glue          | 250 ml  | 12.00 | glue
Superglue gel             | 20 g    | 4.50  | glue
Heron grey primer         | 1000 ml | 12.50 | paint
Old white chalk paint     | 500 ml  | 14.00 | paint
Walnut veneer sheet       | 1 sheet |       | timber
Ash board 20mm            | 1 pcs   | 9.00  | timber
Screws #8 x 1-1/2         | 200 pcs | 6.40  | hardware
Butt hinge 75mm brass     | 1 pair  | 8.00  | hardware
Panel pins 20mm           | 50 g    | 1.20  | hardware
Angle bracket 40mm        | 2 pcs   | 3.40  | hardware
Sanding discs 120         | 50 pcs  | 19.00 | abrasive
Oxalic acid crystals      | 500 g   | 9.40  | other
Webbing 50mm jute         | 25 m    | 24.00 | upholstery
"""


# --- used or only spoken of ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "name"),
    [
        ("wiped dn w meths", "Denatured alcohol"),
        ("black wax on the hinges", "Coal black wax"),
        ("top oiled", "Fenland hemp oil"),
        ("sndd lot 120", "Sanding discs 120"),
        ("6x #8 x 1-1/2 from below", "Screws #8 x 1-1/2"),
        ("base coat heron, let dry", "Heron grey primer"),
    ],
)
def test_noted_is_used(spent: Spent, log: str, name: str) -> None:
    """What a note names, by any name, size, grade or deed, was used."""
    assert name in spent(SHELF, log).used


@pytest.mark.parametrize(
    "log",
    [
        "no primer, straight on",
        "cleaned old glue out",
        "hinges off, 3 screws sheared",
        "old screw holes",
        "yard: 2 angle brackets 3.40",
        "brackets still in bag",
        "ink stain on the top",
        "rang re lunch",
    ],
)
def test_noted_and_not_used(spent: Spent, log: str) -> None:
    """What was left out, taken off, only bought or still in its bag was not used."""
    assert not spent(SHELF, log).used


@pytest.mark.parametrize(
    "speech",
    [
        "last time I used black wax on an iron bed and it came off",
        "you could also use a bit of superglue on it",
        "people say why don't you just use superglue gel",
        "somebody always asks about black wax",
        "I thought about the clear wax for it",
        "it's not black wax on these",
        "I've got some superglue, I never opened it",
        "there's a tin of old white, it can stay on the shelf",
        "if you use hide glue you'll wait all night",
    ],
)
def test_only_spoken_of(spent: Spent, speech: str) -> None:
    """Another time, another's question, a might-have-been and a no are talk; the product is listed so."""
    drafted = spent(SHELF, "", speech)
    assert not drafted.used
    assert [spoken.said_at_ms for spoken in drafted.spending.spoken_only] == [0]


@pytest.mark.parametrize(
    ("speech", "name"),
    [
        ("so then it's black wax rubbed in and buffed", "Coal black wax"),
        ("I went over it with meths on a rag", "Denatured alcohol"),
        ("two coats of the old white", "Old white chalk paint"),
        ("eight new panel pins round the back", "Panel pins 20mm"),
        ("people say use oil. Anyway. It's hide glue in the joint", "Liquid hide glue"),
    ],
)
def test_told_is_used(spent: Spent, speech: str, name: str) -> None:
    """Without a log, what speech tells as done was used."""
    assert name in spent(SHELF, "", speech).used


def test_bought_and_fitted(spent: Spent) -> None:
    """What was bought and fitted later was used, once."""
    drafted = spent(SHELF, "shop. 2 angle brackets 3.40\nwall brackets: 2 angle brackets on, tight")
    assert drafted.amount("Angle bracket 40mm") == "2 pcs"


def test_mishearing(spent: Spent) -> None:
    """A caption's mishearing is put right before it is looked for, across the border of two cues too."""
    drafted = spent(
        "Blonde shellac | 500 ml | 20 | other", "", "so that's two coats of she\nlack on the top of it"
    )
    assert set(drafted.used) == {"Blonde shellac"}


def test_general_name_by_the_step(spent: Spent) -> None:
    """A general name means the product that the same step names exactly."""
    drafted = spent(
        SHELF, "wax on\nblack wax on strap", "a bit of the clear wax and a brush", told={0: (0, 6)}
    )
    assert set(drafted.used) == {"Bluebell clear paste wax", "Coal black wax"}


def test_general_name_of_something_not_stocked(spent: Spent) -> None:
    """A general name in a step that names another kind exactly does not mean the one that is stocked."""
    drafted = spent(SHELF, "glue in the joint", "this is epoxy, the slow one", told={0: (0, 6)})
    assert not drafted.used
    assert "epoxy" in drafted.spending.unlisted


def test_several_hinted_by_use(spent: Spent) -> None:
    """Of two waxes, the words for what it is for tell which: black wax on the ironwork."""
    assert set(spent(SHELF, "waxed the ironwork").used) == {"Coal black wax"}


# --- amounts -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "name", "amount"),
    [
        ("oil coat 1, abt 120 ml\noil coat 2, 90 ml", "Fenland hemp oil", "210 ml"),
        (
            "hemp oil 1st coat 60 ml\n2nd coat 45 ml\nlast coat 15 ml, spirited off",
            "Fenland hemp oil",
            "120 ml",
        ),
        ("gel? no. hide glue 10 ml, 2 clamps", "Liquid hide glue", "10 ml"),
        ("half a tin of old white", "Old white chalk paint", "250 ml"),
        ("meths 1/4 qt on the top", "Denatured alcohol", "0.25 qt"),
        ("oxalic 100 g in 1 L warm", "Oxalic acid crystals", "100 g"),
        ("6x #8 x 1-1/2 screws", "Screws #8 x 1-1/2", "6 pcs"),
        ("back panel, 14x 20mm panel pins", "Panel pins 20mm", "14 pcs"),
        ("new hinges on", "Butt hinge 75mm brass", "1 pair"),
        ("new butt hinges on, 4 butt hinges", "Butt hinge 75mm brass", "2 pair"),
        ("webbing 4 m, tight", "Webbing 50mm jute", "4 m"),
        ("webbing 600 mm, tight", "Webbing 50mm jute", "0.6 m"),
        ("oxalic 30 ml, brushed on", "Oxalic acid crystals", "30 ml"),
        ("sndd 120, 7 discs", "Sanding discs 120", "7 pcs"),
        ("old white, 2 coats", "Old white chalk paint", "2 coats"),
        ("1:1 mix hemp oil + meths, 100 ml", "Fenland hemp oil", "50 ml"),
        ("2 patches walnut veneer", "Walnut veneer sheet", "2 patches"),
        ("ripped 3 ash boards\nplaned 3 ash boards\nglued up the 3 ash boards", "Ash board 20mm", "3 pcs"),
        ("angle bracket on the back", "Angle bracket 40mm", "1 pcs"),
        ("flatted the top, 120 grit, three discs gone through", "Sanding discs 120", "3 pcs"),
        ("two of the angle brackets under the rail", "Angle bracket 40mm", "2 pcs"),
        ("sanded 120, 4 sheets of it", "Sanding discs 120", "4 pcs"),
    ],
)
def test_amounts(spent: Spent, log: str, name: str, amount: str) -> None:
    """Amounts of the log are added up over coats and entries, in the shelf's unit where they convert."""
    assert spent(SHELF, log).amount(name) == amount


@pytest.mark.parametrize(
    ("log", "name"),
    [
        ("hide glue, then a pint of milk", "Liquid hide glue"),
        ("sndd 120 for 40 min", "Sanding discs 120"),
        ("lid on, #8 x 1-1/2 screws", "Screws #8 x 1-1/2"),
        ("old white on the 6 fronts", "Old white chalk paint"),
        ("meths on a rag, 3 places", "Denatured alcohol"),
        ("webbing 50 mm, tight", "Webbing 50mm jute"),
        ("sndd 120, then hide glue and far from it all 30 g of something", "Liquid hide glue"),
    ],
)
def test_no_amount(spent: Spent, log: str, name: str) -> None:
    """Milk, minutes, sizes and parts of the piece are no amounts of the product."""
    assert spent(SHELF, log).amount(name) is None


HASTY = """
Fumed oak board 40 x 18   | 3 m     | 30.00 | timber
Knifing putty two part    | 400 g   | 14.00 | filler
Gap two part              | 300 g   | 12.00 | filler
Garnet polish flakes      | 250 g   | 20.00 | finish
Garnet polish ready made  | 500 ml  | 18.00 | finish
Grit paper P180           | 50 sht  | 20.00 | abrasive
Bluebird emulsion         | 1000 ml | 15.00 | paint
Castor set                | 4 no    | 12.00 | hardware
"""


@pytest.mark.parametrize(
    ("log", "name", "amount"),
    [
        ("cut blubrd emlsn edge\nemlsn coat 1, 150 ml", "Bluebird emulsion", "150 ml"),
        ("emulsn 90 ml", "Bluebird emulsion", "90 ml"),
        ("gap 40 g in the split", "Gap two part", "40 g"),
        ("top flat, P180, 3 sheets", "Grit paper P180", "3 sht"),
        ("sndd 180 grt all over. 5 shts", "Grit paper P180", "5 sht"),
        ("first fad garnet polish 20 ml\nbody 1, 30 ml\nbody 2, 25 ml", "Garnet polish ready made", "75 ml"),
        ("garnet polish 40 g to soak", "Garnet polish flakes", "40 g"),
        ("4 castors on", "Castor set", "4 no"),
    ],
)
def test_amounts_in_hasty_notes(spent: Spent, log: str, name: str, amount: str) -> None:
    """Long names without their vowels, grades with their P, sheets as `shts`, polish in fads and bodies.

    Where two products share a name, the unit of the amount tells which is meant: no flakes come in ml.
    """
    assert spent(HASTY, log).amount(name) == amount


@pytest.mark.parametrize(
    "log", ["the gap is shut", "a gap shows at the back", "p 12 of the book", "blade flat"]
)
def test_short_and_shortened_words_are_not_seen_everywhere(spent: Spent, log: str) -> None:
    """A short name counts only where it is put to use, a shortened one only for its own product."""
    assert spent(HASTY, log).used == {}


def test_log_before_speech(spent: Spent) -> None:
    """The same amount in log and speech is one; another one told in the same step does not count."""
    log, told = "hemp oil coat 1, 120 ml\nhemp oil coat 2", {0: (0, 12), 1: (12, 24)}
    speech = (
        "so hemp oil, about a hundred and twenty mil\nmaybe a hundred and thirty mil of oil\nand on\nand off"
    )
    assert spent(SHELF, log, speech, told=told).amount("Fenland hemp oil") == "120 ml"


def test_a_spoonful_of_what_is_logged(spent: Spent) -> None:
    """A household measure told in a step is the rough word for the amount that its entry gives."""
    log, told = "hemp oil on, 20 ml", {0: (0, 12)}
    speech = "more or less a dessert spoon of the black stuff\nand hide glue, a dessert spoon"
    drafted = spent(SHELF, log, speech, told=told)
    assert (drafted.amount("Fenland hemp oil"), drafted.amount("Liquid hide glue")) == ("20 ml", None)


def test_speech_fills(spent: Spent) -> None:
    """Speech gives the amount of a step whose entry gives none."""
    log, told = "hemp oil coat 1, 120 ml\nhemp oil coat 2", {0: (0, 12), 1: (12, 24)}
    speech = "so hemp oil\nand wipe\nsecond coat of the hemp oil was ninety mil\nand off"
    assert spent(SHELF, log, speech, told=told).amount("Fenland hemp oil") == "210 ml"


def test_speech_alone(spent: Spent) -> None:
    """Without a log the amounts told are added up, the recap's not again."""
    speech = (
        "first coat of hemp oil a hundred and twenty mil\nsecond coat of hemp oil ninety mil\n" + "talk\n" * 9
    )
    speech += "so a hundred and twenty mil of hemp oil and then ninety mil of hemp oil that's it"
    assert spent(SHELF, "", speech).amount("Fenland hemp oil") == "210 ml"


def test_british_pint(spent: Spent) -> None:
    """A pint is the British one where the money is sterling, and the US one elsewhere."""
    assert spent(SHELF, "hemp oil, 1 pint").amount("Fenland hemp oil").startswith("568.26")
    assert spent(SHELF, "hemp oil, 1 pint", currency="USD").amount("Fenland hemp oil").startswith("473.17")


# --- cost ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("log", "cost"),
    [
        ("hemp oil 210 ml", "6.72"),
        ("6x #8 x 1-1/2", "0.19"),
        ("new hinges on", "8.00"),
        ("hide glue 2.5 ml", "0.12"),
        ("meths 8 fl oz", "2.38"),
        ("hemp oil", None),
    ],
)
def test_cost_of_the_part(spent: Spent, log: str, cost: str | None) -> None:
    """The cost is that of the part of a pack, half a hundredth rounded up; unknown without an amount."""
    (material,) = spent(SHELF, log, currency="USD").spending.materials
    assert material.cost == (None if cost is None else Decimal(cost))


def test_total_and_budget(spent: Spent) -> None:
    """The total adds the known costs up; the budget is passed on; with no cost there is no total."""
    drafted = spent(SHELF, "hemp oil 250 ml\nnew hinges on\nclear wax over", budget=Decimal(75))
    assert (drafted.spending.total, drafted.spending.budget) == (Decimal("16.00"), Decimal(75))
    assert spent(SHELF, "clear wax over").spending.total is None


def test_price_missing(spent: Spent) -> None:
    """A product without a price on the shelf is reported with its line."""
    (problem,) = spent(SHELF, "2 patches walnut veneer").problems
    assert (problem.code, problem.file, problem.line) == ("price-missing", "shelf.csv", 10)


def test_price_not_missing(spent: Spent) -> None:
    """A product with a price raises no problem, and a price noted in the log stands in for the shelf's."""
    assert not spent(SHELF, "hemp oil 10 ml").problems
    drafted = spent(SHELF, "shop: walnut veneer sheet £18.00\nlaid 1 sheet walnut veneer")
    assert not drafted.problems
    assert drafted.used["Walnut veneer sheet"].cost == Decimal("18.00")


def test_amount_unclear(spent: Spent) -> None:
    """An amount in a unit that does not convert to the shelf's costs nothing known, and that is noted."""
    drafted = spent(SHELF, "oxalic, 2 tsp in warm water")
    assert drafted.amount("Oxalic acid crystals") == "2 tsp"
    assert [(p.code, p.severity) for p in drafted.problems] == [("amount-unclear", "note")]
    assert not spent(SHELF, "oxalic, 20 g in warm water").problems


def test_pack_of_nothing(spent: Spent) -> None:
    """A pack of 0 or without a size gives no cost, and no error."""
    drafted = spent("Hemp oil | 0 ml | 5 | oil\nBeeswax | | 5 | wax", "hemp oil 10 ml, beeswax 2 tins")
    assert [material.cost for material in drafted.spending.materials] == [None, None]


# --- the rest ------------------------------------------------------------------------------------------


def test_where_it_was_named(spent: Spent) -> None:
    """A material gives the entries that name it and the first time it was told as used."""
    speech = "last year I used hemp oil on a door\nand now it's hemp oil on this"
    (material,) = spent(
        SHELF, "tea\nhemp oil on\nphone\nhemp oil again", speech, told={1: (6, 12)}
    ).spending.materials
    assert (material.entries, material.said_at_ms) == ((1, 3), 6000)


def test_given(spent: Spent) -> None:
    """What the shelf marks as given is marked on the list."""
    drafted = spent("Hemp oil | 500 ml | 16 | oil | | sent by the mill", "hemp oil on")
    assert drafted.used["Hemp oil"].given


def test_unlisted(spent: Spent) -> None:
    """Products used or bought that stand on no shelf are listed; parts of the piece and cautions are not."""
    log = "cling film over\nshop: foam roller £2.99\nold flex off\nboards off\nhemp oil on"
    assert spent(SHELF, log).spending.unlisted == ("foam roller", "cling film")
    assert spent(SHELF, "", "never put bleach in with ammonia").spending.unlisted == ()


def test_nothing_at_all(spent: Spent) -> None:
    """No shelf, no log and no speech give an empty list and no problem."""
    drafted = spent("", "", "")
    assert (drafted.spending.materials, drafted.spending.total, drafted.problems) == ((), None, [])
    assert not spent("", "hemp oil 10 ml on", "hemp oil it is").used


PLAIN_NAMES = """
Wagtail gloss enamel cream | 250 ml | 8 | paint
Brass cup hooks            | 10 pcs | 3 | hardware
Upholstery tacks 13 mm     | 500 g  | 8 | hardware
"""


@pytest.mark.parametrize(
    ("log", "used"),
    [
        ("5 cup hooks on", {"Brass cup hooks": "5 pcs"}),
        ("a cup of water", {}),
        ("cream 40 ml", {"Wagtail gloss enamel cream": "40 ml"}),
        ("cream looks well", {}),
        ("old hessian & tacks out", {}),
        ("thought about the enamel", {}),
    ],
)
def test_names_of_plain_words(spent: Spent, log: str, used: dict[str, str]) -> None:
    """Plain words side by side tell a product of no kind; a colour tells its paint beside a volume."""
    drafted = spent(PLAIN_NAMES, log)
    assert {name: drafted.amount(name) for name in drafted.used} == used

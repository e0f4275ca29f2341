"""Whole small jobs by makers invented here: an upholsterer, a joiner at a gate, a mender of chairs."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Spent = Callable[..., Any]

STOOL = """
Black and white webbing      | 33 m     | 38.00 | upholstery
Hessian 10 oz                | 10 m     | 27.00 | upholstery
Coir fibre stuffing          | 2 kg     | 14.00 | upholstery
Skin wadding                 | 5 m      | 9.00  | upholstery
Calico                       | 10 m     | 22.00 | upholstery
Antique dome nails           | 100 pcs  | 7.50  | hardware
Cut tacks 13 mm              | 500 g    | 8.80  | hardware
Laid cord                    | 1 pcs    | 8.00  | upholstery
Double cone springs 6 in     | 12 pcs   | 16.00 | upholstery
Garnet polish                | 500 ml   | 15.50 | polish
Mahogany spirit stain        | 250 ml   | 9.80  | stain
Rottenstone                  | 250 g    | 6.50  | abrasive
Rust converter               | 250 ml   | 9.00  | other
Pearl glue                   | 1 kg     | 16.00 | glue
Restoring wax dark           | 400 g    | 14.00 | wax
Two part filler              | 250 ml   | 8.00  | filler
"""
STOOL_LOG = """
piano stool in. £15 boot fair. seat gone, thread stiff
stripped seat, 200+ tacks. coir saved
wound thread out, rust converter on it, 10 ml
1 leg loose. pearl glue 20 g, clamp overnight
stain on patch, mahog
garnet, 3 rubbers, 70 ml in all
flatted w rottenstone
new webbing, 4 strips, b+w, 2.5m
4 springs, lashed w laid cord
hessian 0.6 m, stitched
coir back in + 200 g new
wadding + calico, 0.7 m each
dome nails 42
"""
STOOL_TALK = """
one leg's loose so that gets hot glue the pearl stuff twenty grams in water
now polish garnet polish three rubbers about seventy mil all told
people ask me about foam no foam in this shop
forty two dome nails and only hit my thumb twice
i could have used filler on that dent but i like the dent
"""

GATE = """
Bottle green exterior gloss  | 750 ml   | 19.00 | paint
Grey exterior primer         | 750 ml   | 15.00 | paint
Wood hardener                | 500 ml   | 13.00 | other
Exterior two part filler     | 1 kg     | 17.00 | filler
Knotting                     | 125 ml   | 6.00  | other
Clear preservative           | 1000 ml  | 11.00 | other
Strap hinge 300 galv         | 1 pair   | 16.00 | hardware
Coach bolt M8 x 80           | 10 pcs   | 9.00  | hardware
Ring latch black             | 1 pcs    | 14.00 | hardware
Galv nails 65 mm             | 1 kg     | 6.00  | hardware
Treated batten 38 x 19       | 2.4 m    | 3.20  | timber
Decking screws 5 x 70        | 100 pcs  | 9.00  | hardware
White spirit                 | 750 ml   | 4.50  | solvent
Sandpaper 80                 | 10 sheet | 5.00  | abrasive
"""
GATE_LOG = """
gate off, 2 rotten boards, bottom rail soft
hinges rusted thru, binned
hardener in bottom rail abt 200 ml, 2 soaks
2 part filler 300 g, shaped w rasp
2 new boards from treated batten, 3.6 m
galv nails 24
sndd 80 all over
knots: knotting x2
preservative 2 coats, 400 ml
primer 150ml
gloss ct 1, 160 ml
gloss ct 2 140ml
new strap hinges, 6 coach bolts M8
ring latch on
screws 5x70 x8 into post
"""
GATE_TALK = "you can use oil on a gate and it will look nice until tuesday\na ring latch and it is done"

CHAIR = """
Denatured alcohol            | 1 qt     | 9.50  | solvent
Blonde shellac flakes        | 4 oz     | 16.00 | finish
Gel stain walnut             | 1 pt     | 15.50 | stain
Milk paint moss green        | 6 oz     | 13.00 | paint
Yellow wood glue             | 16 oz    | 8.00  | glue
Hide glue granules           | 1 lb     | 18.00 | glue
Steel wool 0000              | 16 pads  | 6.00  | abrasive
Sandpaper 150                | 10 sheet | 7.00  | abrasive
Sandpaper 220                | 10 sheet | 7.00  | abrasive
Jute webbing 3-1/2 in        | 25 yd    | 24.00 | upholstery
Brass casters                | 4 pcs    | 22.00 | hardware
Dowel pins 3/8 x 2           | 50 pcs   | 6.00  | hardware
"""
CHAIR_LOG = """
strippd seat: old webbing + tacks out
knockd apart, scraped old glue, 4 rails 8 dowels
hide glue 2 oz soaked overnite
glue up, 8x 3/8 x 2 dowel pins, 3 clamps
sanded 150 then 220
gel stain, 1 coat, wiped. abt 1/4 pt
2# cut shellac, 1 oz flake in 4 oz alcohol
rub out w/ 0000
webbing on, abt 4 yds
4 casters on
"""
CHAIR_TALK = """
somebody had used yellow glue on it and i think chewing gum
i thought about milk paint the moss green one but no
"""


@pytest.mark.parametrize(
    ("shelf", "log", "speech", "not_used"),
    [
        (STOOL, STOOL_LOG, STOOL_TALK, {"Cut tacks 13 mm", "Restoring wax dark", "Two part filler"}),
        (GATE, GATE_LOG, GATE_TALK, {"White spirit"}),
        (CHAIR, CHAIR_LOG, CHAIR_TALK, {"Milk paint moss green", "Yellow wood glue"}),
    ],
    ids=["stool", "gate", "chair"],
)
def test_used(spent: Spent, shelf: str, log: str, speech: str, not_used: set[str]) -> None:
    """What each job used is listed, and nothing else of the shelf."""
    stock = {row.partition("|")[0].strip() for row in shelf.strip().splitlines()}
    assert set(spent(shelf, log, speech).used) == stock - not_used


@pytest.mark.parametrize(
    ("shelf", "log", "speech", "amounts"),
    [
        (
            STOOL,
            STOOL_LOG,
            STOOL_TALK,
            {
                "Black and white webbing": "2.5 m",
                "Hessian 10 oz": "0.6 m",
                "Coir fibre stuffing": "0.2 kg",
                "Skin wadding": "0.7 m",
                "Calico": "0.7 m",
                "Antique dome nails": "42 pcs",
                "Double cone springs 6 in": "4 pcs",
                "Garnet polish": "70 ml",
                "Rust converter": "10 ml",
                "Pearl glue": "0.02 kg",
                "Rottenstone": None,
            },
        ),
        (
            GATE,
            GATE_LOG,
            GATE_TALK,
            {
                "Wood hardener": "200 ml",
                "Exterior two part filler": "0.3 kg",
                "Treated batten 38 x 19": "3.6 m",
                "Galv nails 65 mm": "24 pcs",
                "Clear preservative": "400 ml",
                "Bottle green exterior gloss": "300 ml",
                "Strap hinge 300 galv": "1 pair",
                "Coach bolt M8 x 80": "6 pcs",
                "Ring latch black": "1 pcs",
                "Decking screws 5 x 70": "8 pcs",
                "Sandpaper 80": None,
            },
        ),
        (
            CHAIR,
            CHAIR_LOG,
            CHAIR_TALK,
            {
                "Hide glue granules": "0.125 lb",
                "Dowel pins 3/8 x 2": "8 pcs",
                "Gel stain walnut": "0.25 pt",
                "Blonde shellac flakes": "1 oz",
                "Denatured alcohol": "0.125 qt",
                "Jute webbing 3-1/2 in": "4 yd",
                "Brass casters": "4 pcs",
                "Steel wool 0000": None,
            },
        ),
    ],
    ids=["stool", "gate", "chair"],
)
def test_how_much(spent: Spent, shelf: str, log: str, speech: str, amounts: dict[str, str | None]) -> None:
    """The amounts of each job are those of its log, in the shelf's units."""
    drafted = spent(shelf, log, speech, currency="USD")
    assert {name: drafted.amount(name) for name in amounts} == amounts

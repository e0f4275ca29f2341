"""Make a workshop of many episodes, to see how the archive bears it: an invented restorer of garden tools.

python scripts/make_archive.py DIR [EPISODES]

The same number always gives the same workshop. Each episode has about 30 entries and 250 cues, a shelf's
products in the log, a lapse or two, and a date a week after the one before; every twentieth has a correction.
"""

from __future__ import annotations

import sys
from datetime import date, timedelta
from pathlib import Path
from random import Random

PIECES = (
    "barrow", "dibber", "hay rake", "scythe", "potting bench", "seed drawer", "cloche frame", "trug",
    "ladder", "apple rack", "hand cart", "sieve", "water butt stand", "tool chest", "bee hive",
)  # fmt: skip
PARTS = (
    "handle",
    "left leg",
    "right leg",
    "top",
    "back board",
    "front rail",
    "drawer",
    "lid",
    "frame",
    "tine bar",
)
WOODS = ("ash", "oak", "elm", "beech", "larch", "pine", "chestnut")
SHELF = """name,pack,unit,price,kind,notes
Raw linseed oil,1000,ml,14.20,oil,
Meadow clear varnish,750,ml,31.50,varnish,recoat after 6 h
Pearl hide glue,500,g,16.00,glue,
White wood glue,750,ml,9.40,glue,
Abrasive sheet 120,10,sheet,7.90,abrasive,
Abrasive sheet 240,10,sheet,7.90,abrasive,
Wire wool 0000,200,g,6.10,abrasive,
Beeswax polish,400,ml,12.75,wax,
Brass screw 8 x 1-1/4,100,pcs,18.00,hardware,
Paint stripper gel,500,ml,15.30,stripper,
Methylated spirit,1000,ml,8.60,solvent,
Beech dowel 8 mm,1000,mm,3.20,timber,
"""
DEEDS = (
    ("sanded {part} 120 then 240", "I sanded the {part} with one twenty and then two forty"),
    ("raw linseed oil on {part}, {ml} ml", "the {part} drinks about {ml} mil of raw linseed oil"),
    ("glued {part}, hide glue {g} g, cramped", "hide glue into the joint of the {part} and a cramp across"),
    ("varnish coat {n} on {part}, {ml} ml", "that is coat {n} of the varnish on the {part}"),
    ("screwed {part}, {n} brass screws 8 x 1-1/4", "{n} brass screws go into the {part}"),
    ("drilled {part} for dowel 8 mm, {n} holes", "I drill {n} holes in the {part} for the dowels"),
    ("stripper on {part}, {ml} ml, 20 min", "the stripper stays on the {part} for twenty minutes"),
    ("waxed {part}, beeswax abt {g} ml, buffed", "a little beeswax on the {part} and buff it"),
    ("wire wool over {part}", "a rub with the wire wool over the {part}"),
    ("planed {part} square", "the plane takes the {part} down until it is square"),
    ("split in {part}, wedge of {wood}", "there is a split in the {part} so a wedge of {wood} goes in"),
    ("cut new {part} from {wood} offcut", "a new {part} out of an offcut of {wood}"),
    ("washed {part}, sugar soap", "the {part} gets a wash and dries by the stove"),
    ("dry fit {part}, good", "I put the {part} together dry and it sits"),
    ("old paint off {part} w heat gun", "the heat gun lifts the old paint off the {part}"),
    ("rags on the line outside", "the oily rags hang flat on the line outside"),
    ("tea, phone", "and while that dries I make tea"),
    ("bought {wood} board, 14.00", "the board cost fourteen at the yard"),
)
TALK = (
    "it looks worse than it is",
    "you can hear it when it is right",
    "somebody mended this before me and I would like to ask them why",
    "the light is better by the door",
    "I keep the old one to measure by",
    "that took longer than I thought",
    "and then it rained so the rest is next week",
    "look at the end grain here",
    "my neighbour found it behind the glasshouse",
    "it only has to be better than it was",
)


def main() -> int:
    """Write the workshop and say how large it is."""
    if len(sys.argv) not in (2, 3):
        print(__doc__)
        return 2
    count = int(sys.argv[2]) if len(sys.argv) == 3 else 1000  # noqa: PLR2004 - the two arguments
    make_workshop(Path(sys.argv[1]), count)
    print(f"{count} episodes in {sys.argv[1]}")
    return 0


def make_workshop(top: Path, episodes: int) -> None:
    """Write a workshop of so many episodes."""
    top.mkdir(parents=True, exist_ok=True)
    (top / "workshop.toml").write_text('name = "The glasshouse"\ncurrency = "EUR"\n', "utf-8")
    (top / "shelf.csv").write_text(SHELF, "utf-8")
    (top / "corrections").mkdir(exist_ok=True)
    for number in range(episodes):
        make_episode(top, number, Random(number))  # noqa: S311 - made up, no secret


def make_episode(top: Path, number: int, chance: Random) -> None:
    """Write one episode: settings, log, transcript, and now and then a correction of it."""
    piece = chance.choice(PIECES)
    slug = f"{number:04d}-{piece.replace(' ', '-')}"
    day = date(2006, 1, 6) + timedelta(days=7 * number)
    folder = top / "episodes" / slug
    folder.mkdir(parents=True, exist_ok=True)
    budget = chance.choice(("", f"budget = {chance.randint(30, 120)}\n"))
    (folder / "episode.toml").write_text(
        f'title = "The {piece}, number {number}"\ndate = {day}\n{budget}', "utf-8"
    )
    log, told = [f"{day - timedelta(days=3)} {piece}"], []
    minute = 8 * 60
    for _ in range(chance.randint(26, 34)):
        words = {
            "part": chance.choice(PARTS), "wood": chance.choice(WOODS), "n": chance.randint(1, 8),
            "ml": chance.randint(2, 20) * 5, "g": chance.randint(2, 8) * 5,
        }  # fmt: skip
        noted, said = chance.choice(DEEDS)
        minute += chance.randint(4, 22)
        log.append(f"{minute // 60 % 24:02}:{minute % 60:02} {noted.format(**words)}")
        told.append(said.format(**words))
    (folder / "shop-log.txt").write_text("\n".join(log) + "\n", "utf-8")
    (folder / "transcript.srt").write_text(transcript(told, chance), "utf-8")
    if number % 20 == 0:
        (top / "corrections" / f"{slug}.toml").write_text(correction(slug, day), "utf-8")


def transcript(told: list[str], chance: Random) -> str:
    """Tell most of the steps, with talk between, as captions of three seconds or so."""
    cues, at = [], 0
    for said in told:
        spoken = [said] if chance.random() < 0.8 else []  # noqa: PLR2004 - a fifth is off camera
        spoken += chance.choices(TALK, k=chance.randint(5, 9))
        for words in spoken:
            length = 700 + 330 * len(words.split())
            cues.append((at, at + length, words))
            at += length + chance.choice((0, 120, 900))
    return "\n".join(
        f"{n}\n{stamp(start)} --> {stamp(end)}\n{words}\n" for n, (start, end, words) in enumerate(cues, 1)
    )


def stamp(ms: int) -> str:
    """Give a time as SubRip writes it."""
    return f"{ms // 3_600_000:02}:{ms // 60_000 % 60:02}:{ms // 1000 % 60:02},{ms % 1000:03}"


def correction(slug: str, day: date) -> str:
    """Write a record of the ledger that speaks of the episode."""
    return (
        f'recorded = {day + timedelta(days=40)}\nsignal = "NOTICE"\ntopic = "wood-movement"\n'
        f'shown = "Screwed the top of {slug} tight"\nwrong = "A solid top splits when it cannot move"\n'
        'instead = "Slot the holes, and leave the outer screws loose"\n\n'
        f'[[place]]\nepisode = "{slug}"\nversion = 1\nspan = "0:40-0:55"\n\n'
        f'[[reach]]\nwhere = "description"\nepisode = "{slug}"\non = {day + timedelta(days=47)}\n'
    )


if __name__ == "__main__":
    sys.exit(main())

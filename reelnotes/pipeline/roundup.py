"""The roundup: from the ledger to a video that goes through corrections, and its marks in the ledger."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import get_args

from reelnotes.corrections.refusals import UnknownRecord
from reelnotes.corrections.roundup import (
    Choice,
    Footage,
    Item,
    RoundupClip,
    Said,
    chosen_records,
    clip_of,
    cut_since,
    misplaced,
    pace_of,
    running_order,
    with_clock,
)
from reelnotes.model import DEFERS, SIGNAL_ORDER, Correction, Topic
from reelnotes.pipeline.corrections import day_of, days_of
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.inserts import publishing_texts
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.pipeline.planning import plan_inserts
from reelnotes.pipeline.reading import EpisodeFacts, given_rate, read_episode, read_workshop
from reelnotes.pipeline.records import chosen
from reelnotes.pipeline.versions import spans_now
from reelnotes.problems import Problem, Refusal
from reelnotes.project import LEDGER, episodes_of, find_workshop, versions_of
from reelnotes.read.programme_rate import programme_rate
from reelnotes.records import frozen
from reelnotes.settings import WorkshopSettings
from reelnotes.store import read_text, remove_files, write_folder
from reelnotes.timing import beginning, format_time, moment, seconds
from reelnotes.write.chapters import chapters_text, chapters_vtt
from reelnotes.write.roundup_timeline import Shot, roundup_edl, roundup_otio, roundup_rate
from reelnotes.write.rundown import (
    Rundown,
    RundownItem,
    roundup_description,
    roundup_draft,
    rundown_html,
    rundown_json,
    script_text,
    title_of,
    topic_text,
)

ROUNDUPS = "roundups"
ORDER = "order.txt"
RECORD = "roundup.json"
#: What an episode gets; those of episodes that an earlier run chose are out of date.
_OF_EPISODE = ("description.txt", "pinned-note.txt")
_FILMS = (".mp4", ".mov", ".m4v")


def choice_of(
    *,
    since: str,
    until: str,
    topics: Sequence[str],
    signals: Sequence[str],
    only: Sequence[str],
    leave_out: Sequence[str],
    again: bool,
) -> Choice:
    """Read which corrections are wanted. Raises a `Refusal` for what is no day, topic or signal word."""
    begin, end = days_of(since, until)
    return Choice(
        since=begin,
        until=end,
        topics=tuple(chosen("--topic", topic, get_args(Topic)) for topic in topics),
        signals=tuple(chosen("--signal", signal, SIGNAL_ORDER) for signal in signals),
        only=tuple(only),
        leave_out=tuple(leave_out),
        again=again,
    )


def day_or_none(text: str) -> date | None:
    """Read a day such as 2026-03-28; None for an empty text. Raises `BadDay`."""
    return day_of(text) if text else None


@frozen
class RoundupMade:
    """A roundup with its files; `rundown` is None where no correction was chosen."""

    folder: Path
    rundown: Rundown | None
    paths: tuple[Path, ...] = ()
    problems: tuple[Problem, ...] = ()


def make_roundup(
    folder: Path,
    choice: Choice,
    *,
    order: Sequence[str] = (),
    out: Path | None = None,
    day: date | None = None,
) -> RoundupMade:
    """Make a roundup of the workshop that a folder is or lies in; nothing is written for an empty choice.

    `order` names records in the maker's order; it is kept in order.txt of the roundup's folder, and counts
    there until it is changed. `day` is the roundup's own day, else today.
    """
    workshop = find_workshop(folder)
    on = day or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    target = out or workshop / ROUNDUPS / on.isoformat()
    settings, problems = read_workshop(workshop)
    ledger = read_ledger(workshop, settings)
    problems += ledger.problems
    records = chosen_records(ledger.records, choice, workshop / LEDGER)
    if not records:
        return RoundupMade(target, None, (), tuple(problems))
    by_hand, more = _order(target, order, [one.id for one in ledger.records], workshop)
    planned, found = _planned(workshop, running_order(records, by_hand), settings)
    rundown = _rundown(planned, settings, on)
    files, told = _files(planned, rundown, settings)
    if order:
        files[ORDER] = (
            "# The running order, by hand: one id a line. What is not named comes after.\n"
            + "".join(f"{name}\n" for name in dict.fromkeys(order))
        )
    texts = (path for name in _OF_EPISODE for path in target.glob(f"episodes/*/{name}"))
    remove_files(path for path in texts if path.relative_to(target).as_posix() not in files)
    return RoundupMade(target, rundown, tuple(write_folder(target, files)), (*problems, *more, *found, *told))


def _order(
    target: Path, order: Sequence[str], known: Sequence[str], workshop: Path
) -> tuple[list[str], list[Problem]]:
    """Give the maker's order: what is asked for now, else what stands in the roundup's folder."""
    folded = {name.casefold() for name in known}
    if order:
        for name in order:
            if name.casefold() not in folded:
                raise UnknownRecord(name, known, workshop / LEDGER)
        return list(order), []
    path = target / ORDER
    if not path.is_file():
        return [], []
    source, problems = read_text(path)
    names = []
    for number, line in enumerate(source.lines, start=1):
        name = line.partition("#")[0].strip()
        if name and name.casefold() not in folded:
            message = "the ledger has no such record; the line was passed over"
            problems.append(Problem("roundup-order", message, source.name, number, line))
        elif name:
            names.append(name)
    return names, problems


# --- reading the episodes ------------------------------------------------------------------------------


@frozen
class Planned:
    """The corrections laid out, with what is known of the episodes that they are seen in."""

    items: tuple[Item, ...]
    facts: Mapping[str, EpisodeFacts]
    rates: Mapping[str, Fraction | None]
    words_per_minute: int
    own_pace: bool


def _planned(
    workshop: Path, records: Sequence[Correction], settings: WorkshopSettings
) -> tuple[Planned, list[Problem]]:
    """Read the episodes that the corrections are seen in, choose the clips, and write what is said."""
    folders = episodes_of(workshop)
    wanted = list(dict.fromkeys(place.episode for record in records for place in record.places))
    facts: dict[str, EpisodeFacts] = {}
    problems: list[Problem] = []
    for slug in wanted:
        if slug not in folders:
            naming = ", ".join(one.id for one in records if any(p.episode == slug for p in one.places))
            message = f"{slug} is not in this workshop, so no clip of it can be shown; named by {naming}"
            problems.append(Problem("ledger", message, LEDGER))
            continue
        try:
            facts[slug], _ = read_episode(folders[slug])
        except Refusal as refusal:
            problems.append(Problem("ledger", str(refusal)))
    usual = settings.captions.words_per_minute
    spoken = [(c.start_ms, c.end_ms, c.text) for one in facts.values() for c in one.cues]
    pace = pace_of(spoken, 0)
    mapped, more = spans_now({slug: folders[slug] for slug in facts})
    footage = {slug: Footage(_title(one), one.duration_ms, one.settings.date) for slug, one in facts.items()}
    versions = {slug: max(versions_of(folders[slug]), default=1) for slug in facts}
    handles_ms = int(settings.panels.handles_s * 1000)
    laid = []
    for record in records:
        clip, also = clip_of(record, mapped, footage, versions, handles_ms)
        problems += misplaced(record, mapped, footage, versions) + cut_since(record, mapped, footage)
        laid.append((record, clip, also, said_of(record, clip, also, footage)))
    items = with_clock(laid, pace or usual)
    rates = {slug: _rate(one) for slug, one in facts.items()}
    return Planned(items, facts, rates, pace or usual, bool(pace)), problems + more


def said_of(
    record: Correction,
    clip: RoundupClip | None,
    also: Sequence[tuple[str, object]],
    footage: Mapping[str, Footage],
) -> tuple[Said, ...]:
    """Write what is said to a correction, a paragraph each; what there is nothing to say of is left out."""
    where = ""
    if clip:
        where = f"In “{footage[clip.episode].title}”, at {format_time(clip.span.start_ms)}, you see this: "
    others = len({slug for slug, _ in also} - ({clip.episode} if clip else set()))
    more = f" It is also in {others} other video{'s' if others > 1 else ''}." if others else ""
    parts = [
        Said("happened", f"{where}{_sentence(record.shown, begins=not where)}{more} Do not copy it."),
        Said("wrong", _sentence(record.wrong)),
    ]
    parts += [Said("shown by", _sentence(answer)) for answer in record.worked_out]
    parts.append(Said("instead", f"Do this instead: {_sentence(record.instead, begins=False)}"))
    if record.signal != "NOTICE":
        parts.append(Said("careful", DEFERS))
    return tuple(parts)


def _sentence(text: str, *, begins: bool = True) -> str:
    line = " ".join(text.split()).rstrip(" ,;:")
    line = line if line.endswith((".", "!", "?", "…")) else f"{line}."
    return line[:1].upper() + line[1:] if begins else line


def _title(facts: EpisodeFacts) -> str:
    return facts.settings.title or facts.folder.slug.replace("-", " ").capitalize()


def _rate(facts: EpisodeFacts) -> Fraction | None:
    cuts = facts.folder.cuts
    source = read_text(cuts, facts.folder.shown(cuts))[0] if cuts else None
    return programme_rate(source, given_rate(facts.settings))[0]


# --- writing -------------------------------------------------------------------------------------------


def _rundown(planned: Planned, settings: WorkshopSettings, day: date) -> Rundown:
    items = tuple(
        RundownItem(
            id=item.record.id,
            signal=item.record.signal,
            topic=topic_text(item.record),
            title=title_of(item.record),
            episode=item.clip.episode if item.clip else "",
            episode_title=_title(planned.facts[item.clip.episode]) if item.clip else "",
            version=item.clip.version if item.clip else 1,
            clip=item.clip.span if item.clip else None,
            handles=item.clip.handles if item.clip else None,
            link=_link(planned.facts[item.clip.episode], item.clip) if item.clip else "",
            also=item.also,
            said=tuple((one.part, one.text) for one in item.said),
            starts_ms=item.starts_ms,
            clip_ms=item.clip_ms,
            talk_ms=item.talk_ms,
        )
        for item in planned.items
    )
    return Rundown(settings.name, day, planned.words_per_minute, planned.own_pace, items)


def _link(facts: EpisodeFacts, clip: RoundupClip) -> str:
    return moment(facts.settings.address, clip.span.start_ms)


def _files(
    planned: Planned, rundown: Rundown, settings: WorkshopSettings
) -> tuple[dict[str, str | bytes], list[Problem]]:
    """Write every form of the roundup, and the texts of every episode that it corrects."""
    shots = [_shot(planned, item) for item in planned.items]
    rate, problems = roundup_rate(shots)
    title = f"Corrections {rundown.day}"
    draft = roundup_draft(rundown)
    sources = {slug: (_title(one), beginning(one.settings.address)) for slug, one in planned.facts.items()}
    files: dict[str, str | bytes] = {
        "rundown.html": rundown_html(rundown),
        "script.txt": script_text(rundown),
        "clips.edl": roundup_edl(title, shots, rate),
        "chapters.txt": chapters_text(draft),
        "chapters.vtt": chapters_vtt(draft),
        "description.txt": roundup_description(rundown, sources, settings.host.description_max_chars),
        RECORD: rundown_json(rundown),
    }
    timeline, more = roundup_otio(title, shots, rate)
    if timeline:
        files["clips.otio"] = timeline
    problems += more + _chapter_problems(rundown, settings)
    for slug, facts in planned.facts.items():
        texts, more = publishing_texts(draft_episode(facts.folder.path)[0], plan_inserts(facts.folder.path))
        problems += more
        files |= {f"episodes/{slug}/{name}": text for name, text in texts.items() if name in _OF_EPISODE}
    return files, problems


def _chapter_problems(rundown: Rundown, settings: WorkshopSettings) -> list[Problem]:
    """Tell where the host would not take the chapters: too few, or one too short."""
    limits = settings.host
    if len(rundown.items) < limits.chapters_min:
        count = "1 chapter is" if len(rundown.items) == 1 else f"{len(rundown.items)} chapters are"
        message = f"{count} fewer than the {limits.chapters_min} that the host takes"
        return [Problem("chapter-place", message, "chapters.txt", severity="note")]
    short = [i for i in rundown.items if seconds(i.clip_ms + i.talk_ms) < limits.chapter_min_s]
    return [
        Problem(
            "chapter-place",
            f"{item.title!r} lasts less than the {limits.chapter_min_s} s that the host wants of a chapter",
            "chapters.txt",
            severity="note",
        )
        for item in short
    ]


def _shot(planned: Planned, item: Item) -> Shot:
    clip = item.clip
    facts = planned.facts.get(clip.episode) if clip else None
    return Shot(
        name=clip.episode if clip else "",
        video=_video(facts) if facts else "",
        span=clip.span if clip else None,
        handles=clip.handles if clip else None,
        rate=planned.rates.get(clip.episode) if clip else None,
        duration_ms=facts.duration_ms if facts else 0,
        talk_ms=item.talk_ms,
        said="\n".join(one.text for one in item.said),
        id=item.record.id,
    )


def _video(facts: EpisodeFacts) -> str:
    """Give the path of the finished video, if exactly one film lies in the folder of the version."""
    films = [path for path in sorted(facts.folder.home.iterdir()) if path.suffix.casefold() in _FILMS]
    return films[0].resolve().as_posix() if len(films) == 1 else ""

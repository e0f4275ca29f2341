"""The second path: a new version of an episode, with everything that carries a time taken along.

plan → retime → write → mark the ledger        a version
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import field, replace
from datetime import date
from fractions import Fraction
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.corrections.changes import (
    Change,
    Moved,
    changed_decisions,
    changes_of,
    decision_in,
    moved_of,
)
from reelnotes.corrections.chapters import retime_chapters
from reelnotes.corrections.cuts import retime_cuts
from reelnotes.corrections.recording import gone_members, history_members
from reelnotes.corrections.retime import TimeMap
from reelnotes.corrections.retiming import kept_chapters, retimed
from reelnotes.corrections.versions import (
    VersionUnreadable,
    map_between,
    pieces_of,
    plan_version,
    version_text,
)
from reelnotes.model import Chapter, Cue, Draft, HeldFrame, Place, Version
from reelnotes.picture.refusals import OtherVideo
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.film import check_new
from reelnotes.pipeline.inserts import drafted_chapters, unwritten_chapters
from reelnotes.pipeline.ledger import add_tables, read_ledger
from reelnotes.pipeline.reading import EpisodeFacts, given_rate
from reelnotes.pipeline.versions import read_versions
from reelnotes.problems import Problem, Refusal
from reelnotes.project import LEDGER, VERSION_FILE, VERSIONS, find_workshop, versions_of
from reelnotes.read.captions import form_of, read_transcript
from reelnotes.read.cue_words import plain_words
from reelnotes.read.programme_rate import programme_rate
from reelnotes.records import frozen
from reelnotes.review.moving import move_kept
from reelnotes.settings import HostLimits
from reelnotes.store import SourceText, alone_in, read_text, write_new_folder
from reelnotes.timing import Span, format_time
from reelnotes.write.cut_list import cut_list_edl
from reelnotes.write.moved_transcript import moved_transcript
from reelnotes.write.outputs import write_outputs

if TYPE_CHECKING:
    from reelnotes.picture.film import Done
    from reelnotes.picture.pauses import Shift
    from reelnotes.picture.probe import Facts
    from reelnotes.picture.whole_plan import NewChapter

_USUAL_RATE = Fraction(25)
Report = Callable[[float], None]
Tell = Callable[[str], None]


class NoVideoForPause(Refusal):
    """Pauses that are to be found without a video to hear them in."""

    def __init__(self) -> None:
        super().__init__("--to-pause finds the pauses in the sound of the video: give --video and --to too.")


class VideoUnclear(Refusal):
    """A video to cut without a name for the new one, or the other way round."""

    def __init__(self) -> None:
        super().__init__("to cut the video too, give both: --video IN.mp4 --to OUT.mp4.")


@frozen
class Planned:
    """A new version before anything is written: its map from the old one, and what becomes of everything."""

    facts: EpisodeFacts
    to: TimeMap
    rate: Fraction | None
    draft: Draft
    files: dict[str, str | bytes] = field(repr=False)
    changes: tuple[Change, ...] = ()
    moved: tuple[Moved, ...] = ()
    problems: tuple[Problem, ...] = ()
    shifts: tuple[Shift, ...] = ()


@frozen
class Recut:
    """A new version as it was written; `gone` are the ids of corrections with their places that it lacks."""

    planned: Planned
    version: Version
    folder: Path
    paths: tuple[Path, ...]
    gone: tuple[tuple[str, Place], ...] = ()
    problems: tuple[Problem, ...] = ()


def recut_episode(
    episode: Path,
    removed: Sequence[Span],
    held: Sequence[HeldFrame],
    *,
    video: Path | None = None,
    target: Path | None = None,
    to_pause: bool = False,
    with_chapters: bool = False,
    report: Report | None = None,
    tell: Tell | None = None,
    today: date | None = None,
) -> Recut:
    """Make a new version of an episode, of its video too if one is given. Raises a `Refusal`.

    `with_chapters` writes the new version's chapters into its video, if that has none of its own.
    With `to_pause` every joint is moved into the nearest pause in speech, if one is within a second.
    `episode` is its folder, whose newest version is meant, or `EPISODE/versions/N`. Times are of that version
    and so must the video be. Nothing of an earlier version is touched.
    """
    if (video is None) != (target is None):
        raise VideoUnclear
    if video is not None and target is not None:
        check_new(video, target)
    if to_pause and video is None:
        raise NoVideoForPause
    shifts: list[Shift] = []
    found: list[Problem] = []
    if to_pause and video is not None:
        removed, held, shifts, found = joints_in_pauses(video, removed, held)
    planned = plan_recut(episode, removed, held, video)
    planned = replace(planned, shifts=tuple(shifts), problems=(*planned.problems, *found))
    if video is not None and target is not None:
        chapters = drafted_chapters(planned.draft) if with_chapters else []
        done = cut_video(planned, video, target, report, tell, chapters)
        lacking = unwritten_chapters(done, target) if with_chapters else []
        planned = replace(planned, problems=(*planned.problems, *lacking))
    return write_recut(planned, today)


def joints_in_pauses(
    video: Path, removed: Sequence[Span], held: Sequence[HeldFrame]
) -> tuple[list[Span], list[HeldFrame], list[Shift], list[Problem]]:
    """Move the joints of a cut into pauses of the video's own sound; one without sound leaves them."""
    from reelnotes.picture.pauses import find_pauses, to_pauses
    from reelnotes.picture.sound import hear

    heard = hear(video)
    if heard is None:
        message = "the video has no sound to find pauses in; the joints stay where they were asked for"
        return list(removed), list(held), [], [Problem("pause", message, video.name, severity="note")]
    return *to_pauses(removed, held, find_pauses(heard), heard.film_ms), []


# --- planning ----------------------------------------------------------------------------------------


def plan_recut(
    episode: Path, removed: Sequence[Span], held: Sequence[HeldFrame], video: Path | None = None
) -> Planned:
    """Work out a new version and all its files but for its number. Raises a `Refusal`.

    A video tells its length, and its frame rate where nothing else does.
    """
    draft, facts = draft_episode(episode)
    cuts_path = facts.folder.cuts
    cuts = read_text(cuts_path, facts.folder.shown(cuts_path))[0] if cuts_path else None
    rate, _ = programme_rate(cuts, given_rate(facts.settings))
    seen = _probed(video, facts) if video else None
    rate = rate or (seen.rate if seen else None)
    to = plan_version(max(facts.duration_ms, seen.duration_ms if seen else 0), removed, held, rate)
    chapters, fates = retime_chapters(draft.chapters, facts.duration_ms, to, facts.workshop.host)
    by_hand = kept_chapters(facts.kept, to)
    changes = (*changes_of(draft, to, fates), *changed_decisions(facts.kept, to, by_hand))
    files, cues, problems = _moved_files(facts, to, rate)
    problems += _too_few(draft.chapters, chapters, facts.workshop.host)
    new = replace(
        retimed(draft, to)[0],
        chapters=chapters,
        problems=(*_still_true(draft, facts), *problems),
        inputs=_shared_inputs(draft, facts),
    )
    new = replace(new, cues=cues or new.cues)
    return Planned(facts, to, rate, new, files, changes, moved_of(draft, to), tuple(problems))


def _too_few(before: Sequence[Chapter], after: Sequence[Chapter], host: HostLimits) -> list[Problem]:
    """Report that the host shows no chapters any more, where it did before."""
    if len(after) >= host.chapters_min or len(before) < host.chapters_min:
        return []
    message = (
        f"{len(after)} chapters are left, and the host shows none below {host.chapters_min}; add some by hand"
    )
    return [Problem("chapter-limit", message)]


def _probed(video: Path, facts: EpisodeFacts) -> Facts:
    """Look at a video. Raises `OtherVideo` where it ends before what is said in it."""
    from reelnotes.picture.probe import probe

    seen = probe(video).facts
    last = max((cue.start_ms for cue in facts.cues), default=0)
    if seen.duration_ms < last:
        raise OtherVideo(video, seen.duration_ms, facts.folder.version, last)
    return seen


def _moved_files(
    facts: EpisodeFacts, to: TimeMap, rate: Fraction | None
) -> tuple[dict[str, str | bytes], tuple[Cue, ...], list[Problem]]:
    """Move the version's own files: transcript, decisions by hand, cut list. Gives the new cues too."""
    folder = facts.folder
    files: dict[str, str | bytes] = {}
    cues: tuple[Cue, ...] = ()
    problems: list[Problem] = []
    if folder.transcript:
        source, _ = read_text(folder.transcript, folder.shown(folder.transcript))
        form = form_of(source)
        text = moved_transcript(source, form, facts.cues, lambda cue: retimed(cue, to), plain_words)
        name = f"transcript.{form}"
        files[name] = text.replace("\n", source.newline)
        cues, problems = read_transcript(SourceText(name, text))
        problems += _cut_cues(facts, to, name)
    if folder.kept:
        source, _ = read_text(folder.kept, folder.shown(folder.kept))
        by_hand = kept_chapters(facts.kept, to)
        text = move_kept(source.text, lambda decision: decision_in(decision, to, by_hand))
        files["kept.toml"] = text.replace("\n", source.newline)
    if facts.cuts:
        events = retime_cuts(facts.cuts, to, rate)
        files["cuts.edl"] = cut_list_edl(folder.slug.upper(), events, rate or _USUAL_RATE)
    return files, cues, problems


def _cut_cues(facts: EpisodeFacts, to: TimeMap, name: str) -> list[Problem]:
    """Ask for a look at the captions that a cut went through: which words went is worked out, not heard."""
    cut = [left[0] for cue in facts.cues if (left := retimed(cue, to)) and left[0].text != cue.text]
    return [
        Problem(
            "cue-cut",
            "a cut goes through this caption; listen, and mend its words by hand",
            name,
            excerpt=f"{format_time(cue.start_ms)} {cue.text}",
            severity="note",
        )
        for cue in cut
    ]


def _still_true(draft: Draft, facts: EpisodeFacts) -> tuple[Problem, ...]:
    """Give the problems that do not speak of a file which the new version has anew."""
    folder = facts.folder
    anew = {folder.shown(path) for path in (folder.transcript, folder.cuts, folder.kept) if path}
    return tuple(problem for problem in draft.problems if problem.file not in anew)


def _shared_inputs(draft: Draft, facts: EpisodeFacts) -> tuple[tuple[str, str], ...]:
    """Give the fingerprints of the files that all versions share."""
    folder = facts.folder
    own = {path.name for path in (folder.transcript, folder.cuts, folder.kept) if path} | {VERSION_FILE}
    return tuple(pair for pair in draft.inputs if pair[0] not in own)


def _sha256(content: str | bytes) -> str:
    return sha256(content.encode() if isinstance(content, str) else content).hexdigest()


# --- writing -----------------------------------------------------------------------------------------


def cut_video(  # noqa: PLR0917 - what is cut, and who is told
    planned: Planned,
    source: Path,
    target: Path,
    report: Report | None = None,
    tell: Tell | None = None,
    chapters: Sequence[NewChapter] = (),
) -> Done:
    """Cut the video of the old version into that of the new one. Raises a `Refusal`.

    `report` is told the share that is done, `tell` why the whole film must be coded anew, before that begins.
    """
    from reelnotes.picture.splice import take_out

    pieces = pieces_of(planned.to)
    held = [piece for piece in pieces if isinstance(piece, HeldFrame)]
    return take_out(source, removed_of(planned.to), held, target, report, tell=tell, chapters=chapters)


def removed_of(to: TimeMap) -> list[Span]:
    """List the spans that a map cuts, in the time of the earlier version."""
    removed: list[Span] = []
    at = 0
    for stretch in to.stretches:
        if stretch.kind == "cut":
            joins = bool(removed) and removed[-1].end_ms == at
            removed.append(Span(removed.pop().start_ms if joins else at, at + stretch.length))
        at += stretch.length * (stretch.kind != "held")
    return removed


def write_recut(planned: Planned, today: date | None = None) -> Recut:
    """Write a planned version under the next number, whole or not at all, then mark it in the ledger."""
    folder = planned.facts.folder
    day = today or date.today()  # noqa: DTZ011 - the calendar of the workshop is meant
    top = folder.path / VERSIONS
    with alone_in(top):
        number = max(versions_of(folder.path), default=1) + 1
        while (top / str(number)).exists():
            number += 1
        length = planned.to.length_before
        version = Version(number, folder.version, length, pieces_of(planned.to), day)
        files = {VERSION_FILE: version_text(version), **planned.files}
        inputs = tuple((name, _sha256(content)) for name, content in files.items())
        draft = replace(planned.draft, inputs=(*planned.draft.inputs, *inputs))
        outputs, problems = write_outputs(draft, planned.facts.workshop.host)
        files |= {f"out/{name}": text for name, text in outputs.items()}
        paths = write_new_folder(top / str(number), files)
    gone, more = mark_gone(folder.path, folder.slug, day)
    found = (*planned.problems, *(p for p in problems if p.code == "chapter-place"), *more)
    return Recut(planned, version, top / str(number), tuple(paths), gone, found)


def mark_gone(
    episode: Path, slug: str, day: date
) -> tuple[tuple[tuple[str, Place], ...], tuple[Problem, ...]]:
    """Mark in the ledger which places are not in which later version any more.

    Looks at all versions, so that what an earlier run could not mark is made good. Gives the ids of the
    records with the places that the newest version lacks.
    """
    workshop = find_workshop(episode)
    if not any((workshop / LEDGER).glob("*.toml")):
        return (), ()
    versions, _ = read_versions(episode)
    newest = max(versions, default=1)
    gone: list[tuple[str, Place]] = []
    with alone_in(workshop / LEDGER):
        ledger = read_ledger(workshop)
        problems = list(ledger.problems)
        for record in ledger.records:
            tables: list[tuple[str, dict[str, object]]] = []
            for place in record.places:
                out_of = [n for n in _lacking(place, versions) if place.episode == slug]
                tables += [("gone", gone_members(place, n)) for n in out_of if n not in place.gone_in]
                gone += [(record.id, place)] * (newest in out_of)
            numbers = sorted({str(members["out_of"]) for _, members in tables})
            history = f"{day} taken out of {slug}, version {', '.join(numbers)}"
            tables += [("history", history_members(history))] * bool(tables)
            try:
                add_tables(ledger.path(record.id), tables)
            except Refusal as refusal:
                problems.append(Problem("ledger", f"was not marked: {refusal}", f"{LEDGER}/{record.id}.toml"))
    return tuple(gone), tuple(problems)


def _lacking(place: Place, versions: dict[int, Version]) -> list[int]:
    """List the later versions that hold nothing of a place."""
    lacking = []
    for number in versions:
        if number <= place.version:
            continue
        try:
            if map_between(versions, place.version, number).over(place.span) is None:
                lacking.append(number)
        except VersionUnreadable:
            continue
    return lacking

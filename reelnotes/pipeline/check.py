"""Before publishing: the draft as it would be now, the ledger, and the files as they are."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelnotes.corrections.reach import owed
from reelnotes.model import Correction, Draft, Place
from reelnotes.pipeline.episode import draft_episode
from reelnotes.pipeline.film import check_length
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.pipeline.reading import EpisodeFacts
from reelnotes.pipeline.versions import spans_now
from reelnotes.problems import FileUnreadable
from reelnotes.project import find_workshop
from reelnotes.records import frozen
from reelnotes.review.check import Since, Standing, check_draft
from reelnotes.store import read_bytes
from reelnotes.timing import Span
from reelnotes.write.description import description

if TYPE_CHECKING:
    from reelnotes.picture.sound import Heard

_CAPTION_SUFFIXES = (".srt", ".vtt", ".ttml")


@frozen
class Checked:
    """What stands before publishing, in the order in which it is worked through."""

    draft: Draft
    standing: tuple[Standing, ...]
    sound: Heard | None = None


def check_episode(
    episode: Path, video: Path | None = None, report: Callable[[float], None] | None = None
) -> Checked:
    """List everything that would embarrass the maker on publishing day, in the finished film too if given.

    `report` is told how much of the film's sound has been heard. Raises a `Refusal`.
    """
    draft, facts = draft_episode(episode)
    heard, faults = _listen(video, facts, report) if video else (None, [])
    _, problems = description(draft, facts.workshop.host.description_max_chars)
    draft = replace(draft, problems=(*draft.problems, *problems))
    since = _since(draft, facts)
    standing = check_draft(draft, facts.workshop.host, facts.workshop.captions, since, faults)
    return Checked(draft, standing, heard)


def _listen(
    video: Path, facts: EpisodeFacts, report: Callable[[float], None] | None
) -> tuple[Heard | None, list[Standing]]:
    """Measure the sound of the finished film and check it against the cues. Raises a `Refusal`."""
    from reelnotes.picture.sound import hear
    from reelnotes.picture.sound_check import check_sound

    heard = hear(video, report)
    if heard is not None:
        check_length(video, heard.film_ms, facts)
    faults = check_sound(heard, facts.cues, facts.workshop.sound)
    return heard, [Standing("sound", fault.message, fault.at_ms) for fault in faults]


def _since(draft: Draft, facts: EpisodeFacts) -> Since:
    folder = facts.folder
    ledger = read_ledger(find_workshop(folder.path), facts.workshop)
    mapped, _ = spans_now({folder.slug: folder.path}, {folder.slug: folder.version})
    owing = [one for one in owed(ledger.records, mapped) if one.episode == folder.slug]
    drafted, changed = _changed(draft, folder.out / "draft.json")
    suffix = folder.transcript.suffix.casefold() if folder.transcript else ""
    return Since(
        decided=_decided(draft, ledger.records, folder.slug, mapped),
        owed=[(one.record, one.spans) for one in owing],
        changed=changed,
        drafted=drafted,
        kept_promises=facts.settings.promises_kept,
        captioned=suffix in _CAPTION_SUFFIXES,
        damaged=[f"{p.file}: {p.message}" for p in ledger.problems if p.severity == "error"],
        shaken=[str(p) for p in ledger.problems if p.code in {"evidence", "evidence-changed"}],
    )


def _decided(
    draft: Draft, records: Sequence[Correction], slug: str, mapped: Callable[[Place], Sequence[Span]]
) -> frozenset[str]:
    """Give the ids of flags that a record of this episode has taken up: by name, or by topic and place."""
    decided = {record.flag for record in records if record.flag}
    for record in records:
        spans = [span for place in record.places if place.episode == slug for span in mapped(place)]
        for flag in draft.flags:
            if flag.topic != record.topic or flag.start_ms is None or flag.end_ms is None:
                continue
            if any(span.start_ms < flag.end_ms and flag.start_ms < span.end_ms for span in spans):
                decided.add(flag.id)
    return frozenset(decided)


def _changed(draft: Draft, written: Path) -> tuple[bool, list[str]]:
    """Compare the files that the written draft was made from with those there now, by their fingerprints."""
    try:
        record: Any = json.loads(read_bytes(written))
    except (FileUnreadable, ValueError):
        return False, []
    was = record.get("inputs") if isinstance(record, dict) else None
    if not isinstance(was, dict):
        return False, []
    now = dict(draft.inputs)
    changed = [f"{name} was changed" for name in now if name in was and was[name] != now[name]]
    changed += [f"{name} is new" for name in now if name not in was]
    changed += [f"{name} is gone" for name in was if name not in now]
    return True, changed

"""The archive on disk, kept up to date from the plain files.

The plain files are what counts: the archive may be deleted at any time, and the next question makes it again.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing, contextmanager, suppress
from decimal import Decimal
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from reelnotes.archive.facts import ArchivedEpisode, episode_of
from reelnotes.archive.index import LAYOUT, TABLES, Archive, Seen, Stock, stock_of
from reelnotes.pipeline.episode import draft_use
from reelnotes.pipeline.ledger import read_ledger
from reelnotes.pipeline.reading import read_episode, read_workshop
from reelnotes.problems import Problem, Refusal
from reelnotes.project import LEDGER, EpisodeFolder, episodes_of, find_episode, find_workshop, glance
from reelnotes.records import frozen
from reelnotes.settings import WorkshopSettings
from reelnotes.store import fingerprint, open_database, read_bytes, read_text, set_aside
from reelnotes.words.lexicon import load_lexicon

if TYPE_CHECKING:
    import sqlite3

T = TypeVar("T")
ARCHIVE = "archive.sqlite"
_MARK = 0x7265656C  # "reel"
#: SQLite's names for what another process, a full disk or a refusing one cause; the file itself is sound.
_PASSING = {"BUSY", "LOCKED", "FULL", "IOERR", "READONLY", "CANTOPEN", "PERM", "NOMEM", "INTERRUPT"}
_AT_ONCE = 50  # episodes: so much of the work is kept if it is stopped
_SHARED = {"shelf.csv", "workshop.toml"}


@frozen
class Shared:
    """What all episodes of a workshop share, as far as the archive depends on it."""

    stock: Stock
    words: str
    state: str
    shelf: str


def ask_archive(
    folder: Path, question: Callable[[Archive], T], progress: Callable[[float], None] | None = None
) -> tuple[T, list[Problem]]:
    """Ask the archive of the workshop that a folder is or lies in, brought up to date, and close it.

    One that turns out to be damaged while it is asked is set aside and made anew. `progress` is told the
    share that is done. Raises what `open_archive` raises.
    """
    import sqlite3

    workshop = find_workshop(folder)
    told: list[Problem] = []
    for attempt in (1, 2):
        archive, problems = open_archive(workshop, progress)
        try:
            with closing(archive):
                return question(archive), told + problems
        except sqlite3.DatabaseError as error:
            if attempt > 1 or _is_passing(error):
                raise ArchiveBusy(workshop, str(error)) from None
            set_aside(workshop / ARCHIVE)
            told = _told("aside")
    raise AssertionError


def open_archive(
    folder: Path, progress: Callable[[float], None] | None = None
) -> tuple[Archive, list[Problem]]:
    """Open the archive of the workshop that a folder is or lies in, brought up to date; the caller closes it.

    `progress` is told the share that is done. Raises a `Refusal` where there is no such workshop, or another
    reelnotes is writing the archive for long.
    """
    import sqlite3

    workshop = find_workshop(folder)
    settings, problems = read_workshop(workshop)
    shared = _shared(workshop, settings)
    for attempt in (1, 2):
        try:
            archive, reason = _opened(workshop, settings)
            with _closed_on_error(archive):
                return archive, [*problems, *_told(reason), *_refresh(archive, workshop, shared, progress)]
        except sqlite3.DatabaseError as error:
            if attempt > 1 or _is_passing(error):
                raise ArchiveBusy(workshop, str(error)) from None
            set_aside(workshop / ARCHIVE)
            problems += _told("aside")
    raise AssertionError


def _opened(workshop: Path, settings: WorkshopSettings) -> tuple[Archive, str]:
    path = workshop / ARCHIVE
    folder = path.is_dir()
    if folder:
        set_aside(path)
    connection, reason = open_database(path, _MARK, LAYOUT, TABLES)
    return Archive(connection, load_lexicon(settings.words)), reason or ("aside" if folder else "")


@contextmanager
def _closed_on_error(archive: Archive) -> Iterator[None]:
    """Let go of the file where bringing it up to date fails: a file in use cannot be set aside everywhere."""
    try:
        yield
    except BaseException:
        archive.close()
        raise


def _is_passing(error: sqlite3.DatabaseError) -> bool:
    """Tell whether the file is sound and only cannot be read or written just now."""
    return getattr(error, "sqlite_errorname", "SQLITE_ERROR").split("_")[1] in _PASSING


class ArchiveBusy(Refusal):
    """An archive that cannot be written now."""

    def __init__(self, workshop: Path, reason: str) -> None:
        self.workshop, self.reason = workshop, reason
        super().__init__(
            f"{workshop / ARCHIVE}: cannot be brought up to date now ({reason}); another reelnotes may be at "
            "work on it. Try again in a moment; the file may also be deleted, nothing is lost with it."
        )


def _told(reason: str) -> list[Problem]:
    """Say in what way the archive opened is another one than the one on disk."""
    messages = {
        "memory": "the workshop's folder cannot be written to, so it was made in memory for this once",
        "aside": f"could not be read as an archive; it was set aside as {ARCHIVE}.aside and made anew",
    }
    return [Problem("archive", messages[reason], ARCHIVE, severity="note")] if reason else []


# --- keeping it up to date -----------------------------------------------------------------------------


def _shared(workshop: Path, settings: WorkshopSettings) -> Shared:
    """Read what the episodes share: the shelf at the top, the workshop's words, rules and settings."""
    shelf_path = workshop / "shelf.csv"
    items: tuple[Any, ...] = ()
    if shelf_path.is_file():
        from reelnotes.read.shelf import read_shelf

        items, _ = read_shelf(read_text(shelf_path)[0])
    files = [shelf_path, workshop / "workshop.toml", *sorted((workshop / "rules").glob("*.toml"))]
    state = [f"{path.name} {fingerprint(path)}" for path in files if path.is_file()]
    words = f"{LAYOUT} {_lexicon_state()} {settings.words}"
    return Shared(
        stock_of(items), words, _digest(*state), fingerprint(shelf_path) if shelf_path.is_file() else ""
    )


def _lexicon_state() -> str:
    """Give the state of the trade's own words: another lexicon means other heads in the index."""
    from reelnotes.words import lexicon

    return fingerprint(Path(lexicon.__file__).with_name("lexicon.toml"))


def _refresh(
    archive: Archive, workshop: Path, shared: Shared, progress: Callable[[float], None] | None
) -> list[Problem]:
    """Bring the archive up to date with the folder; what did not change is not opened."""
    _hold_shared(archive, shared)
    folders = episodes_of(workshop)
    glances = {slug: _glance(folder) for slug, folder in folders.items()}
    known = archive.seen()
    if gone := known.keys() - folders.keys():
        with archive.changing():
            for slug in gone:
                archive.take_out(slug)
    due = [slug for slug in folders if not _as_seen(known.get(slug), glances[slug], shared)]
    for begin in range(0, len(due), _AT_ONCE):
        with archive.changing():
            known = archive.seen()  # another process may have been at the same work
            for number, slug in enumerate(due[begin : begin + _AT_ONCE], begin):
                if not _as_seen(known.get(slug), glances[slug], shared):
                    _take_in(archive, folders[slug], slug, glances[slug], known.get(slug), shared)
                if progress:
                    progress((number + 1) / len(due))
    problems = [
        Problem("archive-episode", seen.refused, f"episodes/{slug}", severity="note")
        for slug, seen in sorted(archive.seen().items())
        if seen.refused
    ]
    _take_in_ledger(archive, workshop)
    return problems


def _hold_shared(archive: Archive, shared: Shared) -> None:
    """Start anew where words mean something else now; find the products anew where the shelf is another."""

    def differs(name: str, value: str) -> bool:
        return archive.meta(name) != value

    if differs("words", shared.words):
        with archive.changing():
            if differs("words", shared.words):  # nobody else did it meanwhile
                archive.clear()
                archive.set_meta("words", shared.words)
                archive.set_meta("shelf", shared.shelf)
    if differs("shelf", shared.shelf):
        with archive.changing():
            archive.name_products(shared.stock)
            archive.set_meta("shelf", shared.shelf)


def _glance(folder: Path) -> str:
    """Look at a folder; one that nobody may look into is taken as it is told by `_take_in`."""
    try:
        return glance(folder)
    except Refusal as refusal:
        return str(refusal)


def _as_seen(seen: Seen | None, now: str, shared: Shared) -> bool:
    return seen is not None and seen.glance == now and seen.shared in {"", shared.state}


def _take_in(  # noqa: PLR0917 - what is known of one folder
    archive: Archive, folder: Path, slug: str, now: str, known: Seen | None, shared: Shared
) -> None:
    """Take in an episode, unless its files hold what they held; why one is unreadable is noted."""
    try:
        files, _ = find_episode(folder)
        record = _draft_on_disk(files)
        state = "" if record else shared.state
        made_of = _digest(*_own_files(files), json.dumps(record and record["inputs"]), state, _settled(files))
        if known and known.made_of == made_of:
            archive.note(slug, Seen(now, made_of, state))
            return
        archive.put(_episode(files, record), shared.stock)
    except Refusal as refusal:
        archive.take_out(slug)
        reason = str(refusal).removeprefix(f"{folder}: ").rstrip(".")
        archive.note(slug, Seen(now, "", refused=f"{reason}; it is not in the archive"))
        return
    archive.note(slug, Seen(now, made_of, state))


def _own_files(files: EpisodeFolder) -> list[str]:
    return [f"{path.name} {fingerprint(path)}" for path in files.inputs if path.name not in _SHARED]


def _settled(files: EpisodeFolder) -> str:
    """Give the state of the draft on disk."""
    path = files.out / "draft.json"
    return fingerprint(path) if path.is_file() else ""


def _draft_on_disk(files: EpisodeFolder) -> dict[str, Any] | None:
    """Give the draft on disk if the episode's own files are those it was made from.

    Shelf and settings may have moved on since: what it cost then is what it cost.
    """
    path = files.out / "draft.json"
    if not path.is_file():
        return None
    with suppress(ValueError, KeyError, TypeError, AttributeError):
        record: dict[str, Any] = json.loads(read_bytes(path), parse_float=Decimal)
        made_from = {name: state for name, state in record["inputs"].items() if name not in _SHARED}
        own = {p.name: fingerprint(p) for p in files.inputs if p.name not in _SHARED}
        if record["schema"] == "reelnotes/draft-1" and made_from == own and record["episode"] == files.slug:
            return record
    return None


def _episode(files: EpisodeFolder, record: Mapping[str, Any] | None) -> ArchivedEpisode:
    """Give what the archive holds of an episode; one without a draft of today is drafted in memory."""
    if record is None:
        from reelnotes.write.draft_json import draft_record

        draft, facts = draft_use(files.path)
        record = draft_record(draft)
    else:
        facts, _ = read_episode(files.path)
    return episode_of(
        record, facts.entries, facts.cues, version=files.version, address=facts.settings.address
    )


def _take_in_ledger(archive: Archive, workshop: Path) -> None:
    """Take in the words of the ledger where a record was added or changed.

    Its problems are told by those who read it for its places.
    """
    top = workshop / LEDGER
    now = glance(top) if top.is_dir() else ""
    if archive.meta("ledger") == now:
        return
    ledger = read_ledger(workshop)
    words = {one.id: f"{one.shown} {one.wrong} {one.instead}" for one in ledger.records}
    with archive.changing():
        archive.put_corrections(words)
        archive.set_meta("ledger", now)


def _digest(*parts: str) -> str:
    return sha256("\n".join(parts).encode("utf-8", "surrogateescape")).hexdigest()

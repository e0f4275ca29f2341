"""The ledger on disk: every record of a workshop, and adding to one without touching what is there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reelnotes.corrections.ledger import read_record
from reelnotes.corrections.recording import is_id, with_tables
from reelnotes.corrections.refusals import RecordDamaged, UnknownRecord
from reelnotes.model import Correction, Flag, Step
from reelnotes.pipeline.evidence import CITES, with_evidence
from reelnotes.problems import FileChanged, FileUnreadable, Problem
from reelnotes.project import LEDGER
from reelnotes.records import frozen
from reelnotes.store import decode, read_bytes, write_file

if TYPE_CHECKING:
    from reelnotes.settings import WorkshopSettings
    from reelnotes.words.lexicon import Lexicon

_TRIES = 5


@frozen
class Ledger:
    """All records of a workshop that could be read, in order of their ids, and what could not."""

    workshop: Path
    records: tuple[Correction, ...] = ()
    problems: tuple[Problem, ...] = ()

    def path(self, record: str) -> Path:
        """Give the file of a record."""
        return self.workshop / LEDGER / f"{record}.toml"

    def get(self, record: str) -> Correction:
        """Give a record by its id. Raises `UnknownRecord`, `RecordDamaged`."""
        named = [one for one in self.records if one.id.casefold() == record.casefold()]
        if named:
            return next((one for one in named if one.id == record), named[0])
        if is_id(record) and self.path(record).is_file():
            raise RecordDamaged(self.path(record), "cannot be read")
        raise UnknownRecord(record, [one.id for one in self.records], self.workshop / LEDGER)


def read_ledger(workshop: Path, settings: WorkshopSettings | None = None) -> Ledger:
    """Read every record of a workshop; one that is damaged is a problem, and the others count.

    What a record cites of the bench is worked out afresh; what comes out otherwise than recorded is a problem
    too. `settings` are those of the workshop where they are at hand, else they are read if need be. Raises
    `FileUnreadable` for a ledger that cannot be looked into.
    """
    records: list[Correction] = []
    problems: list[Problem] = []
    for path in _files_in(workshop / LEDGER):
        name = f"{LEDGER}/{path.name}"
        try:
            source, more = decode(read_bytes(path), name, path)
        except FileUnreadable as refusal:
            message = f"this record does not count: it cannot be read ({refusal.reason})"
            problems.append(Problem("ledger", message, name, severity="error"))
            continue
        problems += more
        record, more = read_record(source, path.stem)
        problems += more
        if record and any(line.startswith(CITES) for line in record.evidence):
            record, more = with_evidence(record, settings, workshop, source)
            problems += more
        records += [record] if record else []
    return Ledger(workshop, tuple(records), tuple(problems))


def _files_in(folder: Path) -> list[Path]:
    """Give the files of the ledger; a folder that cannot be looked into is no empty one: `FileUnreadable`."""
    try:
        return sorted(p for p in folder.iterdir() if p.suffix == ".toml" and not p.name.startswith("."))
    except FileNotFoundError:
        return []
    except OSError as error:
        raise FileUnreadable(folder, (error.strerror or "the system refused").lower()) from None


def add_tables(path: Path, tables: Sequence[tuple[str, Mapping[str, object]]]) -> None:
    """Add tables to the file of a record, with every byte that is there left as it is.

    An editor that saves meanwhile is not overwritten: its text is read anew. Raises `RecordDamaged`.
    """
    for attempt in range(_TRIES if tables else 0):
        raw = read_bytes(path)
        source, problems = decode(raw, path.name, path)
        if problems:
            raise RecordDamaged(path, "is not UTF-8, as TOML has to be")
        try:
            text = with_tables(source.text, tables)
        except ValueError as error:
            raise RecordDamaged(path, str(error).rstrip(".")) from None
        begun = text.startswith(source.text)
        added = text.removeprefix(source.text) if begun else text
        data = (raw if begun else b"") + added.replace("\n", source.newline).encode()
        try:
            return write_file(path, data, expect_sha256=source.sha256)
        except FileChanged:
            if attempt == _TRIES - 1:
                raise
    return None


# --- what a draft is told of it ----------------------------------------------------------------------


def repeats_in(
    workshop: Path, slug: str, steps: Sequence[Step], lexicon: Lexicon, settings: WorkshopSettings
) -> tuple[tuple[Flag, ...], list[Problem]]:
    """Flag the steps of an episode that repeat an earlier correction, and report damaged records."""
    from reelnotes.corrections.lessons import repeated, repeated_without_topic

    ledger = read_ledger(workshop, settings)
    problems = [
        Problem(
            "correction-repeated",
            f"step {step.entry + 1} comes near the correction {record.id}: {record.shown}; "
            "give that record a topic, and it will be flagged",
            f"{LEDGER}/{record.id}.toml",
        )
        for record, step in repeated_without_topic(ledger.records, slug, steps, lexicon)
    ]
    return repeated(ledger.records, slug, steps, lexicon), [*ledger.problems, *problems]

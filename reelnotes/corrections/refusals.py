"""What is refused on the way into the ledger and out of it, each in one sentence with the way on."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from difflib import get_close_matches
from pathlib import Path

from reelnotes.problems import Refusal
from reelnotes.timing import Span, format_time, typed_span


class IdTaken(Refusal):
    """An id that a record of the ledger has already."""

    def __init__(self, record: str, path: Path) -> None:
        self.record, self.path = record, path
        super().__init__(
            f"{path}: there is a record {record!r} already and it was left as it is; "
            f"give another --id, or add this place to it with --again {record}."
        )


class WordsTaken(Refusal):
    """Words that a record of the ledger holds already."""

    def __init__(self, record: str, path: Path) -> None:
        self.record, self.path = record, path
        super().__init__(
            f"{path}: holds the very same words; add this place to it with --again {record}, "
            "or give an --id to record it apart."
        )


class BadId(Refusal):
    """An id that could not be the name of a file everywhere."""

    def __init__(self, record: str) -> None:
        self.record = record
        super().__init__(
            f"{record!r} is no id; write it with letters, digits and hyphens, 64 at most, such as glued-top."
        )


class UnknownRecord(Refusal):
    """An id that no record of the ledger has."""

    def __init__(self, record: str, known: Collection[str], folder: Path) -> None:
        self.record, self.known, self.folder = record, tuple(known), folder
        near = get_close_matches(record, self.known, n=1)
        hint = (
            f"did you mean {near[0]}?" if near else f"known are {', '.join(sorted(known)[:8]) or 'none yet'}."
        )
        super().__init__(f"{folder}: holds no record {record!r}; {hint}")


class RecordDamaged(Refusal):
    """A record that cannot be added to, because it cannot be read."""

    def __init__(self, path: Path, reason: str) -> None:
        self.path, self.reason = path, reason
        super().__init__(f"{path}: {reason}; nothing was added, mend the file first.")


class WordsMissing(Refusal):
    """A record without words that it needs."""

    def __init__(self, option: str, wanted: str) -> None:
        self.option, self.wanted = option, wanted
        super().__init__(f"{option} is missing: say {wanted}.")


class BadChoice(Refusal):
    """A word on the command line that is none of those that count."""

    def __init__(self, option: str, given: str, known: Collection[str]) -> None:
        self.option, self.given, self.known = option, given, tuple(known)
        near = get_close_matches(given.casefold(), [word.casefold() for word in known], n=1)
        hint = f"; did you mean {near[0]}?" if near else ""
        super().__init__(f"{option} {given}: there is {', '.join(known)}{hint or '.'}")


class SpanOutside(Refusal):
    """A span that the programme does not have."""

    def __init__(self, span: Span, duration_ms: int) -> None:
        self.span, self.duration_ms = span, duration_ms
        super().__init__(
            f"{typed_span(span)} lies outside the programme, which ends at {format_time(duration_ms)} as far "
            'as transcript and cut list show; if it is longer, set length = "15:20" in episode.toml.'
        )


class UnknownFlag(Refusal):
    """A flag's id that the episode's draft does not have."""

    def __init__(self, flag: str, episode: str) -> None:
        self.flag, self.episode = flag, episode
        super().__init__(f"{episode} has no flag {flag!r}; out/flags.md gives the id of each.")


class UnplacedFlag(Refusal):
    """A flag that stands in the log alone, so that no place in the picture is known for it."""

    def __init__(self, flag: str) -> None:
        self.flag = flag
        super().__init__(
            f"the flag {flag!r} stands in the log alone; say where it is seen with --span 9:12-9:41."
        )


class NothingGiven(Refusal):
    """A product that owes no disclosure in an episode."""

    def __init__(self, product: str, owing: Collection[str]) -> None:
        self.product, self.owing = product, tuple(owing)
        known = f"; those that do: {', '.join(owing)}" if owing else ""
        super().__init__(f"no product named {product!r} owes a disclosure in this episode{known}.")


class UnknownEpisode(Refusal):
    """An episode that the workshop, or a record, does not have."""

    def __init__(self, episode: str, known: Collection[str], of: str) -> None:
        self.episode, self.known, self.of = episode, tuple(known), of
        near = get_close_matches(episode, self.known, n=1)
        hint = f"did you mean {near[0]}?" if near else f"there is {', '.join(sorted(known)[:8]) or 'none'}."
        super().__init__(f"{of} has no episode {episode!r}; {hint}")


class TooMuchSaid(Refusal):
    """Options that do not go together."""

    def __init__(self, option: str, others: Collection[str], reason: str) -> None:
        self.option, self.others, self.reason = option, tuple(others), reason
        super().__init__(f"{option} does not go with {', '.join(others)}: {reason}.")


class BadDay(Refusal):
    """A day on the command line that is none."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(f"{text!r} is no day; write it as 2026-03-28.")


class DaysTurned(Refusal):
    """A stretch of days that ends before it begins."""

    def __init__(self, since: date, until: date) -> None:
        self.since, self.until = since, until
        super().__init__(f"--until {until} lies before --since {since}; turn them round.")


class GoesWith(Refusal):
    """An option that says nothing without another one."""

    def __init__(self, option: str, other: str) -> None:
        self.option, self.other = option, other
        super().__init__(f"{option} says nothing by itself; give {other} as well.")


class BadAddress(Refusal):
    """An address on the command line that nobody could follow."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(
            f"{text!r} is no address; write it whole, such as https://video.example/corrections."
        )


class BurnUnclear(Refusal):
    """A video to burn into without one to write, or the other way round."""

    def __init__(self) -> None:
        super().__init__("--burn IN.mp4 and --to OUT.mp4 go together: the one is read, the other is written.")


class NothingAsked(Refusal):
    """A search for nothing."""

    def __init__(self) -> None:
        super().__init__("nothing was asked for; give words, or --product, --topic or --kind.")


class NotInRoundup(Refusal):
    """A record that no roundup can tell."""

    def __init__(self, record: str, reason: str) -> None:
        self.record, self.reason = record, reason
        super().__init__(f"{record}: {reason}, so no roundup can tell it; leave it out of --only.")


class NoRoundup(Refusal):
    """A folder that holds no roundup to be marked as published."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        super().__init__(
            f"{folder}: holds no roundup; make one with `reelnotes roundup` or name it with --out."
        )

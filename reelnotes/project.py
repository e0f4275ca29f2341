"""Where things lie in the maker's folder: finding an episode's files, choosing among several."""

from __future__ import annotations

import os
from pathlib import Path

from reelnotes.problems import FileUnreadable, NotAnEpisode, Problem
from reelnotes.records import frozen

TRANSCRIPT_SUFFIXES = (".srt", ".vtt", ".ttml", ".txt", ".json")
LOG_NAMES = ("shop-log.txt", "shop-log.csv")
LEDGER = "corrections"
VERSIONS = "versions"
VERSION_FILE = "version.toml"
_SHELF_LEVELS = 3


@frozen
class EpisodeFolder:
    """The files of one version of an episode; None where there is none.

    Version 1 lies in the episode's folder itself; a later one in `version_folder`, where its transcript, cut
    list and decisions are. The shop log, the clips and the settings are the episode's, whatever the version.
    """

    path: Path
    log: Path | None
    transcript: Path | None
    shelf: Path | None = None
    clips: Path | None = None
    cuts: Path | None = None
    kept: Path | None = None
    episode_settings: Path | None = None
    workshop_settings: Path | None = None
    version: int = 1
    version_folder: Path | None = None

    @property
    def home(self) -> Path:
        """The folder of this version: its own files lie there, and what is kept by hand goes there."""
        return self.version_folder or self.path

    @property
    def named(self) -> Path:
        """A path that names this very version, whichever is the newest: see `find_episode`."""
        return self.path / VERSIONS / str(self.version)

    @property
    def out(self) -> Path:
        """The folder for all that is drafted of this version."""
        return self.home / "out"

    @property
    def slug(self) -> str:
        """The folder's name: the episode's name in commands and outputs."""
        return self.path.resolve().name

    @property
    def inputs(self) -> tuple[Path, ...]:
        """Every file that a draft is made from, as far as it is there."""
        found = (
            self.log, self.transcript, self.clips, self.cuts, self.kept, self.episode_settings,
            self.shelf, self.workshop_settings,
            self.version_folder and self.version_folder / VERSION_FILE,
        )  # fmt: skip
        return tuple(path for path in found if path is not None)

    def shown(self, path: Path) -> str:
        """Give the name that problems show: short inside the folder, whole outside it."""
        return path.relative_to(self.path).as_posix() if path.is_relative_to(self.path) else str(path)


def find_episode(path: Path, transcript: Path | None = None) -> tuple[EpisodeFolder, list[Problem]]:
    """Find the files of an episode in its newest version. A loose folder will do: one log, one transcript.

    `EPISODE/versions/1` and so on name one version. `transcript` decides where several lie in the folder.
    Raises `NotAnEpisode` where there is no such version, or neither a log nor a transcript.
    """
    path, version, home = _version_at(path)
    names = _files_in(path)
    own = names if home == path else _files_in(home)
    log = _log_among(path, names)
    chosen, problems = _choose_transcript(home, own, log, transcript)
    if log is None and chosen is None:
        raise NotAnEpisode(
            path,
            "holds neither a shop log (shop-log.txt) nor a transcript "
            "(transcript.srt, .vtt, .ttml, .txt or .json).",
        )
    folder = EpisodeFolder(
        path=path,
        log=log,
        transcript=chosen,
        shelf=_above(path, "shelf.csv"),
        clips=_inside(path, names, "clips.csv"),
        cuts=_inside(home, own, "cuts.edl", "cuts.otio"),
        kept=_inside(home, own, "kept.toml"),
        episode_settings=_inside(path, names, "episode.toml"),
        workshop_settings=_above(path, "workshop.toml"),
        version=version,
        version_folder=None if home == path else home,
    )
    return folder, problems


def versions_of(episode: Path) -> dict[int, Path]:
    """Give the folders of an episode's later versions by number, from 2 on, in order.

    A folder counts once its version.toml lies in it. Raises `FileUnreadable`.
    """
    top = episode / VERSIONS
    try:
        if not top.is_dir():
            return {}
        numbered = {int(at.name): at for at in top.iterdir() if at.name.isascii() and at.name.isdigit()}
        return {n: at for n, at in sorted(numbered.items()) if n > 1 and (at / VERSION_FILE).is_file()}
    except OSError as error:
        raise FileUnreadable(top, (error.strerror or "the system refused").lower()) from None


def glance(folder: Path) -> str:
    """Tell the state of a folder without opening a file: names, sizes and times, and those of its drafts.

    It changes whenever a file is written, also where the content stays the same. Of what is drafted only
    draft.json counts; later versions count as the folder itself does. Raises `FileUnreadable`.
    """
    try:
        return "\n".join(_states(str(folder)))
    except OSError as error:
        raise FileUnreadable(folder, (error.strerror or "the system refused").lower()) from None


def _states(folder: str, depth: int = 2) -> list[str]:
    states = []
    with os.scandir(folder) as entries:
        found = sorted(entries, key=lambda entry: entry.name)
    for entry in found:
        if entry.is_dir():
            if entry.name == "out":
                states += _states_of(f"{entry.path}/draft.json")
            elif depth and (entry.name == VERSIONS or depth == 1):
                states += _states(entry.path, depth - 1)
        elif not entry.name.startswith("."):
            state = entry.stat()
            states.append(f"{entry.path} {state.st_size} {state.st_mtime_ns}")
    return states


def _states_of(path: str) -> list[str]:
    try:
        state = os.stat(path)  # noqa: PTH116 - called once for every episode there is
    except FileNotFoundError:
        return []
    return [f"{path} {state.st_size} {state.st_mtime_ns}"]


def _version_at(path: Path) -> tuple[Path, int, Path]:
    """Tell which episode a path names, which version of it, and where that version lies."""
    whole = path.resolve()
    if _names_version(whole):
        episode = path.parent.parent if path.parent.name == VERSIONS else whole.parent.parent
        later, number = versions_of(episode), int(whole.name)
        if number != 1 and number not in later:
            known = ", ".join(str(n) for n in (1, *later))
            raise NotAnEpisode(path, f"there is no such version; known are {known}.")
        return episode, number, later.get(number, episode)
    if path.is_file():
        raise NotAnEpisode(path, "is a file; name the folder that holds the shop log and the transcript.")
    if not path.is_dir():
        raise NotAnEpisode(path, "there is no such folder.")
    later = versions_of(path)
    newest = max(later, default=1)
    return path, newest, later.get(newest, path)


def _names_version(whole: Path) -> bool:
    return whole.parent.name == VERSIONS and whole.name.isascii() and whole.name.isdigit()


def _files_in(path: Path) -> list[str]:
    try:
        return sorted(entry.name for entry in path.iterdir() if entry.is_file())
    except OSError as error:
        raise FileUnreadable(path, (error.strerror or "the system refused").lower()) from None


def find_log(path: Path) -> Path | None:
    """Find the shop log in a folder: the usual name, else a text or CSV file with `log` in its name."""
    return _log_among(path, sorted(entry.name for entry in path.iterdir() if entry.is_file()))


def find_workshop(path: Path) -> Path:
    """Find the top folder of the workshop that a folder lies in, or is.

    It is the nearest one with a workshop.toml, else the one above `episodes`; a loose folder is its own
    workshop. Raises `NotAnEpisode` where there is no such folder.
    """
    if _names_version(path.resolve()):
        path = path.resolve().parent.parent
    if not path.is_dir():
        raise NotAnEpisode(path, "is a file; name a folder." if path.exists() else "there is no such folder.")
    at, shown = path.resolve(), path
    for _ in range(_SHELF_LEVELS + 1):
        if _named(at, "workshop.toml"):
            return shown
        if at.parent == at:
            break
        at, shown = at.parent, at.parent
    whole = path.resolve()
    return whole.parent.parent if whole.parent.name == "episodes" else path


def episodes_of(workshop: Path) -> dict[str, Path]:
    """Give the episodes of a workshop by name; a loose folder is its own only episode."""
    top = workshop / "episodes"
    if not top.is_dir():
        return {workshop.resolve().name: workshop}
    with os.scandir(top) as entries:
        names = sorted(one.name for one in entries if one.name[0] != "." and one.is_dir())
    return {name: top / name for name in names}


def _log_among(path: Path, names: list[str]) -> Path | None:
    exact = _inside(path, names, *LOG_NAMES)
    if exact:
        return exact
    loose = [n for n in names if "log" in n.casefold() and n.casefold().endswith((".txt", ".csv"))]
    return path / loose[0] if loose else None


def _choose_transcript(
    path: Path, names: list[str], log: Path | None, wanted: Path | None
) -> tuple[Path | None, list[Problem]]:
    if wanted is not None:
        at = wanted if wanted.exists() else path / wanted
        if not at.is_file():
            raise FileUnreadable(wanted, "there is no such transcript")
        return at, []
    others = [n for n in names if log is None or n != log.name]
    exact = [n for s in TRANSCRIPT_SUFFIXES for n in others if n.casefold() == f"transcript{s}"]
    loose = [
        n for s in TRANSCRIPT_SUFFIXES for n in others if n.casefold().endswith(s) and _like_transcript(n)
    ]
    found = exact or loose
    if not found:
        return None, []
    if len(found) == 1:
        return path / found[0], []
    rest = ", ".join(found[1:])
    message = f"was taken as the transcript; {rest} was not; --transcript FILE decides"
    return path / found[0], [Problem("transcript-choice", message, found[0])]


def _like_transcript(name: str) -> bool:
    folded = name.casefold()
    return folded.endswith((".srt", ".vtt", ".ttml")) or "transcript" in folded or "caption" in folded


def _inside(path: Path, names: list[str], *wanted: str) -> Path | None:
    return next((path / n for w in wanted for n in names if n.casefold() == w), None)


def _above(path: Path, name: str) -> Path | None:
    """Look beside the episode's files, then in the folders above, up to the workshop's top."""
    at = path.resolve()
    shown = path
    for _ in range(_SHELF_LEVELS + 1):
        if found := _named(at, name):
            return shown / found
        if _named(at, "workshop.toml") or at.parent == at:
            return None
        at, shown = at.parent, at.parent
    return None


def _named(folder: Path, name: str) -> str | None:
    """Give the file's name as it is spelled in the folder, in any case; None where there is none."""
    try:
        if (folder / name).is_file():
            return name
        if folder.name == "episodes":  # it holds episodes alone, and there may be a thousand
            return None
        return next((p.name for p in folder.iterdir() if p.name.casefold() == name and p.is_file()), None)
    except OSError:  # a folder above may be closed to us
        return None

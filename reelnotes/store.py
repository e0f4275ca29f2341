"""The only module that touches the disk: reading with a fingerprint, writing whole or not at all."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from hashlib import sha256
from itertools import chain, count
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from reelnotes.problems import (
    AlreadyThere,
    DiskFull,
    FileChanged,
    FileUnreadable,
    FolderBusy,
    FolderUnwritable,
    Problem,
    Refusal,
)
from reelnotes.records import frozen

if TYPE_CHECKING:
    import sqlite3

_LOCK_FILE = ".writing"
_LOCK_WAIT_S, _LOCK_STEP_S = 10.0, 0.02


@frozen
class SourceText:
    """A text file as read: plain line feeds, no byte order mark; `name` is what problems show."""

    name: str
    text: str
    sha256: str = ""
    newline: str = "\n"

    @property
    def lines(self) -> list[str]:
        """The lines, without their ends; line 1 is at index 0."""
        return self.text.split("\n")


def read_bytes(path: Path) -> bytes:
    """Read a file. Raises `FileUnreadable` with the reason in words."""
    try:
        return path.read_bytes()
    except IsADirectoryError:
        raise FileUnreadable(path, "it is a folder") from None
    except OSError as error:
        raise FileUnreadable(path, (error.strerror or "the system refused").lower()) from None


def read_text(path: Path, name: str | None = None) -> tuple[SourceText, list[Problem]]:
    """Read a text file: UTF-8 with or without a byte order mark, any line ends, Latin-1 with a warning.

    Raises `FileUnreadable` for a file that cannot be opened or that holds NUL bytes (not a text).
    """
    raw = read_bytes(path)
    return decode(raw, name or path.name, path)


def decode(raw: bytes, name: str, path: Path) -> tuple[SourceText, list[Problem]]:
    """Turn bytes into a `SourceText`; see `read_text`."""
    problems: list[Problem] = []
    try:
        text = raw.decode("utf-16") if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = raw.decode("cp1252", errors="replace")
        problems.append(
            Problem(
                "encoding", "is not UTF-8; it was read as Latin-1, so check letters such as £ and é", name
            )
        )
    if "\0" in text:
        raise FileUnreadable(path, "it is not a text file")
    newline = "\r\n" if "\r\n" in text else "\n"
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    return SourceText(name, text, sha256(raw).hexdigest(), newline), problems


def fingerprint(path: Path) -> str:
    """Give the SHA-256 of a file's bytes, in hexadecimal. Raises `FileUnreadable`."""
    return sha256(read_bytes(path)).hexdigest()


def write_file(path: Path, content: str | bytes, *, expect_sha256: str | None = None) -> None:
    """Write a file whole or not at all: a temporary file beside it, then one rename.

    With `expect_sha256`, the file must still be what was read. Raises `FileChanged`, `FolderUnwritable`.
    """
    data = content.encode() if isinstance(content, str) else content
    if expect_sha256 is not None and sha256(read_bytes(path)).hexdigest() != expect_sha256:
        raise FileChanged(path)
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "wb") as file:
            file.write(data)
        os.chmod(temporary, _mode_for(path))  # noqa: PTH101 - mkstemp gives a string
        os.replace(temporary, path)  # noqa: PTH105 - same
        temporary = None
    except OSError as error:
        raise _refusal(path.parent, error) from None
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)


@contextmanager
def large_file(path: Path) -> Iterator[BinaryIO]:
    """Open a file too large for memory for reading, and close it. Raises `FileUnreadable`."""
    try:
        file = path.open("rb")
    except IsADirectoryError:
        raise FileUnreadable(path, "it is a folder") from None
    except OSError as error:
        raise FileUnreadable(path, (error.strerror or "the system refused").lower()) from None
    with file:
        yield file


@contextmanager
def whole_file(path: Path, *, needs: int = 0) -> Iterator[BinaryIO]:
    """Write a large file whole or not at all: what is yielded lies beside it until the block ends well.

    `needs` is the room wanted on the disk, in bytes. However the block ends, no half file stays behind.
    Raises `DiskFull` and `FolderUnwritable`; other errors of the block pass through.
    """
    temporary = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        free = shutil.disk_usage(path.parent).free
        if needs > free:
            raise DiskFull(path.parent, needs, free)
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
        with os.fdopen(handle, "w+b") as file:
            yield file
        os.chmod(temporary, _mode_for(path))  # noqa: PTH101 - mkstemp gives a string
        os.replace(temporary, path)  # noqa: PTH105 - same
        temporary = None
    except OSError as error:
        raise _refusal(path.parent, error) from None
    finally:
        if temporary is not None:
            Path(temporary).unlink(missing_ok=True)


@contextmanager
def scratch_file(folder: Path) -> Iterator[BinaryIO]:
    """Give a nameless file that is gone when the block ends. Raises `DiskFull` and `FolderUnwritable`."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=folder) as file:
            yield file
    except OSError as error:
        raise _refusal(folder, error) from None


def _refusal(folder: Path, error: OSError) -> Refusal:
    if error.errno in {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}:
        return DiskFull(folder)
    return FolderUnwritable(folder, (error.strerror or "the system refused").lower())


def write_folder(folder: Path, files: dict[str, str | bytes]) -> list[Path]:
    """Write several files into a folder; a file whose content is already right is left alone."""
    paths = []
    for name, content in files.items():
        path = folder / name
        data = content.encode() if isinstance(content, str) else content
        if not (path.is_file() and path.read_bytes() == data):
            write_file(path, data)
        paths.append(path)
    return paths


def open_database(path: Path, mark: int, layout: int, tables: str) -> tuple[sqlite3.Connection, str]:
    """Open a database of ours, made empty where there is none; give it with the reason why it is another one.

    `mark` is what tells our databases from those of others (SQLite's application id), `layout` the layout of
    its tables. One of another layout is made anew. A damaged one, or one that is not ours, is set aside under
    `NAME.aside` and lost by nobody. Where the folder cannot be written to, the database is in memory alone.
    Reasons: `memory`, `aside`, or nothing.
    """
    import sqlite3

    if not os.access(path.parent, os.W_OK) or (path.exists() and not os.access(path, os.W_OK)):
        return _with_tables(sqlite3.connect(":memory:"), mark, layout, tables), "memory"
    reason = ""
    if path.exists() and path.stat().st_size:
        connection = sqlite3.connect(path, timeout=_LOCK_WAIT_S)
        try:
            known = tuple(
                connection.execute(f"PRAGMA {name}").fetchone()[0]
                for name in ("application_id", "user_version")
            )
            if known == (mark, layout):
                return connection, ""
            ours = known[0] == mark
        except sqlite3.OperationalError:  # in use for long: not damaged, and not ours to move
            connection.close()
            raise
        except sqlite3.DatabaseError:
            ours = False
        connection.close()
        if ours:
            path.unlink()
        else:
            set_aside(path)
            reason = "aside"
    return _with_tables(sqlite3.connect(path, timeout=_LOCK_WAIT_S), mark, layout, tables), reason


def set_aside(path: Path) -> Path:
    """Put a file or folder of which nobody knows what it is under a free `NAME.aside`, so nothing is lost.

    Raises `FolderUnwritable`; where another process was faster there is nothing to do.
    """
    names = chain([f"{path.name}.aside"], (f"{path.name}.aside-{number}" for number in count(2)))
    aside = next(place for name in names if not (place := path.with_name(name)).exists())
    try:
        path.rename(aside)
    except FileNotFoundError:
        return aside
    except OSError as error:
        raise _refusal(path.parent, error) from None
    return aside


def _with_tables(connection: sqlite3.Connection, mark: int, layout: int, tables: str) -> sqlite3.Connection:
    """Make the tables, unless another writer was faster."""
    with connection:
        connection.execute("BEGIN IMMEDIATE")
        if connection.execute("PRAGMA user_version").fetchone()[0] == layout:
            return connection
        for statement in tables.split(";"):
            connection.execute(statement)
        connection.execute(f"PRAGMA application_id = {mark}")
        connection.execute(f"PRAGMA user_version = {layout}")
    return connection


def remove_files(paths: Iterable[Path]) -> None:
    """Take away files of ours that are out of date. Raises `FolderUnwritable`."""
    for path in paths:
        try:
            path.unlink(missing_ok=True)
        except OSError as error:
            raise _refusal(path.parent, error) from None


def write_new_folder(folder: Path, files: dict[str, str | bytes]) -> list[Path]:
    """Make a folder with all its files or not at all: it is filled beside its place, then renamed once.

    Names may lie in folders inside, such as `out/draft.json`. Raises `AlreadyThere` where something is there
    already, `DiskFull`, `FolderUnwritable`; then nothing of it stays behind.
    """
    made = None
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        made = Path(tempfile.mkdtemp(prefix=f".{folder.name}.", dir=folder.parent))
        for name, content in files.items():
            path = made / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        made.chmod(_folder_mode())
        if folder.exists():
            raise AlreadyThere(folder)
        made.rename(folder)
        made = None
    except OSError as error:
        raise _refusal(folder.parent, error) from None
    finally:
        if made is not None:
            shutil.rmtree(made, ignore_errors=True)
    return [folder / name for name in files]


@contextmanager
def alone_in(folder: Path, wait_s: float = _LOCK_WAIT_S) -> Iterator[None]:
    """Hold a folder while several of its files are read and written: a second writer waits its turn.

    The system lets go of the lock when its holder ends, also when it is killed. Where the file system has no
    locks (some network drives), work goes on without: each file is still written whole or not at all, and
    only if it is what was read. Raises `FolderBusy` after `wait_s`, `FolderUnwritable`.
    """
    try:
        folder.mkdir(parents=True, exist_ok=True)
        handle = os.open(folder / _LOCK_FILE, os.O_RDWR | os.O_CREAT, 0o666)
    except OSError as error:
        raise FolderUnwritable(folder, (error.strerror or "the system refused").lower()) from None
    try:
        until = time.monotonic() + wait_s
        while not _locked(handle):
            if time.monotonic() >= until:
                raise FolderBusy(folder)
            time.sleep(_LOCK_STEP_S)
        yield
    finally:
        os.close(handle)


def _locked(handle: int) -> bool:
    """Try to lock an open file; False where somebody else holds it, True also where there are no locks."""
    try:
        if sys.platform == "win32":
            import msvcrt

            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    except OSError:
        return True
    return True


def _mode_for(path: Path) -> int:
    return path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()


def _folder_mode() -> int:
    return 0o777 & ~_umask()


def _umask() -> int:
    umask = os.umask(0)
    os.umask(umask)
    return umask

"""Reading and writing files."""

from __future__ import annotations

import os
from hashlib import sha256
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reelnotes.problems import FileChanged, FileUnreadable, FolderUnwritable
from reelnotes.store import decode, read_bytes, read_text, write_file, write_folder


def test_a_text_file(tmp_path: Path) -> None:
    """Lines count from index 0, the fingerprint is of the bytes, the name is what problems show."""
    path = tmp_path / "log.txt"
    path.write_bytes("09:00 £4\r\nb".encode())
    source, problems = read_text(path)
    assert problems == []
    assert (source.name, source.lines, source.newline) == ("log.txt", ["09:00 £4", "b"], "\r\n")
    assert source.sha256 == sha256(path.read_bytes()).hexdigest()
    assert read_text(path, "shown")[0].name == "shown"


@pytest.mark.parametrize(
    ("raw", "text", "codes"),
    [
        (b"\xef\xbb\xbfa\n", "a\n", []),
        (b"a\rb\r\nc\n", "a\nb\nc\n", []),
        ("£ – é".encode(), "£ – é", []),
        ("£ é".encode("latin-1"), "£ é", ["encoding"]),
        ("“£”".encode("cp1252"), "“£”", ["encoding"]),
        ("a£".encode("utf-16"), "a£", []),
        (b"", "", []),
    ],
)
def test_encodings(raw: bytes, text: str, codes: list[str]) -> None:
    """UTF-8 and UTF-16 with their marks are read in silence, old encodings with a warning."""
    source, problems = decode(raw, "a", Path("a"))
    assert (source.text, [p.code for p in problems]) == (text, codes)


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=60))
def test_any_bytes_are_a_text_or_refused(raw: bytes) -> None:
    """Nothing else is raised, and what is a text holds plain line feeds and no NUL."""
    try:
        source, _ = decode(raw, "a", Path("a"))
    except FileUnreadable:
        return
    assert not {"\r", "\0"} & set(source.text)


def test_files_that_cannot_be_read(tmp_path: Path) -> None:
    """A folder, a missing file and a file with NUL bytes: one sentence each, with the path."""
    with pytest.raises(FileUnreadable, match="it is a folder"):
        read_bytes(tmp_path)
    with pytest.raises(FileUnreadable, match="no such file"):
        read_bytes(tmp_path / "none")
    (tmp_path / "nul").write_bytes(b"a\0")
    with pytest.raises(FileUnreadable, match="not a text file"):
        read_text(tmp_path / "nul")


def test_writing_makes_folders_and_keeps_the_mode(tmp_path: Path) -> None:
    """A new file gets the usual mode, an old one keeps its own, and no temporary file is left."""
    path = tmp_path / "out" / "a.txt"
    write_file(path, "one")
    umask = os.umask(0)
    os.umask(umask)
    assert path.stat().st_mode & 0o777 == 0o666 & ~umask
    path.chmod(0o600)
    write_file(path, b"two")
    assert (path.read_bytes(), path.stat().st_mode & 0o777) == (b"two", 0o600)
    assert [p.name for p in path.parent.iterdir()] == ["a.txt"]


def test_a_file_that_was_changed_meanwhile_is_left(tmp_path: Path) -> None:
    """The fingerprint of what was read must still hold."""
    path = tmp_path / "kept.toml"
    path.write_text("one", encoding="utf-8")
    source, _ = read_text(path)
    write_file(path, "two", expect_sha256=source.sha256)
    with pytest.raises(FileChanged, match="was changed meanwhile"):
        write_file(path, "three", expect_sha256=source.sha256)
    assert path.read_text(encoding="utf-8") == "two"


def test_a_failed_write_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the rename fails, what was there is there, and the temporary file is gone."""
    path = tmp_path / "a.txt"
    path.write_text("old", encoding="utf-8")

    def fail(*_: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr("reelnotes.store.os.replace", fail)
    with pytest.raises(FolderUnwritable, match="permission denied"):
        write_file(path, "new")
    assert path.read_text(encoding="utf-8") == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["a.txt"]


def test_a_folder_that_is_a_file(tmp_path: Path) -> None:
    """Nothing can be written beneath a file."""
    (tmp_path / "out").write_text("", encoding="utf-8")
    with pytest.raises(FolderUnwritable, match="--out"):
        write_file(tmp_path / "out" / "a.txt", "x")


def test_what_is_right_already_is_left_alone(tmp_path: Path) -> None:
    """A file with the same content is not written again; the paths come in the order given."""
    paths = write_folder(tmp_path / "out", {"b.txt": "1", "a.txt": "2"})
    assert [p.name for p in paths] == ["b.txt", "a.txt"]
    before = {p: p.stat().st_mtime_ns for p in paths}
    os.utime(paths[0], ns=(1, 1))
    write_folder(tmp_path / "out", {"b.txt": "1", "a.txt": "3"})
    assert paths[0].stat().st_mtime_ns == 1
    assert paths[1].read_text(encoding="utf-8") == "3"
    assert before


def test_an_output_that_cannot_be_read(tmp_path: Path) -> None:
    """A folder where a file should be is refused in words."""
    (tmp_path / "a.txt").mkdir()
    with pytest.raises(FolderUnwritable):
        write_folder(tmp_path, {"a.txt": "1"})

"""What runs beside the picture when a film is cut: sound by whole frames, texts by their times."""

from __future__ import annotations

from fractions import Fraction
from typing import BinaryIO

import numpy as np

from reelnotes.picture.boxes import Box, children
from reelnotes.picture.coding import CannotPatch, load_av
from reelnotes.picture.film import Track
from reelnotes.picture.headers import regroup
from reelnotes.picture.joints import Joints
from reelnotes.picture.tables import MADE, Samples, Whole

_SOUND_HEAD, _QUICKTIME_HEADS = 28, {0: 28, 1: 44, 2: 64}
#: Sound whose frames can be left out: decoding of one needs at most the one before it.
_FRAMED = frozenset({b"mp4a", b"ac-3", b"ec-3", b"alac", b"Opus", b"fLaC"})
_AAC_KINDS = frozenset({0x40, 0x66, 0x67, 0x68})
_LOW_COMPLEXITY = 2
#: Sampling rates and numbers of channels by their index (ISO/IEC 14496-3, 1.6.3; from memory).
_RATES = (96000, 88200, 64000, 48000, 44100, 32000, 24000, 22050, 16000, 12000, 11025, 8000, 7350)
_LAYOUTS = {1: "mono", 2: "stereo", 3: "3.0", 4: "4.0", 5: "5.0", 6: "5.1", 7: "7.1"}
_AAC_FRAME = 1024


def check_sound(track: Track, joints: Joints) -> None:
    """Hold that the sound comes in whole frames, and that silence can be made where it is held.

    Raises `CannotPatch`.
    """
    rows = track.samples
    entry = track.entries[0] if len(track.entries) == 1 else None
    if rows is None or entry is None or entry.kind not in _FRAMED or not rows.sync.all():
        raise CannotPatch("sound")
    if len(rows) > 1 and (rows.length[:-1] != rows.length[0]).any():
        raise CannotPatch("sound")
    if entry.kind == b"mp4a" and _decoder_config(entry)[0] not in _AAC_KINDS:
        raise CannotPatch("sound")
    if not track.plain_edits:
        raise CannotPatch("edits")
    if any(joint.held for joint in joints.all):
        _silence_form(entry)


def cut_sound(track: Track, joints: Joints, made: BinaryIO) -> Samples:
    """Leave out and put in whole frames, so that sound is never further from its picture than half a frame.

    What is left over at one joint is carried to the next. A cut at the very start leaves out the first frames
    and not those behind them, so that what is decoded first is the frame that really went before.
    """
    rows = track.samples
    if rows is None or not len(rows):
        raise CannotPatch("sound")
    unit = Fraction(int(rows.length[0]), track.scale)
    own = joints.after(track.delay)
    parts: list[Whole] = []
    at, exact, done = 0, Fraction(0), 0
    for joint in own.all:
        exact += joint.gone_to - joint.gone_from - joint.held
        net = round(exact / unit) - done
        done += net
        new = max(round(joint.held / unit), -net) if joint.held else max(0, -net)
        place = round((joint.gone_from - track.delay + Fraction(track.begin, track.scale)) / unit)
        if joint.gone_from <= track.delay and not joint.held:
            place = 0
        place = min(max(place, at), len(rows))
        parts += [np.arange(at, place), np.full(new, -1)]
        at = min(place + net + new, len(rows))
    picked = np.concatenate([*parts, np.arange(at, len(rows))])
    regroup(track.tables, picked)
    return _with_silence(rows, picked, _silence(track, made) if (picked < 0).any() else (0, 0))


def _with_silence(rows: Samples, picked: Whole, silence: tuple[int, int]) -> Samples:
    new = rows.rows(np.maximum(picked, 0))
    quiet = picked < 0
    new.where[quiet], new.offset[quiet], new.size[quiet] = MADE, *silence
    new.length[quiet] = rows.length[0]
    new.decode_at = np.cumsum(new.length) - new.length
    breaks = np.append(True, (np.diff(picked) != 1) | (np.diff(new.chunk) != 0))
    new.chunk = np.cumsum(breaks) - 1
    if quiet.any():  # a second of silence a chunk is enough: one break for each frame would be waste
        same = np.append(False, quiet[1:] & quiet[:-1])
        new.chunk = np.cumsum(breaks & ~same) - 1
    return new


def cut_data(track: Track, joints: Joints) -> Samples:
    """Shorten texts, chapters, timecode and the like; what has no time left goes."""
    rows = track.samples
    if rows is None:
        raise CannotPatch("sound")
    bounds = np.append(rows.decode_at, rows.decode_at[-1:] + rows.length[-1:])
    moved = np.array(
        [round(joints.moved(track.programme_s(at)) * track.scale) for at in bounds.tolist()], np.int64
    )
    length = np.diff(moved)
    kept = rows.rows(length > 0)
    kept.length = length[length > 0]
    kept.decode_at = np.cumsum(kept.length) - kept.length
    regroup(track.tables, np.flatnonzero(length > 0))
    return kept


# --- silence ---------------------------------------------------------------------------------------------


def _silence(track: Track, made: BinaryIO) -> tuple[int, int]:
    """Make one frame of silence as the track's own decoder reads it; give its place and size."""
    av = load_av()
    rate, layout = _silence_form(track.entries[0])
    encoder = av.CodecContext.create("aac", "w")
    encoder.sample_rate, encoder.layout, encoder.format = rate, layout, "fltp"
    encoder.time_base = Fraction(1, rate)
    packets = []
    for number in range(6):
        # interleaved: the library reads memory that is not there where eight channels have a plane each
        quiet = np.zeros((1, _AAC_FRAME * av.AudioLayout(layout).nb_channels), np.float32)
        frame = av.AudioFrame.from_ndarray(quiet, format="flt", layout=layout)
        frame.sample_rate, frame.pts, frame.time_base = rate, number * _AAC_FRAME, encoder.time_base
        packets += encoder.encode(frame)
    raw = bytes(packets[-1])
    place = made.seek(0, 2)
    made.write(raw)
    return place, len(raw)


def _silence_form(entry: Box) -> tuple[int, str]:
    """Give rate and layout of plain AAC. Raises `CannotPatch` for other kinds of sound."""
    kind, config = _decoder_config(entry) if entry.kind == b"mp4a" else (0, b"")
    if kind not in _AAC_KINDS or len(config) < 2:  # noqa: PLR2004 - bytes of the shortest configuration
        raise CannotPatch("silence")
    bits = int.from_bytes(config[:2])
    what, rate, channels = bits >> 11, bits >> 7 & 15, bits >> 3 & 15
    if what != _LOW_COMPLEXITY or rate >= len(_RATES) or channels not in _LAYOUTS or bits >> 2 & 1:
        raise CannotPatch("silence")
    return _RATES[rate], _LAYOUTS[channels]


def _decoder_config(entry: Box) -> tuple[int, bytes]:
    """Read the kind of sound and the decoder's configuration from `esds`; zero and nothing if there is none.

    The descriptors are those of ISO/IEC 14496-1, 7.2.6.
    """
    version = int.from_bytes(entry.body[8:10])
    boxes = children(entry.body[_QUICKTIME_HEADS.get(version, _SOUND_HEAD) :]) or []
    inside = next((box for box in boxes if box.kind == b"wave"), None)
    if inside is not None:
        boxes = children(inside.body) or []
    esds = next((box.body for box in boxes if box.kind == b"esds"), b"")
    kind, config = 0, b""
    at = 4
    while at + 2 <= len(esds):
        tag, at = esds[at], at + 1
        length = 0
        while at < len(esds):
            byte, at = esds[at], at + 1
            length = length << 7 | byte & 127
            if not byte & 128:
                break
        if tag == 3:  # noqa: PLR2004 - the stream: number, flags, then what describes it
            flags = esds[at + 2] if at + 2 < len(esds) else 0
            at += 3 + (2 if flags & 128 else 0) + (2 if flags & 32 else 0)
        elif tag == 4:  # noqa: PLR2004 - the decoder
            kind, at = esds[at] if at < len(esds) else 0, at + 13
        else:
            config = esds[at : at + length] if tag == 5 else config  # noqa: PLR2004 - what the decoder needs
            at += length
    return kind, config

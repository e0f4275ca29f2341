"""H.264 as it lies in MP4: parameter sets, their bits, the units of a sample.

Syntax after Rec. ITU-T H.264 clauses 7.3 and E.1, the record `avcC` after ISO/IEC 14496-15, 5.3.3.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from reelnotes.picture.boxes import BadBoxes
from reelnotes.records import frozen

IDR = 5
#: Kinds of units: sequence and picture parameter sets.
SPS, PPS = 7, 8
_SLICES = range(1, 6)
_SPS_ID_LIMIT = 32
#: The record `avcC` counts its sequence parameter sets in five bits, its picture parameter sets in eight.
_MOST_SPS, _MOST_PPS = 31, 255
_HIGH = frozenset({100, 110, 122, 244, 44, 83, 86, 118, 128, 138, 139, 134, 135})
_ESCAPE = b"\0\0\3"

#: Level number times ten: most macroblocks of decoded pictures held, most kilobits a second and kilobits of
#: buffer at factor 1000 (Rec. ITU-T H.264, table A-1; the figures are from memory).
LEVELS: dict[int, tuple[int, int, int]] = {
    9: (396, 128, 350),
    10: (396, 64, 175),
    11: (900, 192, 500),
    12: (2376, 384, 1000),
    13: (2376, 768, 2000),
    20: (2376, 2000, 2000),
    21: (4752, 4000, 4000),
    22: (8100, 4000, 4000),
    30: (8100, 10000, 10000),
    31: (18000, 14000, 14000),
    32: (20480, 20000, 20000),
    40: (32768, 20000, 25000),
    41: (32768, 50000, 62500),
    42: (34816, 50000, 62500),
    50: (110400, 135000, 135000),
    51: (184320, 240000, 240000),
    52: (184320, 240000, 240000),
    60: (696320, 240000, 240000),
    61: (696320, 480000, 480000),
    62: (696320, 800000, 800000),
}


class Bits:
    """A reader of single bits and of Exp-Golomb codes (clause 9.1)."""

    def __init__(self, raw: bytes) -> None:
        self.text = "".join(f"{byte:08b}" for byte in raw)
        self.at = 0

    def take(self, count: int) -> int:
        """Read an unsigned number of so many bits. Raises `BadBoxes` at the end."""
        if self.at + count > len(self.text):
            raise BadBoxes("a parameter set is cut short")
        self.at += count
        return int(self.text[self.at - count : self.at] or "0", 2)

    def unsigned(self) -> int:
        """Read ue(v)."""
        zeros = self.text.find("1", self.at) - self.at
        if not 0 <= zeros <= 32:  # noqa: PLR2004 - the longest code of clause 9.1
            raise BadBoxes("a parameter set is damaged")
        self.at += zeros
        return self.take(zeros + 1) - 1

    def signed(self) -> int:
        """Read se(v)."""
        code = self.unsigned()
        return (code + 1) // 2 if code % 2 else -(code // 2)


def unsigned_code(value: int) -> str:
    """Write ue(v) as a text of bits."""
    bits = f"{value + 1:b}"
    return "0" * (len(bits) - 1) + bits


@frozen
class Sps:
    """What a sequence parameter set says, as far as it is needed here.

    `aspect` is 0 where none is told; `reorder` and `buffered` are max_num_reorder_frames and
    max_dec_frame_buffering, None if not told;
    `restriction_bit` is where bitstream_restriction_flag stands (None: there is no VUI).
    """

    raw: bytes
    profile: int
    constraints: int
    level: int
    id: int
    chroma: int
    depth: int
    refs: int
    width: int
    height: int
    macroblocks: int
    progressive: bool
    cropped_before: bool
    aspect: Fraction = Fraction(0)
    full_range: bool = False
    primaries: int = 2
    transfer: int = 2
    matrix: int = 2
    reorder: int | None = None
    buffered: int | None = None
    restriction_bit: int | None = None


def read_sps(nal: bytes) -> Sps:
    """Read a sequence parameter set, given as a NAL unit. Raises `BadBoxes` if it is damaged."""
    bits = Bits(nal[1:].replace(_ESCAPE, b"\0\0"))
    profile, constraints, level = bits.take(8), bits.take(8), bits.take(8)
    sps_id = bits.unsigned()
    chroma, depth = 1, 8
    if profile in _HIGH:
        chroma, depth = _read_high(bits)
    bits.unsigned()  # log2_max_frame_num
    _skip_order(bits)
    refs = bits.unsigned()
    bits.take(1)
    across, down = bits.unsigned() + 1, bits.unsigned() + 1
    progressive = bool(bits.take(1))
    if not progressive:
        bits.take(1)
    down *= 1 if progressive else 2
    bits.take(1)
    crop = [bits.unsigned() for _ in range(4)] if bits.take(1) else [0, 0, 0, 0]
    unit_x = 2 if chroma in (1, 2) else 1
    unit_y = (2 if chroma == 1 else 1) * (1 if progressive else 2)
    sps = Sps(
        raw=nal,
        profile=profile,
        constraints=constraints,
        level=level,
        id=sps_id,
        chroma=chroma,
        depth=depth,
        refs=refs,
        width=across * 16 - unit_x * (crop[0] + crop[1]),
        height=down * 16 - unit_y * (crop[2] + crop[3]),
        macroblocks=across * down,
        progressive=progressive,
        cropped_before=bool(crop[0] or crop[2]),
    )
    return _read_vui(bits, sps) if bits.take(1) else sps


def _read_high(bits: Bits) -> tuple[int, int]:
    chroma = bits.unsigned()
    if chroma == 3:  # noqa: PLR2004 - 4:4:4
        bits.take(1)
    depth = bits.unsigned() + 8
    bits.unsigned()
    bits.take(1)
    if bits.take(1):
        for number in range(8 if chroma != 3 else 12):  # noqa: PLR2004 - lists 6 on are 8 × 8
            if bits.take(1):
                _skip_scaling(bits, 16 if number < 6 else 64)  # noqa: PLR2004
    return chroma, depth


def _skip_scaling(bits: Bits, count: int) -> None:
    last = following = 8
    for _ in range(count):
        if following:
            following = (last + bits.signed()) % 256
        last = following or last


def _skip_order(bits: Bits) -> None:
    """Skip how the order of pictures is told (7.3.2.1.1)."""
    kind = bits.unsigned()
    if kind == 0:
        bits.unsigned()
    elif kind == 1:
        bits.take(1)
        bits.signed()
        bits.signed()
        for _ in range(bits.unsigned()):
            bits.signed()


#: aspect_ratio_idc 1 to 16 (table E-1; from memory), compared in the tests with what FFmpeg reads.
_ASPECTS = (
    (1, 1), (12, 11), (10, 11), (16, 11), (40, 33), (24, 11), (20, 11), (32, 11),
    (80, 33), (18, 11), (15, 11), (64, 33), (160, 99), (4, 3), (3, 2), (2, 1),
)  # fmt: skip
_OWN_ASPECT = 255


def _read_vui(bits: Bits, sps: Sps) -> Sps:
    aspect = _read_aspect(bits) if bits.take(1) else Fraction(0)
    if bits.take(1):
        bits.take(1)
    full_range, colours = _read_colours(bits) if bits.take(1) else (False, (2, 2, 2))
    if bits.take(1):
        bits.unsigned()
        bits.unsigned()
    if bits.take(1):
        bits.take(65)
    _skip_buffer_models(bits)
    bits.take(1)
    sps = replace(
        sps,
        aspect=aspect,
        full_range=full_range,
        primaries=colours[0],
        transfer=colours[1],
        matrix=colours[2],
        restriction_bit=bits.at,
    )
    if not bits.take(1):
        return sps
    bits.take(1)
    for _ in range(4):
        bits.unsigned()
    return replace(sps, reorder=bits.unsigned(), buffered=bits.unsigned())


def _read_aspect(bits: Bits) -> Fraction:
    number = bits.take(8)
    wide, high = _ASPECTS[number - 1] if 1 <= number <= len(_ASPECTS) else (0, 1)
    if number == _OWN_ASPECT:
        wide, high = bits.take(16), bits.take(16)
    return Fraction(wide, high) if high else Fraction(0)


def _read_colours(bits: Bits) -> tuple[bool, tuple[int, int, int]]:
    bits.take(3)
    full_range = bool(bits.take(1))
    return full_range, (bits.take(8), bits.take(8), bits.take(8)) if bits.take(1) else (2, 2, 2)


def _skip_buffer_models(bits: Bits) -> None:
    found = 0
    for _ in range(2):
        if bits.take(1):
            found += 1
            _skip_buffer_model(bits)
    if found:
        bits.take(1)


def _skip_buffer_model(bits: Bits) -> None:
    count = bits.unsigned() + 1
    bits.take(8)
    for _ in range(count):
        bits.unsigned()
        bits.unsigned()
        bits.take(1)
    bits.take(20)


def most_buffered(sps: Sps) -> int:
    """Most frames a decoder holds for this stream: what it tells, else what its level allows (A.3.1)."""
    if sps.buffered is not None:
        return sps.buffered
    return min(16, LEVELS.get(sps.level, LEVELS[62])[0] // sps.macroblocks)


def with_buffering(nal: bytes, reorder: int, buffered: int) -> bytes:
    """Rewrite how many frames are reordered and held; all else stays to the bit.

    A decoder may drop pictures not yet shown where the held number changes between two parameter sets
    (C.4.4), so what is coded anew must say the same as what stands around it. Raises `BadBoxes` without VUI.
    """
    sps = read_sps(nal)
    if sps.restriction_bit is None:
        raise BadBoxes("a parameter set tells no display information")
    bits = Bits(nal[1:].replace(_ESCAPE, b"\0\0"))
    head, bits.at = bits.text[: sps.restriction_bit], sps.restriction_bit + 1
    told = [1, 2, 1, 16, 16]  # the values that clause E.2.1 infers where nothing is told
    if sps.buffered is not None:
        told = [bits.take(1), *(bits.unsigned() for _ in range(4))]
    codes = "".join(unsigned_code(value) for value in (*told[1:], reorder, max(buffered, reorder, sps.refs)))
    text = f"{head}1{told[0]}{codes}1"
    text += "0" * (-len(text) % 8)
    return nal[:1] + _escaped(int(text, 2).to_bytes(len(text) // 8, "big"))


def _escaped(raw: bytes) -> bytes:
    out = bytearray()
    zeros = 0
    for byte in raw:
        if zeros == 2 and byte <= 3:  # noqa: PLR2004 - clause 7.4.1: 00 00 0x must not stand inside a unit
            out.append(3)
            zeros = 0
        out.append(byte)
        zeros = zeros + 1 if byte == 0 else 0
    return bytes(out)


def pps_id(nal: bytes) -> int:
    """Read the number of a picture parameter set."""
    return Bits(nal[1:].replace(_ESCAPE, b"\0\0")).unsigned()


@frozen
class Avcc:
    """The decoder's configuration: parameter sets as NAL units, and what stands around them."""

    head: bytes
    sps: tuple[bytes, ...]
    pps: tuple[bytes, ...]
    tail: bytes = b""

    @property
    def length_bytes(self) -> int:
        """How many bytes tell the length of a unit."""
        return (self.head[4] & 3) + 1

    def packed(self) -> bytes:
        """Write the record."""
        out = self.head[:5] + bytes([0xE0 | len(self.sps)])
        out += b"".join(struct.pack(">H", len(nal)) + nal for nal in self.sps) + bytes([len(self.pps)])
        return out + b"".join(struct.pack(">H", len(nal)) + nal for nal in self.pps) + self.tail

    def free_id(self, others: Iterable[int] = ()) -> int | None:
        """Give the lowest number that no parameter set bears, nor any of `others`.

        None if none is free, or if the record has no room for one more.
        """
        if len(self.sps) >= _MOST_SPS or len(self.pps) >= _MOST_PPS:
            return None
        taken = {read_sps(nal).id for nal in self.sps} | {pps_id(nal) for nal in self.pps} | set(others)
        return next((number for number in range(_SPS_ID_LIMIT) if number not in taken), None)

    def with_sets(self, sps: bytes, pps: bytes) -> Avcc:
        """Add a pair of parameter sets; profile and level become the higher."""
        new = read_sps(sps)
        profile = max(self.head[1], new.profile)
        constraints = self.head[2] & new.constraints
        head = bytes([self.head[0], profile, constraints, max(self.head[3], new.level)]) + self.head[4:]
        return Avcc(head, (*self.sps, sps), (*self.pps, pps), self.tail)


def read_avcc(raw: bytes) -> Avcc:
    """Read the record `avcC`. Raises `BadBoxes` if it is cut short."""
    lists: list[tuple[bytes, ...]] = []
    at = 5
    try:
        for mask in (0x1F, 0xFF):
            count, found = raw[at] & mask, []
            at += 1
            for _ in range(count):
                (length,) = struct.unpack_from(">H", raw, at)
                if at + 2 + length > len(raw) or not length:
                    raise BadBoxes("the picture's parameter sets are cut short")
                found.append(raw[at + 2 : at + 2 + length])
                at += 2 + length
            lists.append(tuple(found))
    except (IndexError, struct.error):
        raise BadBoxes("the picture's parameter sets are cut short") from None
    if not lists[0] or not lists[1]:
        raise BadBoxes("the picture's parameter sets are missing")
    return Avcc(raw[:5], lists[0], lists[1], raw[at:])


def units(sample: bytes) -> list[bytes]:
    """Split a sample with four-byte lengths into its units. Raises `BadBoxes` if a length leads outside."""
    found, at = [], 0
    while at + 4 <= len(sample):
        (length,) = struct.unpack_from(">I", sample, at)
        if at + 4 + length > len(sample):
            raise BadBoxes("a picture is damaged")
        found.append(sample[at + 4 : at + 4 + length])
        at += 4 + length
    return found


def first_slice(kind_bytes: list[int]) -> int | None:
    """Give the kind of the first slice among the first bytes of a sample's units."""
    return next((byte & 31 for byte in kind_bytes if byte & 31 in _SLICES), None)

"""Sound on the way where all of a film is coded anew: copied where nothing is cut, else cut to the sample."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt

from reelnotes.picture.coding import load_av
from reelnotes.picture.joints import Joints

#: Sound that MP4 holds as it is.
_COPIED = frozenset({"aac", "mp3", "ac3", "eac3", "alac", "flac", "opus"})
#: How so many channels lie, for the encoder; other numbers become two.
_LAYOUTS = {1: "mono", 3: "3.0", 4: "4.0", 5: "5.0", 6: "5.1", 8: "7.1"}
#: At a joint sound falls and rises within this many seconds; without it, it clicks.
_RAMP_S = 0.005
_BIT_RATE = 192_000
#: Times in whole milliseconds and the like jitter by less than this; more is a gap, or sound told twice.
_SLACK_S = 0.02


class SoundTrack:
    """One track of sound in the new film."""

    def __init__(self, made: Any, stream: Any, joints: Joints, origin: Fraction) -> None:  # noqa: ANN401 - loads late
        """Copy if nothing is cut and the form allows it, else decode, cut and code as AAC."""
        self.made, self.joints, self.origin = made, joints, origin
        self.copied = not joints.all and stream.codec_context.name in _COPIED
        if self.copied:
            self.stream = made.add_stream_from_template(stream)
        else:
            self.rate = stream.codec_context.sample_rate
            layout = _LAYOUTS.get(stream.codec_context.layout.nb_channels, "stereo")
            self.stream = made.add_stream("aac", rate=self.rate, layout=layout)
            self.stream.codec_context.bit_rate = _BIT_RATE
            self.resampler = load_av().AudioResampler("flt", layout, self.rate)
        self.stream.metadata.update(stream.metadata)
        self.next: int | None = None
        self.written = 0

    def take(self, packet: Any) -> None:  # noqa: ANN401 - the library loads late
        """Copy a packet, or decode, cut and code it."""
        if not self.copied:
            for frame in packet.decode():
                for ready in self.resampler.resample(frame):
                    self._cut(ready)
        elif packet.size and packet.pts is not None:
            shift = round(self.origin / Fraction(packet.time_base))
            packet.pts, packet.dts = (
                packet.pts - shift,
                (packet.dts if packet.dts is not None else packet.pts) - shift,
            )
            packet.stream = self.stream
            self.made.mux(packet)

    def finish(self) -> None:
        """Write what is still held back."""
        if not self.copied:
            for ready in self.resampler.resample(None):
                self._cut(ready)
            self.made.mux(self.stream.encode(None))

    def _cut(self, frame: Any) -> None:  # noqa: ANN401 - the library loads late
        """Leave out the samples that are gone; where sound is missing or comes twice, keep to its times."""
        # interleaved: the library reads memory that is not there where eight channels have a plane each
        values = frame.to_ndarray().reshape(-1, frame.layout.nb_channels).T
        start = Fraction(frame.pts or 0) * Fraction(frame.time_base or Fraction(1, self.rate)) - self.origin
        at = round(start * self.rate)
        if self.next is None:
            self.next, self.written = at, round(self.joints.moved(start) * self.rate)
        if at - self.next > _SLACK_S * self.rate:
            self._cut_values(np.zeros((len(values), at - self.next), np.float32), self.next)
        elif self.next - at > _SLACK_S * self.rate:
            values = values[:, self.next - at :]
        self._cut_values(values, self.next)

    def _cut_values(self, values: npt.NDArray[np.float32], first: int) -> None:
        """Write samples from number `first` on, but for what is gone; silence where a picture is held."""
        self.next = first + values.shape[1]
        numbers = np.arange(first, self.next)
        at = 0
        for joint in self.joints.all:
            start, end = round(joint.gone_from * self.rate), round(joint.gone_to * self.rate)
            if end < first or start >= self.next:
                continue
            cut, back = (min(max(edge - first, at), len(numbers)) for edge in (start, end))
            self._write(values[:, at:cut], numbers[at:cut])
            if first <= start < self.next and joint.held:
                self._write(np.zeros((len(values), round(joint.held * self.rate)), np.float32), None)
            at = back
        self._write(values[:, at:], numbers[at:])

    def _write(self, values: npt.NDArray[np.float32], numbers: npt.NDArray[np.int64] | None) -> None:
        if not values.shape[1]:
            return
        if numbers is not None:
            values = values * self._gain(numbers)
        frame = load_av().AudioFrame.from_ndarray(
            np.ascontiguousarray(values.T, np.float32).reshape(1, -1),
            format="flt",
            layout=self.stream.codec_context.layout.name,
        )
        frame.sample_rate, frame.pts, frame.time_base = self.rate, self.written, Fraction(1, self.rate)
        self.written += values.shape[1]
        self.made.mux(self.stream.encode(frame))

    def _gain(self, numbers: npt.NDArray[np.int64]) -> npt.NDArray[np.float32]:
        gain = np.ones(len(numbers))
        for joint in self.joints.all:
            start, end = round(joint.gone_from * self.rate), round(joint.gone_to * self.rate)
            distance = np.where(numbers < start, start - numbers, numbers - end + 1)
            gain = np.minimum(gain, np.clip(distance / (_RAMP_S * self.rate), 0, 1))
        return gain.astype(np.float32)

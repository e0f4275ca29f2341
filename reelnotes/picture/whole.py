"""The way for films whose parts cannot be coded anew on their own: all of it, in one pass."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reelnotes.picture.blend import FORMATS, Look, Overlays, Turn, turn_of
from reelnotes.picture.coding import Quality, load_av
from reelnotes.picture.film import Done, Progress, Tell, as_it_was, read_film, stamp_of, write_film
from reelnotes.picture.whole_plan import Changes, Plan, open_video, plan_whole, video_of
from reelnotes.picture.whole_sound import SoundTrack
from reelnotes.problems import FileChanged, FileUnreadable
from reelnotes.store import scratch_file, whole_file
from reelnotes.timing import format_time

if TYPE_CHECKING:
    import av

_FORMS = {".mov": "mov"}
_TEXTS = frozenset({"mov_text"})
_SPARE = 64 << 20
_MEASURE_S, _WARM = 1.0, 4
_MATRIX_BYTES = 36
_CODING = 0.97


def code_whole(
    source: Path,
    changes: Changes,
    target: Path,
    *,
    report: Progress,
    reason: str,
    quality: Quality,
    tell: Tell | None,
) -> Done:
    """Decode all of a film, change it, and code it anew as H.264 in MP4 or MOV.

    Sound is copied where nothing is cut and the form allows it, else coded anew as AAC; chapters, tags, turn,
    colours and captions of MP4's own kind are kept. `tell` is called first with the reason and the time.

    Raises `FileUnreadable`, `FileChanged`, `PanelUnfit`, `PanelUnseen`, `NothingLeft`, `DiskFull`,
    `FolderUnwritable`.
    """
    av = load_av()
    with _reading(source):
        if tell is not None:
            seconds = expected_s(source, quality)
            length = format_time(round(seconds * 1000))
            tell(f"The whole film is coded anew, because {reason}; this takes about {length}.")
        with open_video(source) as container:
            plan = plan_whole(source, container, changes)
    stamp = stamp_of(source.stat())
    needs = 2 * stamp[0] + _SPARE
    form = _FORMS.get(target.suffix.lower(), "mp4")
    with whole_file(target, needs=needs) as out, scratch_file(target.parent) as file:
        with _reading(source), open_video(source) as container, av.open(file, "w", format=form) as made:
            work = _Work(
                source=source, container=container, changes=changes, plan=plan, quality=quality, report=report
            )
            work.run(made)
        file.flush()
        film = read_film(target, file)  # again, so that the table of contents stands in front
        write_film(film, [as_it_was(track) for track in film.tracks], file, out, lambda _: None)
        with suppress(FileNotFoundError):  # taken away meanwhile, it was read to its end all the same
            if stamp_of(source.stat()) != stamp:
                raise FileChanged(source)
    report(1.0)
    return Done(work.count, work.count, reason, tuple(work.left_out), chapters=work.named)


@contextmanager
def _reading(source: Path) -> Iterator[None]:
    """Turn what the library cannot do with a source into a sentence, before it is taken for the disk's."""
    try:
        yield
    except load_av().FFmpegError as error:
        raise FileUnreadable(source, f"the video stops making sense: {error.strerror}".lower()) from None
    except OverflowError:
        raise FileUnreadable(source, "it tells times that no film can have") from None


def expected_s(source: Path, quality: Quality, *, for_s: float = _MEASURE_S) -> float:
    """Measure for about a second how long coding all of a film anew takes; give seconds for the whole."""
    av = load_av()
    with open_video(source) as container:
        video = video_of(source, container)
        rate = Fraction(video.average_rate or video.guessed_rate or 25)
        total = video.frames or round(Fraction(container.duration or 0, 1_000_000) * rate)
        encoder, began, done = None, time.perf_counter(), 0
        for frame in container.decode(video):
            pixels = _pixels(frame.format.name)
            ready = frame if frame.format.name == pixels else frame.reformat(format=pixels)
            if encoder is None:
                encoder = av.CodecContext.create("libx264", "w")
                encoder.width, encoder.height, encoder.pix_fmt = ready.width & ~1, ready.height & ~1, pixels
                encoder.time_base, encoder.framerate = 1 / rate, rate
                encoder.options = {"preset": quality.preset, "crf": str(quality.rate_factor)}
            ready.pts, ready.time_base, ready.pict_type = done, 1 / rate, 0
            encoder.encode(ready)
            done += 1
            if done == _WARM:  # opening decoder and encoder is not what takes long
                began = time.perf_counter()
            if time.perf_counter() - began > for_s and done > _WARM:
                break
        if encoder is not None:
            encoder.encode(None)  # what it has looked ahead at is not coded yet
        return (time.perf_counter() - began) / max(done - _WARM, 1) * max(total, done)


# --- the work ------------------------------------------------------------------------------------


class _Work:
    """One pass through a film: each packet is decoded, copied or left out."""

    def __init__(
        self,
        *,
        source: Path,
        container: av.container.InputContainer,
        changes: Changes,
        plan: Plan,
        quality: Quality,
        report: Progress,
    ) -> None:
        self.source, self.container, self.changes, self.plan = source, container, changes, plan
        self.quality, self.report = quality, report
        self.count = self.decoded = 0
        self.left_out: list[str] = []
        self.named = False
        self.overlays: Overlays | None = None
        self.kept: Any = None
        self.waiting = 0
        self.ticks = -(1 << 62)

    def run(self, made: av.container.OutputContainer) -> None:
        """Do all of it."""
        video = video_of(self.source, self.container)
        with open_video(self.source) as ahead:
            first = next(ahead.decode(video_of(self.source, ahead)), None)
        if first is None:
            raise FileUnreadable(self.source, "none of its pictures can be decoded")
        self._open_picture(made, video, first)
        sounds = {
            s.index: SoundTrack(made, s, self.plan.joints, self.plan.origin)
            for s in self.container.streams.audio
            if s.codec_context is not None
        }
        texts = self._open_texts(made)
        self._copy_tags(made)
        video.thread_type = "AUTO"
        for packet in self.container.demux():
            if packet.stream.index == video.index:
                for frame in video.decode(packet):
                    self._take(made, frame)
            elif packet.stream.index in sounds:
                sounds[packet.stream.index].take(packet)
            elif packet.stream.index in texts and packet.size:
                self._copy_text(made, packet, texts[packet.stream.index])
        self._fill(made, self.kept)
        made.mux(self.stream.encode(None))
        for sound in sounds.values():
            sound.finish()

    def _open_picture(self, made: Any, video: Any, first: av.VideoFrame) -> None:  # noqa: ANN401 - loads late
        av = load_av()
        rate = 1 / self.plan.step
        self.pixels = _pixels(first.format.name)
        self.size = (
            (first.width, first.height)
            if FORMATS[self.pixels][0] == 1
            else (first.width & ~1, first.height & ~1)
        )
        self.stream = made.add_stream("libx264", rate=rate)
        context = self.stream.codec_context
        context.width, context.height = self.size
        context.pix_fmt, self.base = self.pixels, Fraction(video.time_base or 1 / rate)
        context.time_base, context.framerate = self.base, rate
        context.sample_aspect_ratio = video.sample_aspect_ratio or Fraction(0)
        context.color_primaries, context.color_trc = first.color_primaries, first.color_trc
        context.colorspace, context.color_range = first.colorspace, first.color_range
        if first.interlaced_frame:
            context.flags |= av.codec.context.Flags.interlaced_dct
        context.options = {"preset": self.quality.preset, "crf": str(self.quality.rate_factor)}
        matrix = _display_matrix(first)
        turn = turn_of(matrix[0], matrix[1], matrix[3], matrix[4]) if matrix else Turn()
        if matrix:
            self.stream.set_display_matrix(matrix)
        aspect = Fraction(video.sample_aspect_ratio or 1) or Fraction(1)
        self.overlays = self._overlays(first, turn or Turn(), aspect)

    def _overlays(self, first: av.VideoFrame, turn: Turn, aspect: Fraction) -> Overlays:
        wide, high = round(self.size[0] * aspect), self.size[1]
        look = Look(
            width=self.size[0],
            height=self.size[1],
            shown_width=high if turn.swaps else wide,
            shown_height=wide if turn.swaps else high,
            turn=turn,
            pixels=self.pixels,
            matrix=int(first.colorspace),
            transfer=int(first.color_trc),
            full_range=int(first.color_range) == 2,  # noqa: PLR2004 - the library's number for full range
        )
        return Overlays(self.changes.panels, look)

    def _open_texts(self, made: Any) -> dict[int, Any]:  # noqa: ANN401 - loads late
        texts = {}
        for stream in self.container.streams:
            context = stream.codec_context
            if stream.type == "subtitle" and context is not None and context.name in _TEXTS:
                texts[stream.index] = made.add_stream_from_template(stream)
                texts[stream.index].metadata.update(stream.metadata)
            elif stream.type not in {"video", "audio"} or context is None:
                self.left_out.append(f"{stream.type} {(stream.name if context else '') or ''}".strip())
            elif stream.type == "video" and stream.index != video_of(self.source, self.container).index:
                self.left_out.append("a second picture")
        return texts

    def _copy_tags(self, made: Any) -> None:  # noqa: ANN401 - loads late
        made.metadata.update(self.container.metadata)
        chapters = []
        for chapter in self.container.chapters():
            unit = Fraction(chapter["time_base"] or 1)
            start, end = (
                self.plan.joints.moved(chapter[edge] * unit - self.plan.origin) for edge in ("start", "end")
            )
            if end > start:
                ticks = {
                    "start": round(start * 1000),
                    "end": round(end * 1000),
                    "time_base": Fraction(1, 1000),
                }
                chapters.append({**chapter, **ticks})
        if not chapters and self.changes.chapters:
            self.named = True
            chapters = [
                {
                    "id": n,
                    "start": start,
                    "end": end,
                    "time_base": Fraction(1, 1000),
                    "metadata": {"title": title},
                }
                for n, (start, end, title) in enumerate(self.changes.chapters)
            ]
        made.set_chapters(chapters)

    def _copy_text(self, made: Any, packet: Any, stream: Any) -> None:  # noqa: ANN401 - loads late
        base = Fraction(packet.time_base)
        start = Fraction(packet.pts or 0) * base - self.plan.origin
        end = start + (packet.duration or 0) * base
        moved = (self.plan.joints.moved(start), self.plan.joints.moved(end))
        if moved[1] > moved[0]:
            packet.pts = packet.dts = round(moved[0] / base)
            packet.duration, packet.stream = round((moved[1] - moved[0]) / base), stream
            made.mux(packet)

    # --- pictures

    def _take(self, made: Any, frame: av.VideoFrame) -> None:  # noqa: ANN401 - loads late
        plan = self.plan
        at = plan.times[min(self.decoded, len(plan.times) - 1)]
        if frame.pts is not None:
            at = Fraction(frame.pts) * Fraction(frame.time_base or self.base) - plan.origin
        self.decoded += 1
        self.report(_CODING * min(self.decoded / len(plan.times), 1.0))
        gone = any(joint.gone_from <= at < joint.gone_to for joint in plan.joints.all)
        if at in plan.held:
            self.waiting, self.hold_at = plan.held[at], plan.joints.begun(at)
            self._fill(made, self.kept if gone else frame)
        if gone:
            return
        self._fill(made, frame)
        self._encode(made, frame, plan.joints.moved(at, behind=True), round(at * 1000))
        self.kept = frame

    def _fill(self, made: Any, frame: av.VideoFrame | None) -> None:  # noqa: ANN401 - loads late
        """Show a held picture as often as is still owed; there being none yet, the next one will do."""
        if frame is None:
            return
        for number in range(self.waiting):
            self._encode(made, frame, self.hold_at + number * self.plan.step, None)
        self.waiting = 0

    def _encode(self, made: Any, frame: av.VideoFrame, at: Fraction, old_ms: int | None) -> None:  # noqa: ANN401
        av = load_av()
        if (frame.width, frame.height) != self.size or frame.format.name != self.pixels:
            frame = frame.reformat(width=self.size[0], height=self.size[1], format=self.pixels)
        if self.overlays is not None and old_ms is not None:
            strengths = {
                number: panel.strength(Fraction(old_ms), self.plan.step * 1000)
                for number, panel in enumerate(self.overlays.panels)
                if panel.start_ms <= old_ms < panel.end_ms
            }
            self.overlays.lay(frame, strengths)
        self.ticks = max(round(at / self.base), self.ticks + 1)  # times of a damaged film need not rise
        frame.pts, frame.time_base = self.ticks, self.base
        frame.pict_type = av.video.frame.PictureType.NONE
        made.mux(self.stream.encode(frame))
        self.count += 1


def _pixels(name: str) -> str:
    """Give the kind of pixels that a picture is turned into before a panel is laid over it."""
    if name in FORMATS:
        return name
    deep = any(mark in name for mark in ("p10", "p12", "p14", "p16", "010", "016", "48", "64"))
    return "yuv420p10le" if deep else "yuv420p"


def _display_matrix(frame: Any) -> list[int] | None:  # noqa: ANN401 - the library loads late
    import numpy as np

    found: list[Any] = [data for data in frame.side_data if _is_matrix(data)]
    return np.frombuffer(bytes(found[0])[:_MATRIX_BYTES], np.int32).tolist() if found else None


def _is_matrix(data: Any) -> bool:  # noqa: ANN401 - the library loads late
    return bool(data.type.name == "DISPLAYMATRIX")

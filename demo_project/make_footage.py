"""Make the demo's video: a small H.264/AAC file that follows the cut list of `clock-case`.

Each shot is a ground colour of its own with a bar that moves one pixel a frame; the sound is a soft tone
wherever somebody speaks and silence in the pauses. Nobody is filmed. About 1 MB, made in a few seconds.
"""

from __future__ import annotations

import colorsys
import sys
from fractions import Fraction
from pathlib import Path

EPISODE = Path(__file__).parent / "episodes" / "clock-case"
TARGET = Path(__file__).parent / "footage" / "clock-case.mp4"
WIDTH, HEIGHT, RATE, SOUND_RATE = 320, 180, 25, 48_000
_TONE_HZ, _LOUDNESS = 140.0, 0.12
_HUE_STEP = 0.618034  # the golden ratio: neighbours never look alike


def main() -> int:
    """Make the file unless it is there already; say so in one line."""
    if TARGET.exists():
        print(f"{TARGET}: already made")
        return 0
    try:
        import av  # noqa: F401
    except ImportError:
        print("make_footage: the demo's video needs the library av (pip install av); the rest works without")
        return 0
    from reelnotes.pipeline.reading import read_episode

    facts, _ = read_episode(EPISODE)
    shots = [(e.record.start_ms, e.record.end_ms) for e in facts.cuts]
    speech = [(c.start_ms, c.end_ms) for c in facts.cues if not c.text.startswith("[")]
    TARGET.parent.mkdir(exist_ok=True)
    partial = TARGET.with_suffix(".partial.mp4")
    render(partial, shots, speech, facts.duration_ms)
    partial.replace(TARGET)
    print(f"{TARGET}: {TARGET.stat().st_size / 1e6:.2f} MB")
    return 0


def render(path: Path, shots: list[tuple[int, int]], speech: list[tuple[int, int]], duration_ms: int) -> None:
    """Encode picture and sound side by side, a second at a time."""
    import av

    with av.open(str(path), "w") as container:
        video = container.add_stream(
            "libx264", rate=RATE, options={"preset": "veryfast", "crf": "30", "g": "125"}
        )
        video.width, video.height, video.pix_fmt = WIDTH, HEIGHT, "yuv420p"
        sound = container.add_stream("aac", rate=SOUND_RATE, layout="mono", options={"b": "24k"})
        for second in range(-(-duration_ms // 1000)):
            for index in range(second * RATE, (second + 1) * RATE):
                container.mux(video.encode(picture(index, shots)))
            container.mux(sound.encode(tone(second, speech)))
        container.mux(video.encode(None))
        container.mux(sound.encode(None))


def picture(index: int, shots: list[tuple[int, int]]) -> object:
    """Draw frame `index`: the shot's colour and the moving bar."""
    import av
    import numpy as np

    at_ms = index * 1000 // RATE
    shot = next((n for n, (start, end) in enumerate(shots) if start <= at_ms < end), len(shots))
    colour = colorsys.hls_to_rgb(shot * _HUE_STEP % 1, 0.42, 0.35)
    pixels = np.empty((HEIGHT, WIDTH, 3), np.uint8)
    pixels[:] = [round(255 * c) for c in colour]
    pixels[HEIGHT // 2 - 8 : HEIGHT // 2 + 8, index % (WIDTH - 16) : index % (WIDTH - 16) + 16] = 235
    frame = av.VideoFrame.from_ndarray(pixels, format="rgb24")
    frame.pts, frame.time_base = index, Fraction(1, RATE)
    return frame


def tone(second: int, speech: list[tuple[int, int]]) -> object:
    """Make one second of sound: the tone where somebody speaks."""
    import av
    import numpy as np

    at = (np.arange(SOUND_RATE) + second * SOUND_RATE) / SOUND_RATE
    spoken = np.zeros(SOUND_RATE, bool)
    for start, end in speech:
        spoken |= (at * 1000 >= start) & (at * 1000 < end)
    wave = _LOUDNESS * np.sin(2 * np.pi * _TONE_HZ * at) * (0.6 + 0.4 * np.sin(2 * np.pi * 4 * at)) * spoken
    frame = av.AudioFrame.from_ndarray(wave.astype(np.float32)[None, :], format="fltp", layout="mono")
    frame.sample_rate, frame.pts, frame.time_base = SOUND_RATE, second * SOUND_RATE, Fraction(1, SOUND_RATE)
    return frame


if __name__ == "__main__":
    sys.exit(main())

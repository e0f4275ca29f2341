"""What work on the video costs: one insert in a long film against coding it all, and against the floor.

The floor is the coding of the touched pictures alone, decoded beforehand and held in memory. Runs are paired:
each pair is made one after the other in one sitting, every run in a process of its own, whose peak memory is
told with it. The film is made once and kept where `--film` says (about 430 MB for ten minutes).
"""

from __future__ import annotations

import argparse
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Self

import numpy as np

SIZE, RATE, GROUP = (1920, 1080), 30, 250
INSERT_MS = 6000
#: Where the insert begins, as a share of a group: what hangs on it then is short or long.
PHASES = (0.1, 0.6)


def main() -> int:
    """Make the film if need be, run the pairs, print the ratios."""
    options = read_options()
    if options.job:
        print(json.dumps(run_job(options)))
        return 0
    if not options.film.exists():
        print(f"making {options.film} …", flush=True)
        make_film(options.film, options.minutes)
    megabytes = options.film.stat().st_size >> 20
    print(f"{options.film}: {options.minutes} min of {SIZE[0]}×{SIZE[1]} at {RATE}, {megabytes} MB")
    for phase in PHASES:
        pairs = [
            (job(options, "burn", phase), job(options, "floor", phase)) for _ in range(options.pairs + 1)
        ]
        coded = pairs[0][0]["coded"]
        report(f"one 6 s insert ({coded:.0f} pictures coded) : coding those alone (at most 1.4)", pairs[1:])
    pairs = [
        (job(options, "whole", PHASES[0]), job(options, "burn", PHASES[0])) for _ in range(options.whole)
    ]
    if pairs:
        report("coding all of it : one 6 s insert (at least 30)", pairs)
    jobs = {"five": "five inserts", "eighteen": "eighteen inserts", "cut": "30 s taken out"}
    for name, words in {**jobs, "copy": "copying the file"}.items():
        report_one(words, job(options, name, PHASES[0]))
    if options.long:
        options.film, options.minutes = make_long(options), options.long
        for name, words in jobs.items():
            report_one(f"{words}, film of {options.long} min", job(options, name, PHASES[0]))
    return 0


def read_options() -> argparse.Namespace:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--film", type=Path, default=Path(tempfile.gettempdir()) / "reelnotes-bench.mp4")
    parser.add_argument("--minutes", type=int, default=10)
    parser.add_argument("--pairs", type=int, default=5, help="pairs of an insert and its floor")
    parser.add_argument("--whole", type=int, default=2, help="pairs of an insert and the whole film")
    parser.add_argument(
        "--long", type=int, default=0, metavar="MINUTES", help="also a film so long (43 MB each minute)"
    )
    parser.add_argument("--preset", default="veryfast")
    parser.add_argument("--job", help=argparse.SUPPRESS)
    parser.add_argument("--phase", type=float, default=PHASES[0], help=argparse.SUPPRESS)
    return parser.parse_args()


def job(options: argparse.Namespace, name: str, phase: float) -> dict[str, float]:
    """Run one job in a process of its own."""
    command = [sys.executable, __file__, "--job", name, "--phase", str(phase), "--film", str(options.film)]
    command += ["--minutes", str(options.minutes), "--preset", options.preset]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def run_job(options: argparse.Namespace) -> dict[str, float]:
    """Do one job here; give seconds, pictures coded and peak memory of this process."""
    jobs: dict[str, Callable[[argparse.Namespace, Path], tuple[float, float, int]]] = {
        "burn": burn,
        "five": burn,
        "eighteen": burn,
        "floor": floor,
        "whole": whole,
        "cut": cut,
        "copy": copy,
    }
    import av  # noqa: F401 - loaded before any clock is started, for the floor as for the rest

    with tempfile.TemporaryDirectory(dir=options.film.parent) as scratch:
        seconds, cpu, coded = jobs[options.job](options, Path(scratch) / "new.mp4")
    return {"seconds": seconds, "cpu": cpu, "coded": coded, "peak_mb": peak_mb()}


class Clock:
    """Counts wall and CPU seconds of what runs inside it."""

    wall = cpu = 0.0

    def __enter__(self) -> Self:
        """Start."""
        self.began, self.began_cpu = time.perf_counter(), time.process_time()
        return self

    def __exit__(self, *_: object) -> None:
        """Stop."""
        self.wall += time.perf_counter() - self.began
        self.cpu += time.process_time() - self.began_cpu


def peak_mb() -> float:
    """Give the most memory this process ever had; what its parent had before does not count."""
    status = Path("/proc/self/status")
    if status.exists():
        line = next(line for line in status.read_text().splitlines() if line.startswith("VmHWM"))
        return int(line.split()[1]) / 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def panels_of(options: argparse.Namespace) -> list:  # type: ignore[type-arg] # the type loads late
    """Give the panel of the job, or several spread over the film."""
    from reelnotes.picture.blend import Panel

    picture = np.full((270, 1500, 4), 235, np.uint8)
    picture[:, :, 3] = 255
    last, inserts = options.minutes * 60 * RATE // GROUP, {"five": 5, "eighteen": 18}.get(options.job, 1)
    groups = [last * n // (inserts + 1) for n in range(1, inserts + 1)]
    starts = [round((group + options.phase) * GROUP * 1000 / RATE) for group in groups]
    return [Panel(picture, at, at + INSERT_MS, SIZE, left=210, top=700) for at in starts]


def burn(options: argparse.Namespace, target: Path) -> tuple[float, float, int]:
    """Burn in the insert."""
    from reelnotes.picture.burn import burn_in
    from reelnotes.picture.coding import Quality

    with Clock() as clock:
        done = burn_in(options.film, panels_of(options), target, quality=Quality(options.preset))
    return clock.wall, clock.cpu, done.coded


def floor(options: argparse.Namespace, target: Path) -> tuple[float, float, int]:
    """Code the touched pictures alone: panels are laid over them beforehand, and only the coding is timed."""
    from reelnotes.picture.blend import Overlays
    from reelnotes.picture.burn import laid_over, runs_of, windows_of
    from reelnotes.picture.coding import Coder, Quality, Sets
    from reelnotes.picture.film import open_film
    from reelnotes.picture.probe import look_of, pictures_of

    with open_film(options.film) as film, target.open("w+b") as made:
        pictures = pictures_of(film)
        windows = windows_of(pictures, film.tracks_of(b"vide")[0], panels_of(options))
        overlays = Overlays(panels_of(options), look_of(film, pictures))
        clock, count = Clock(), 0
        for run in runs_of(pictures, windows):
            frames = list(laid_over(pictures, run, overlays, windows))
            coder = Coder(pictures, Sets(pictures.avcc), made, Quality(options.preset))
            with clock:
                coder.code(frames, set(), pictures.reorder)
            count += len(frames)
    return clock.wall, clock.cpu, count


def whole(options: argparse.Namespace, target: Path) -> tuple[float, float, int]:
    """Code all of the film anew with the insert in it."""
    from reelnotes.picture.coding import Quality
    from reelnotes.picture.whole import code_whole
    from reelnotes.picture.whole_plan import Changes

    changes, quality = Changes(panels=tuple(panels_of(options))), Quality(options.preset)
    with Clock() as clock:
        done = code_whole(
            options.film, changes, target, report=lambda _: None, reason="", quality=quality, tell=None
        )
    return clock.wall, clock.cpu, done.coded


def cut(options: argparse.Namespace, target: Path) -> tuple[float, float, int]:
    """Take half a minute out."""
    from reelnotes.picture.coding import Quality
    from reelnotes.picture.splice import take_out
    from reelnotes.timing import Span

    at = options.minutes * 30_000 + 3210
    with Clock() as clock:
        done = take_out(options.film, [Span(at, at + 30_000)], [], target, quality=Quality(options.preset))
    return clock.wall, clock.cpu, done.coded


def copy(options: argparse.Namespace, target: Path) -> tuple[float, float, int]:
    """Copy the file as it is."""
    import shutil

    with Clock() as clock:
        shutil.copyfile(options.film, target)
    return clock.wall, clock.cpu, 0


def make_film(path: Path, minutes: int) -> None:
    """Make a film of a slow pan over a textured ground with grain, and noise for sound."""
    import av

    rng = np.random.default_rng(3)
    width, height = SIZE
    rows, columns = np.mgrid[0 : height + 256, 0 : width + 1024]
    ground = 110 + 50 * np.sin(columns / 37) * np.cos(rows / 23) + 25 * np.sin((columns + 2 * rows) / 5)
    grain = [rng.normal(0, 2.2, (height, width)).astype(np.float32) for _ in range(7)]
    ground = (ground + rng.normal(0, 6, ground.shape)).astype(np.float32)
    partial = path.with_suffix(".part.mp4")
    with av.open(str(partial), "w") as made:
        video = made.add_stream("libx264", rate=RATE)
        video.width, video.height, video.pix_fmt = width, height, "yuv420p"
        video.options = {
            "preset": "veryfast",
            "b": "5800k",
            "x264-params": f"keyint={GROUP}:min-keyint={GROUP}:scenecut=0",
        }
        video.codec_context.bit_rate = 5_800_000
        sound = made.add_stream("aac", rate=48_000, layout="stereo")
        chroma = np.full((height // 2, width), 128, np.uint8)
        for number in range(minutes * 60 * RATE):
            x, y = abs(number % 2048 - 1024), number // 8 % 256
            luma = ground[y : y + height, x : x + width] + grain[number % len(grain)]
            picture = np.concatenate([np.clip(luma, 16, 235).astype(np.uint8), chroma])
            frame = av.VideoFrame.from_ndarray(picture, format="yuv420p")
            frame.pts, frame.time_base = number, Fraction(1, RATE)
            made.mux(video.encode(frame))
            for at in range(number * 1600, (number + 1) * 1600, 800):
                values = (rng.standard_normal((2, 800)) * 0.05).astype(np.float32)
                tone = av.AudioFrame.from_ndarray(values, format="fltp", layout="stereo")
                tone.sample_rate, tone.pts, tone.time_base = 48_000, at, Fraction(1, 48_000)
                made.mux(sound.encode(tone))
        made.mux(video.encode(None))
        made.mux(sound.encode(None))
    partial.rename(path)


def make_long(options: argparse.Namespace) -> Path:
    """Make a longer film beside the first by repeating its packets; keep it."""
    import av

    path: Path = options.film.with_name(f"{options.film.stem}-{options.long}min.mp4")
    if path.exists():
        return path
    partial = path.with_suffix(".part.mp4")
    with av.open(str(partial), "w") as made:
        with av.open(str(options.film)) as film:
            copies = [made.add_stream_from_template(old) for old in film.streams]
        for turn in range(-(-options.long // options.minutes)):
            with av.open(str(options.film)) as film:
                for packet in film.demux():
                    if packet.dts is None or packet.pts is None:
                        continue
                    later = int(turn * (options.minutes * 60 + 1) / packet.time_base)
                    packet.pts, packet.dts = packet.pts + later, packet.dts + later
                    packet.stream = copies[packet.stream.index]
                    made.mux(packet)
    partial.rename(path)
    return path


def report_one(words: str, found: dict[str, float]) -> None:
    """Print what one job took."""
    print(
        f"{words}: {found['seconds']:.1f} s, {found['coded']:.0f} coded, peak {found['peak_mb']:.0f} MB",
        flush=True,
    )


def report(words: str, pairs: list[tuple[dict[str, float], dict[str, float]]]) -> None:
    """Print the ratio of wall times with its spread, and what the first of each pair took."""
    for name, what in (("seconds", "wall"), ("cpu", "CPU")):
        ratios = [first[name] / second[name] for first, second in pairs]
        spread = f"{min(ratios):.2f} to {max(ratios):.2f}, {len(ratios)} pairs"
        print(f"{words}, {what}: {statistics.median(ratios):.2f} ({spread})")
    took = statistics.median(first["seconds"] for first, _ in pairs)
    peak = max(first["peak_mb"] for first, _ in pairs)
    print(f"    {took:.1f} s, peak {peak:.0f} MB", flush=True)


if __name__ == "__main__":
    raise SystemExit(main())

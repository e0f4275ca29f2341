"""The two ways of changing a film: only the parts that change, or where its form forbids that, all of it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from reelnotes.picture.coding import CannotPatch, Quality
from reelnotes.picture.film import Done, Film, NotTables, Progress, Tell, open_film
from reelnotes.picture.probe import REASONS, check_target
from reelnotes.picture.stopping import heeding
from reelnotes.picture.whole import code_whole
from reelnotes.picture.whole_plan import Changes

#: What changes the parts of an opened film and writes the new one.
Patch = Callable[[Film, Changes, Path, Progress, Quality], Done]


def patch_or_code_whole(
    source: Path,
    changes: Changes,
    target: Path,
    patch: Patch,
    *,
    progress: Progress | None,
    quality: Quality | None,
    tell: Tell | None,
) -> Done:
    """Change a film by `patch`, or code it anew as a whole where it cannot be patched.

    `tell` is called before the whole is coded, with the reason and the expected time. However the work is
    asked to stop, nothing half-written stays. Raises what `check_target`, `patch` and `code_whole` raise.
    """
    check_target(source, target)
    quality = quality or Quality()
    with heeding(progress) as report:
        try:
            with open_film(source) as film:
                return patch(film, changes, target, report, quality)
        except (NotTables, CannotPatch) as found:
            reason = REASONS[found.code]
        return code_whole(source, changes, target, report=report, reason=reason, quality=quality, tell=tell)

"""The one dynamic programme over the whole episode: which entry each beat of speech tells.

A hidden Markov model over beats. At each beat the maker either tells an entry or idles (greeting, gossip,
sign-off) behind the entry told last. From there the telling mostly moves on to the next entry that is told
at all, now and then jumps anywhere. The forward-backward recursions are those of L. R. Rabiner, "A tutorial
on hidden Markov models", Proc. IEEE 77 (1989), with scaling at each beat.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reelnotes.records import frozen

Array = NDArray[np.float64]


@frozen
class Habits:
    """How a maker tells: chances for one beat or one move.

    `rest` is the chance that a telling is followed by idling, `jump` that a move goes anywhere instead of
    forward; `telling` and `idling` are the mean lengths of a telling and of a pause between two, as shares of
    the programme's length for each telling to expect.
    """

    rest: float = 0.5
    jump: float = 0.2
    telling: float = 0.3
    idling: float = 0.3
    reveal: float = 0.5
    kin: float = 0.5


@frozen
class Posterior:
    """What the whole transcript says of each entry (rows) at each beat (columns).

    `telling` is the chance that the beat tells the entry, `starting` that its telling begins there, `idle`
    that a beat tells none; `likelihood` is the log likelihood of all beats over that of idling speech.
    """

    telling: Array
    starting: Array
    idle: Array
    likelihood: float


@frozen
class Course:
    """How the telling may go on from beat to beat.

    `stay` and `stay_idle` (beats) are the chances to go on from the beat before with the same telling, with
    the same pause; `move` is what `moves` gives; `rest` the chance that a telling is followed by a pause.
    """

    stay: Array
    stay_idle: Array
    move: Array
    rest: float


def moves(chance_told: Array, habits: Habits, kin: Array | None = None) -> Array:
    """Give the chances to move on from behind each entry (row 0: from before the first) to each entry.

    Forward moves pass over an entry at the price of its being untold; what is left when all that follow are
    passed over goes to the jumps. A jump lands anywhere, from the start more often on the last ones (the
    result is shown first), and else more often on entries that are kin: `kin` (entries by entries) says how
    much two entries speak of the same part.
    """
    count = len(chance_told)
    forward = np.zeros((count + 1, count))
    for row in range(count + 1):
        passed = np.cumprod(np.concatenate(([1.0], 1 - chance_told[row:])))
        forward[row, row:] = chance_told[row:] * passed[:-1]
    forward *= 1 - habits.jump
    landing = np.tile(chance_told / chance_told.sum(), (count + 1, 1))
    late = np.linspace(0, 1, count) ** 8 * chance_told + 1e-9
    landing[0] = (1 - habits.reveal) * landing[0] + habits.reveal * late / late.sum()
    if kin is not None:
        weight = kin * chance_told
        whole = weight.sum(axis=1, keepdims=True)
        near = np.divide(weight, whole, out=np.zeros_like(weight), where=whole > 0)
        landing[1:] = np.where(whole > 0, (1 - habits.kin) * landing[1:] + habits.kin * near, landing[1:])
    spread: Array = forward + (1 - forward.sum(axis=1, keepdims=True)) * landing
    return spread


def posterior(gain: Array, course: Course) -> Posterior:
    """Run forward and backward over the beats.

    `gain` (entries by beats) is the log likelihood of a beat under an entry, over that under idling speech.
    The cost grows with entries squared times beats.
    """
    lift = np.maximum(gain.max(axis=0), 0.0)
    emit = np.exp(gain - lift).T.copy()
    hush = np.exp(-lift)
    forward = _forward(emit, hush, course)
    telling, starting = _backward(emit, hush, course, forward)
    likelihood = float(np.log(forward[2]).sum() + lift.sum())
    return Posterior(telling.T, starting.T, 1 - telling.sum(axis=1), likelihood)


def _forward(emit: Array, hush: Array, course: Course) -> tuple[Array, Array, Array]:
    """Give the scaled forward chances of telling and of newly starting each entry, and the scales."""
    beats, entries = emit.shape
    told, into, scale = np.empty((beats, entries)), np.empty((beats, entries)), np.empty(beats)
    now, idle, leave = np.zeros(entries), np.zeros(entries + 1), np.empty(entries + 1)
    idle[0] = 1.0
    chances = zip(course.stay.tolist(), course.stay_idle.tolist(), hush.tolist(), strict=True)
    for j, (stay, rest, quiet) in enumerate(chances):
        np.multiply(idle, 1 - rest, out=leave)
        leave[1:] += ((1 - stay) * (1 - course.rest)) * now
        np.dot(leave, course.move, out=into[j])
        idle *= rest * quiet
        idle[1:] += ((1 - stay) * course.rest * quiet) * now
        new = told[j]
        np.multiply(now, stay, out=new)
        new += into[j]
        new *= emit[j]
        total = new.sum() + idle.sum()
        new /= total
        idle /= total
        now, scale[j] = new, total
    return told, into, scale


def _backward(
    emit: Array, hush: Array, course: Course, forward: tuple[Array, Array, Array]
) -> tuple[Array, Array]:
    """Give the posterior chances of telling and of starting, from the forward ones."""
    told, into, scale = forward
    beats, entries = emit.shape
    telling, starting = np.empty((beats, entries)), np.empty((beats, entries))
    back, back_idle, onward = np.ones(entries), np.ones(entries + 1), np.empty(entries + 1)
    shown = np.empty(entries)
    for j in range(beats - 1, -1, -1):
        np.multiply(told[j], back, out=telling[j])
        np.multiply(emit[j], back, out=shown)
        shown /= scale[j]
        np.multiply(into[j], shown, out=starting[j])
        stay, rest = float(course.stay[j]), float(course.stay_idle[j])
        np.dot(course.move, shown, out=onward)
        back_idle *= hush[j] / scale[j]
        np.multiply(shown, stay, out=back)
        back += ((1 - stay) * (1 - course.rest)) * onward[1:]
        back += ((1 - stay) * course.rest) * back_idle[1:]
        back_idle *= rest
        onward *= 1 - rest
        back_idle += onward
    return telling, starting


def coarse(gain: Array, course: Course) -> tuple[Array, Course]:
    """Join the beats by twos, for a first look at half the cost."""
    firsts = np.arange(0, gain.shape[1], 2)
    joined = Course(
        np.multiply.reduceat(course.stay, firsts),
        np.multiply.reduceat(course.stay_idle, firsts),
        course.move,
        course.rest,
    )
    return np.add.reduceat(gain, firsts, axis=1), joined

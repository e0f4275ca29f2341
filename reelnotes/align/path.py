"""The one dynamic programme over the whole episode: which entry each beat of speech tells.

A hidden Markov model over beats. At each beat the maker either tells an entry or idles (greeting, gossip,
sign-off) behind the entry told last. From there the telling mostly moves on to the next entry that is told
at all, now and then jumps anywhere. The forward-backward recursions are those of L. R. Rabiner, "A tutorial
on hidden Markov models", Proc. IEEE 77 (1989), with scaling at each beat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Habits:
    """How a maker tells: chances for one beat or one move.

    `rest` is the chance that a telling is followed by idling, `jump` that a move goes anywhere instead of
    forward; `telling` and `idling` are the mean lengths of a telling and of a pause between two, as shares of
    the programme's length for each telling to expect.
    """

    rest: float = 0.6
    jump: float = 0.2
    telling: float = 0.25
    idling: float = 0.4


@dataclass(frozen=True, slots=True)
class Posterior:
    """What the whole transcript says of each entry (rows) at each beat (columns).

    `telling` is the chance that the beat tells the entry, `starting` that its telling begins there, `idle`
    that a beat tells none; `likelihood` is the log likelihood of all beats over that of idling speech.
    """

    telling: Array
    starting: Array
    idle: Array
    likelihood: float


def moves(chance_told: Array, habits: Habits) -> Array:
    """Give the chances to move on from behind each entry (row 0: from before the first) to each entry.

    Forward moves pass over an entry at the price of its being untold; what is left when all that follow are
    passed over goes to the jumps.
    """
    count = len(chance_told)
    forward = np.zeros((count + 1, count))
    for row in range(count + 1):
        passed = np.cumprod(np.concatenate(([1.0], 1 - chance_told[row:])))
        forward[row, row:] = chance_told[row:] * passed[:-1]
    jumps = chance_told / chance_told.sum()
    forward *= 1 - habits.jump
    spread: Array = forward + (1 - forward.sum(axis=1, keepdims=True)) * jumps
    return spread


def posterior(gain: Array, stay: Array, stay_idle: Array, move: Array, rest: float) -> Posterior:
    """Run forward and backward over the beats.

    `gain` (entries by beats) is the log likelihood of a beat under an entry, over that under idling speech;
    `stay` and `stay_idle` (beats) are the chances to go on from the beat before with the same; `move` is what
    `moves` gives. The cost grows with entries squared times beats.
    """
    entries, beats = gain.shape
    lift = np.maximum(gain.max(axis=0), 0.0)
    emit = np.exp(gain - lift).T.copy()
    idle_emit = np.exp(-lift)
    told, idle = np.zeros((beats, entries)), np.zeros((beats, entries + 1))
    into = np.zeros((beats, entries))
    scale = np.zeros(beats)
    told_now, idle_now = np.zeros(entries), np.zeros(entries + 1)
    idle_now[0] = 1.0
    go, first = move[1:].copy(), move[0]
    for j in range(beats):
        s, t = stay[j], stay_idle[j]
        leave = ((1 - s) * (1 - rest)) * told_now + (1 - t) * idle_now[1:]
        into[j] = leave @ go + ((1 - t) * idle_now[0]) * first
        told_new = (s * told_now + into[j]) * emit[j]
        idle_now *= t
        idle_now[1:] += ((1 - s) * rest) * told_now
        idle_now *= idle_emit[j]
        total = told_new.sum() + idle_now.sum()
        scale[j] = total
        told_now = told_new / total
        idle_now = idle_now / total
        told[j], idle[j] = told_now, idle_now
    back_told, back_idle = np.ones(entries), np.ones(entries + 1)
    telling, starting = np.empty((beats, entries)), np.empty((beats, entries))
    for j in range(beats - 1, -1, -1):
        telling[j] = told[j] * back_told
        shown = emit[j] * back_told / scale[j]
        starting[j] = into[j] * shown
        s, t = stay[j], stay_idle[j]
        hushed = (idle_emit[j] / scale[j]) * back_idle
        onward = go @ shown
        back_told = s * shown + (1 - s) * ((1 - rest) * onward + rest * hushed[1:])
        back_idle = t * hushed
        back_idle[1:] += (1 - t) * onward
        back_idle[0] += (1 - t) * (first @ shown)
    likelihood = float(np.log(scale).sum() + lift.sum())
    return Posterior(telling.T, starting.T, 1 - telling.sum(axis=1), likelihood)

"""Cuts rendered songs at their phrase starts and joins them anew: many forms out of one rendering, as a radio edit or another verse would be.

A song is (sounds [beats, 46], places, beats to the bar, phrases as (from, to, label), beats counted from the first phrase to the last's end).
"""
from __future__ import annotations

import numpy as np

from form_inputs import HARMONY, LEVEL_DB, LOUDNESS, RHYTHM, TIMBRE

SORT = lambda label: label.rstrip("0123456789")


def played_again(sounds, rng):
    """The same beats as another playing of them would sound."""
    s = sounds.copy()
    if rng.uniform() < .15:
        return s
    k = rng.uniform(.2, 1.)
    s[:, HARMONY] *= np.exp(rng.normal(0, .15 * k, (len(s), 12)))
    s[:, HARMONY] /= np.maximum(np.linalg.norm(s[:, HARMONY], axis=1, keepdims=True), 1e-6)
    s[:, TIMBRE] += rng.normal(0, .04 * k, (len(s), 14)) * s[:, TIMBRE].std() * 4 + rng.normal(0, .05 * k, (1, 14)) * s[:, TIMBRE].std() * 4
    s[:, RHYTHM] *= np.exp(rng.normal(0, .2 * k, (len(s), 16)))
    louder = rng.normal(0, .5)
    s[:, LOUDNESS] += louder * .1 * s[:, LOUDNESS].std()
    s[:, LEVEL_DB] += louder
    return s


def spliced(sounds, places, per_bar, phrases, rng):
    """Another song of the same phrases: (sounds, places, phrases)."""
    first, end = phrases[0][0], phrases[-1][1]
    pieces = [(np.arange(a, b), label, False) for a, b, label in phrases]
    is_tune = any(label.startswith("tune") for _, _, label in phrases)
    many = rng.uniform(.3, 1.3)
    chance = lambda p: rng.uniform() < p * many
    if len(pieces) > 4 and SORT(pieces[0][1]) == "intro" and chance(.4):
        pieces.pop(0)
    for _ in range(2):
        if len(pieces) > 5 and chance(.3):
            pieces.pop(int(rng.integers(len(pieces))))
    if chance(.3):                                  # a phrase comes once more, elsewhere
        k = int(rng.integers(len(pieces)))
        if SORT(pieces[k][1]) not in ("intro", "ending", "outro", "closing"):
            to = k + 1 if rng.uniform() < .5 else int(rng.integers(1, len(pieces)))
            pieces.insert(to, (pieces[k][0], pieces[k][1], True))
    if len(pieces) > 5 and not is_tune and chance(.15):
        j, k = rng.choice(np.arange(1, len(pieces)), 2, replace=False)
        pieces[j], pieces[k] = pieces[k], pieces[j]
    if SORT(pieces[0][1]) != "intro" and not is_tune and chance(.25):
        # The band goes round a few bars of what comes next, or of the song's chords, before the first phrase.
        source = pieces[0 if rng.uniform() < .6 else int(rng.integers(len(pieces)))][0]
        bars = int(rng.choice([2, 4, 4, 8])) * per_bar
        if len(source) >= bars:
            pieces.insert(0, (source[:bars] if rng.uniform() < .8 else source[-bars:], "intro", True))
    usual = {}
    for k, (at, label, again) in enumerate(pieces):
        change = usual.get(label)
        if change is None or rng.uniform() < .3:
            change = rng.uniform() if is_tune else rng.uniform() / max(many, .5)
            if rng.uniform() < .5:
                usual[label] = change
        bar = per_bar
        if change < .05:                            # a bar over, at either end
            at = np.concatenate([at, at[-bar:]]) if rng.uniform() < .75 else np.concatenate([at[:bar], at])
        elif change < .08:
            at = np.concatenate([at, at[-2:]]) if bar == 4 else at
        elif change < .12 and len(at) > 3 * bar:
            at = at[:-bar] if rng.uniform() < .75 else at[bar:]
        elif change < .14 and len(at) > 3 * bar and bar == 4:
            at = at[:-2]
        elif change < .18 and len(at) >= 8 * bar and len(at) % (2 * bar) == 0:
            at = at[:len(at) // 2] if rng.uniform() < .5 else at[len(at) // 2:]
        elif change < .20 and len(at) <= 16 * bar:  # twice as long
            at = np.concatenate([at, at])
        pieces[k] = at, label, again
    before, after = np.arange(first), np.arange(end, len(sounds))
    if first and chance(.3):
        before = before[len(before) - int(rng.integers(0, first + 1)):]
    out, row, at, turn = [sounds[before]], [before], len(before), 0
    found = []
    for k, (beats, label, again) in enumerate(pieces):
        s = played_again(sounds[beats], rng) if again else sounds[beats].copy()
        if k > len(pieces) // 2 and chance(.02):
            turn = int(rng.integers(1, 3))          # up a tone for the end
        s[:, HARMONY] = np.roll(s[:, HARMONY], turn, 1)
        out.append(s), row.append(beats)
        found.append((at, at + len(beats), label))
        at += len(beats)
    out.append(sounds[after]), row.append(after)
    return np.concatenate(out), places[np.concatenate(row)], found

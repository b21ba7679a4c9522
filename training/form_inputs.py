"""What the network that hears phrases is told of each beat, out of how the beats sound: as src/song/form/{novelty,inputs}.rs have it.

    python3 form_inputs.py SONG.in       checks that this file and the program say the same of a song

Training needs it here because songs are cut and joined anew on the way (form_splice.py), and cues are of the whole song.
"""
from __future__ import annotations

import sys

import numpy as np

HARMONY, TIMBRE, RHYTHM = slice(0, 12), slice(12, 26), slice(26, 42)
LOUDNESS, CYMBAL, LEVEL_DB, SOUNDING = 42, 43, 44, 45


def _sums(x):
    return np.concatenate([np.zeros((1, *x.shape[1:])), np.cumsum(x, 0, dtype=np.float64)])


def contrast(x, window):
    n = len(x)
    s, q = _sums(x), _sums(x * x)
    i = np.arange(n)
    lo, hi = np.maximum(i - window, 0), np.minimum(i + window, n)

    def of(a, b):
        k = np.maximum(b - a, 1)[:, None]
        m = (s[b] - s[a]) / k
        return m, np.maximum((q[b] - q[a]) / k - m * m, 0)
    (mb, vb), (ma, va) = of(lo, i), of(i, hi)
    within = (vb + va) / 2 + .1 * x.var(0) + 1e-6
    out = np.sqrt(((ma - mb) ** 2 / within).mean(1))
    out[(i < window // 2) | (i + window // 2 > n)] = 0
    return out


def over_recent(v):
    s = _sums(v)
    i = np.arange(len(v))
    lo = np.maximum(i - 16, 0)
    return np.where(i > 0, np.maximum(v - (s[i] - s[lo]) / np.maximum(i - lo, 1), 0), 0)


def unlike_earlier_bars(r, per_bar):
    scale = np.maximum(r.var(0), 1e-12)
    out = np.zeros(len(r))
    for back in (per_bar, 2 * per_bar):
        out[back:] += np.sqrt((((r[back:] - r[:len(r) - back]) ** 2) / scale).mean(1)) / 2 if len(r) > back else 0
    return out


def particular(x):
    y = x - x.mean(0)
    return y / np.maximum(np.linalg.norm(y, axis=1, keepdims=True), .05)


def repetition(x, span):
    n = len(x)
    if not 2 * span <= n <= 3600:
        return np.zeros(n), np.zeros(n)
    x = x.astype(np.float32)
    run = x @ x.T
    for i in range(1, n):
        run[i, 1:] += run[i - 1, :-1]
    ahead = np.zeros((n + 1, n + 1), np.float32)    # sums over the diagonal before a pair of beats
    ahead[1:, 1:] = run
    mid = ahead[span:n - span, span:n - span]
    jump = (ahead[2 * span:n, 2 * span:n] - 2 * mid + ahead[:n - 2 * span, :n - 2 * span]) / span
    m = len(jump)
    far = np.abs(np.arange(m)[:, None] - np.arange(m)) >= 8
    out = []
    for sign in (1, -1):
        v = np.where(far, np.maximum(sign * jump, 0), 0)
        top = np.partition(v, m - 5, axis=1)[:, m - 5:].sum(1) if m > 5 else v.sum(1)
        whole = np.zeros(n)
        whole[span:n - span] = top
        out.append(whole)
    return out


def standardise(v):
    d = v.std()
    return np.minimum((v - v.mean()) / d, 6) if d > 1e-3 else np.zeros_like(v)


def inputs(sounds, places, per_bar):
    """[beats, 46], place of each beat in its bar (1-based), beats to the bar → [beats, 72] float32"""
    sounds = sounds.astype(np.float64)
    n = len(sounds)
    harmony, timbre, rhythm = sounds[:, HARMONY], sounds[:, TIMBRE], sounds[:, RHYTHM]
    loud = sounds[:, LOUDNESS]
    s, i = _sums(loud), np.arange(n)
    level = lambda a, b: np.where(b > a, (s[b] - s[a]) / np.maximum(b - a, 1), 0)
    step = level(i, np.minimum(i + 4, n)) - level(np.maximum(i - 4, 0), i)
    busy = over_recent(rhythm.sum(1))
    unlike = unlike_earlier_bars(rhythm, per_bar)
    u, half = _sums(unlike), (per_bar + 1) // 2
    lo = np.maximum(i - half, 0)
    h, t = particular(harmony), particular(timbre)
    both = np.concatenate([h, .6 * t], 1)
    both /= np.maximum(np.linalg.norm(both, axis=1, keepdims=True), 1e-6)
    cues = [contrast(timbre, w) for w in (4, 8, 16)] + [contrast(rhythm, w) for w in (4, 8, 16)] + [contrast(harmony, w) for w in (8, 16, 32)]
    cues += [np.maximum(step, 0), np.maximum(-step, 0), over_recent(sounds[:, CYMBAL]), np.concatenate([[0], busy[:-1]]),
             (u[i] - u[lo]) / np.maximum(i - lo, 1), over_recent(unlike), *repetition(h, 16), *repetition(both, 32 if n > 160 else 16)]
    cues = [standardise(c) for c in cues]
    cues += [places == 1, (per_bar > 1) & ((places - 1) * 2 == per_bar)]
    rms = lambda v: max(float(np.sqrt((v ** 2).mean())), 1e-6)
    out = np.empty((n, 72), np.float32)
    out[:, :12], out[:, 12:26], out[:, 26:42] = h, t, rhythm / rms(rhythm)
    out[:, 42:63] = np.stack(cues, 1)
    out[:, 63] = (loud - loud.mean()) / rms(loud - loud.mean())
    out[:, 64], out[:, 65] = sounds[:, LEVEL_DB] / 20, sounds[:, SOUNDING]
    out[:, 66:70] = [per_bar == 2, per_bar == 3, per_bar == 4, per_bar not in (2, 3, 4)]
    out[:, 70], out[:, 71] = np.minimum(i, 64) / 64, np.minimum(n - i, 64) / 64
    return np.clip(out, -6, 6)


if __name__ == "__main__":
    from form_stream import read_inputs
    times, places, per_bar, told, sounds = read_inputs(sys.argv[1])
    here = inputs(sounds, places, per_bar)
    print("largest difference", np.abs(here - told).max(), "in value", int(np.abs(here - told).max(0).argmax()))

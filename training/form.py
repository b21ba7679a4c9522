"""Learns the weights that phrases are suggested with (src/song/form: WEIGHTS in novelty.rs, LENGTH in segment.rs, the
edges' in edges.rs), all at once, as a semi-Markov conditional random field (Sarawagi & Cohen, 2004).

    python3 form.py CUES_DIR DATA_DIR [DATA_DIR ...] [--rounds 40] [--ridge 2]

CUES_DIR holds NAME.tsv, as `cargo run --release --example dump_cues WAV` prints it; a DATA_DIR the songs' NAME.beats and
NAME.phrases, the last line of which is the last chord, and NAME.json with `half`, where there is one: only songs for
tuning are learned from. Songs whose beats were not found are left out.
"""
import argparse
import json
import os
import re

import mir_eval
import numpy as np
from scipy.optimize import minimize

import form_accuracy

FIRST, END, LEFT_OUT = 3, 4, 4
RING = 16                       # LONGEST_RING in edges.rs
ANYWHERE = 64


def shares_by_bars():
    source = open(os.path.join(os.path.dirname(__file__), "../src/song/form/lengths.rs")).read()
    table = source[source.index("SHARE_BY_BARS"):source.index("];")]
    return {int(b): float(s) for b, s in re.findall(r"\((\d+), ([\d.]+)\)", table)}


SHARES = shares_by_bars()


def share(beats, bar):
    seen = lambda bars: SHARES.get(bars, 0) + .0005
    bars, over = divmod(beats, bar)
    return .967 * seen(bars) if over == 0 else .033 * (seen(bars) + seen(bars + 1)) / 2 / (bar - 1)


def log_shares(n, per_bar):
    """Log share of each length in beats, as lengths.rs has it; index 0 stands for nothing."""
    long = 2 * per_bar if per_bar in (2, 3) else per_bar            # which of the two is left open here, phrase by phrase
    return np.array([-30.] + [np.log(.5 * share(b, per_bar) + .5 * share(b, long)) for b in range(1, min(n, 48 * long) + 1)])


def log_sum(x):
    m = x.max()
    return m if m == -np.inf else m + np.log(np.exp(x - m).sum())


class Song:
    def __init__(self, name, cues_path, truth):
        with open(cues_path) as f:
            self.per_bar, self.n = map(int, f.readline().split())
            x = np.loadtxt(f, ndmin=2)
        self.name, n = name, self.n
        self.times, x = x[:, 0], x[:, 1:]
        self.k = x.shape[1] - FIRST - END - LEFT_OUT
        self.cues, self.first = x[:, :self.k], x[:, self.k:self.k + FIRST]
        self.end = np.vstack([x[:, self.k + FIRST:self.k + FIRST + END], np.zeros(END)])
        self.before = np.vstack([np.zeros(LEFT_OUT), np.cumsum(x[:, -LEFT_OUT:], 0)])      # summed over the beats before each
        self.after = self.before[-1] - self.before
        self.shares = log_shares(n, per_bar=self.per_bar)
        self.may_start = np.arange(n) < max(n // 2, ANYWHERE)
        self.may_end = np.arange(n + 1) + RING >= n
        beats, marks, _, index = truth
        period = np.median(np.diff(beats))
        at = [int(np.argmin(np.abs(self.times - t))) for t in marks]
        if marks[-1] > self.times[-1] + period / 2:
            at[-1] = n
        near = all(i == n or abs(self.times[i] - t) < .3 * period for i, t in zip(at, marks))
        fine = near and sorted(set(at)) == at and abs(at[-1] - at[0] - (index[-1] - index[0])) <= 2
        self.at = at if fine and self.may_end[at[-1]] and self.may_start[at[0]] else None

    def split(self, w):
        k = self.k
        return w[:k], w[k], w[k + 1:k + 4], w[k + 4:k + 8], w[k + 8:k + 12], w[k + 12:k + 16]

    def loss(self, w):
        """Negative log likelihood of the true cutting, and its gradient."""
        n, longest = self.n, len(self.shares) - 1
        wc, wl, wf, wb, we, wa = self.split(w)
        start, length = self.cues @ wc, wl * self.shares
        first = np.where(self.may_start, self.first @ wf + self.before[:-1] @ wb, -np.inf)
        end = np.where(self.may_end, self.end @ we + self.after @ wa, -np.inf)
        from_start, at_end = np.full(n, -np.inf), np.full(n + 1, -np.inf)
        for i in range(n + 1):
            lo = max(0, i - longest)
            if i:
                at_end[i] = log_sum(from_start[lo:i] + length[i - lo:0:-1])
            if i < n:
                from_start[i] = np.logaddexp(first[i], at_end[i] + start[i])
        after_start, after_end = np.full(n, -np.inf), np.full(n + 1, -np.inf)
        for i in range(n, -1, -1):
            if i < n:
                hi = min(n, i + longest)
                after_start[i] = log_sum(length[1:hi - i + 1] + after_end[i + 1:hi + 1])
            after_end[i] = np.logaddexp(end[i], start[i] + after_start[i] if i < n else -np.inf)
        total = log_sum(at_end[1:] + end[1:])
        p_first, p_start = np.exp(first + after_start - total), np.exp(at_end[:n] + start + after_start - total)
        p_end = np.exp(at_end + end - total)
        expected = sum(np.exp(from_start[i] + length[1:hi - i + 1] + after_end[i + 1:hi + 1] - total) @ self.shares[1:hi - i + 1]
                       for i in range(n) for hi in [min(n, i + longest)] if from_start[i] > -np.inf)
        at = self.at
        lengths = sum(self.shares[min(b - a, longest)] for a, b in zip(at, at[1:]))
        true = first[at[0]] + end[at[-1]] + start[at[1:-1]].sum() + wl * lengths
        gradient = np.concatenate([
            self.cues[at[1:-1]].sum(0) - p_start @ self.cues, [lengths - expected],
            self.first[at[0]] - p_first @ self.first, self.before[at[0]] - p_first @ self.before[:-1],
            self.end[at[-1]] - p_end @ self.end, self.after[at[-1]] - p_end @ self.after])
        return total - true, -gradient


def songs(cues, folders):
    for folder in folders:
        for file in sorted(os.listdir(cues)):
            name = file[:-4]
            base = os.path.join(folder, name)
            if not os.path.exists(base + ".phrases"):
                continue
            if os.path.exists(base + ".json") and json.load(open(base + ".json")).get("half") == "apart":
                continue
            truth = form_accuracy.load_truth(base)
            if len(truth[1]) < 4 or os.path.getsize(os.path.join(cues, file)) < 2000:
                continue
            song = Song(name, os.path.join(cues, file), truth)
            if song.at is not None and mir_eval.beat.f_measure(truth[0], song.times) > .9:
                yield song


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("cues"), ap.add_argument("data", nargs="+")
    ap.add_argument("--rounds", type=int, default=40), ap.add_argument("--ridge", type=float, default=2.)
    a = ap.parse_args()
    learn = list(songs(a.cues, a.data))
    k = learn[0].k
    start = np.zeros(k + 16)
    start[k - 3], start[k - 1], start[k], start[k + 1] = 2, -2, 1, 2            # downbeat, any beat, lengths, downbeat
    prior, ridge = np.zeros(k + 16), np.full(k + 16, .1)
    prior[k], ridge[:k], ridge[k - 3:k + 1] = 1, a.ridge, .02

    def loss(w):
        parts = [s.loss(w) for s in learn]
        return (sum(p[0] for p in parts) + .5 * (ridge * (w - prior) ** 2).sum(),
                sum(p[1] for p in parts) + ridge * (w - prior))
    best = minimize(loss, start, jac=True, method="L-BFGS-B", options=dict(maxiter=a.rounds))
    print(f"{len(learn)} songs, loss {best.fun:.1f}")
    show = lambda name, w: print(f"{name}: [" + ", ".join(f"{x:.3f}" for x in w) + "]")
    for name, w in zip(("WEIGHTS", "LENGTH", "FIRST", "LEFT_OUT_BEFORE", "END", "LEFT_OUT_AFTER"), learn[0].split(best.x)):
        show(name, np.atleast_1d(w))


if __name__ == "__main__":
    main()

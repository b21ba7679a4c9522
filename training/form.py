"""Learns the weights of the cues for phrase starts (src/song/form/novelty.rs) by logistic regression.

    python3 form.py CUES_DIR DATA_DIR [--half 0|1]

CUES_DIR holds what `cargo run --release --example dump_cues` prints for each song, as NAME.tsv; DATA_DIR the
songs' NAME.phrases (`seconds<TAB>label`). Songs are dealt into halves by name: weights are learned on one and the
figures printed for both. The start of the song and the end mark are no decisions and left out.
"""

import argparse
import hashlib
import os

import numpy as np


def load(cues, data):
    for name in sorted(os.listdir(cues)):
        stem = name[:-4]
        rows = np.loadtxt(os.path.join(cues, name), ndmin=2)
        if len(rows) < 32:
            continue
        times, x = rows[:, 0], rows[:, 1:]
        starts = [float(line.split("\t")[0]) for line in open(os.path.join(data, stem + ".phrases"))]
        y = np.zeros(len(times))
        for start in starts[1:]:
            i = int(np.argmin(np.abs(times - start)))
            if abs(times[i] - start) < .12 and 4 <= i <= len(times) - 6:
                y[i] = 1
        yield stem, x[4:-5], y[4:-5]


def fit(x, y, ridge=3.0):
    w = np.zeros(x.shape[1])
    for _ in range(60):
        p = 1 / (1 + np.exp(-x @ w))
        g = x.T @ (p - y) + ridge * np.r_[w[:-1], 0]
        h = (x * (p * (1 - p))[:, None]).T @ x + ridge * np.diag(np.r_[np.ones(len(w) - 1), 1e-6])
        w -= np.linalg.solve(h, g)
    return w


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("cues"), ap.add_argument("data")
    ap.add_argument("--half", type=int, default=0)
    a = ap.parse_args()
    songs = list(load(a.cues, a.data))
    half = lambda s: hashlib.sha256(s.encode()).digest()[0] % 2
    learn = [s for s in songs if half(s[0]) == a.half]
    check = [s for s in songs if half(s[0]) != a.half]
    stack = lambda part: (np.concatenate([s[1] for s in part]), np.concatenate([s[2] for s in part]))
    w = fit(*stack(learn))
    for name, part in (("learned on", learn), ("kept back", check)):
        x, y = stack(part)
        z = x @ w
        order = np.argsort(-z)
        hits = y[order][: int(y.sum())].mean()
        ll = -np.mean(np.log(1 / (1 + np.exp(-np.where(y > 0, z, -z)))))
        print(f"{name}: {len(part)} songs, {int(y.sum())} starts in {len(y)} beats, "
              f"loss {ll:.4f}, starts among as many likeliest {hits:.3f}")
    print("[" + ", ".join(f"{v:.3f}" for v in w) + "]")


if __name__ == "__main__":
    main()

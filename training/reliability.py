"""How far the ear's confidence can be believed: of the songs given a confidence, how many are right (beats F of 0.95 or more,
70 ms, first 5 s left out).

    python3 reliability.py DATA/held ../target/release/hoofbeat [-o ../docs/reliability.svg]
    python3 reliability.py DATA/dev ../target/release/hoofbeat --fit

Prints a table by bins of `grid_confidence` and draws it: the share of songs right in each bin with its 90 % interval
(Jeffreys), over the line where confidence and share agree. With `--fit` it prints what would make the
confidence better: logistic regression of right songs on its log-odds and on the share of the recording that lies between
two beats; a slope of 1 and the rest near 0 say that it is good as it is.
"""
from __future__ import annotations

import argparse
import json
import os
import subprocess
import tempfile

import mir_eval
import numpy as np
from scipy.stats import beta

import accuracy

EDGES = [0, .5, .7, .8, .9, .95, 1.0001]


def judged_songs(data, binary):
    for item in accuracy.items(data):
        audio = os.path.join(data, item["audio"])
        if not os.path.exists(audio):
            continue
        with tempfile.TemporaryDirectory() as tmp:
            done = subprocess.run([binary, "listen", audio, "-o", os.path.join(tmp, "m.json")], capture_output=True)
            if done.returncode:
                continue
            song = json.load(open(os.path.join(tmp, "m.json")))
            heard = song["heard"]
        truth = accuracy.judged(accuracy.load_beats(os.path.join(data, item["name"] + ".beats")), item)[:, 0]
        beats = np.array(heard["beats_s"])
        beats = accuracy.judged(np.c_[beats, beats], item)[:, 0]
        trim = mir_eval.beat.trim_beats
        gaps = np.diff(heard["beats_s"])
        beating = gaps[gaps < 4].sum() / song["recording"]["duration_s"]
        yield heard["grid_confidence"], beating, mir_eval.beat.f_measure(trim(truth), trim(beats)) >= .95


def svg(rows, songs):
    x, y = (lambda v: 60 + 400 * v), (lambda v: 440 - 400 * v)
    out = ['<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 500 500" width="500" height="500" role="img" '
           'font-family="sans-serif" font-size="13">',
           "<title>Confidence against songs right</title>",
           f"<desc>Share of {songs} songs whose beats are right, by the confidence given; the diagonal is perfect agreement.</desc>",
           '<rect width="500" height="500" fill="#fff"/>',
           f'<path d="M{x(0)} {y(0)}L{x(1)} {y(1)}" stroke="#999" stroke-dasharray="5 4"/>',
           f'<path d="M{x(0)} {y(1)}V{y(0)}H{x(1)}" fill="none" stroke="#000"/>']
    for v in (0, .25, .5, .75, 1):
        out.append(f'<text x="{x(v)}" y="{y(0) + 18}" text-anchor="middle">{v:g}</text>')
        out.append(f'<text x="{x(0) - 8}" y="{y(v) + 4}" text-anchor="end">{v:g}</text>')
    for mean, share, low, high, n in rows:
        out.append(f'<path d="M{x(mean):.1f} {y(low):.1f}V{y(high):.1f}" stroke="#0072B2" stroke-width="2"/>')
        out.append(f'<circle cx="{x(mean):.1f}" cy="{y(share):.1f}" r="5" fill="#0072B2"/>')
        out.append(f'<text x="{x(mean) - 9:.1f}" y="{y(share) + 4:.1f}" text-anchor="end">{n}</text>')
    out.append(f'<text x="{x(.5)}" y="{y(0) + 40}" text-anchor="middle">confidence given to the beats</text>')
    out.append(f'<text x="18" y="{y(.5)}" text-anchor="middle" transform="rotate(-90 18 {y(.5)})">share of songs right</text></svg>')
    return "\n".join(out) + "\n"


def main():
    ap = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ap.add_argument("data"), ap.add_argument("binary"), ap.add_argument("-o", "--output")
    ap.add_argument("--fit", action="store_true")
    a = ap.parse_args()
    songs = list(judged_songs(a.data, os.path.abspath(a.binary)))
    confidence, beating, right = np.array(songs, float).T
    if a.fit:
        from sklearn.linear_model import LogisticRegression
        sure = confidence.clip(.001, .999)
        fit = LogisticRegression(C=3).fit(np.c_[np.log(sure / (1 - sure)), beating], right)
        print("log-odds × %.2f + beating × %.2f %+.2f" % (*fit.coef_[0], fit.intercept_[0]))
    rows = []
    print("| confidence | songs | mean confidence | right |\n|---|---|---|---|")
    for low, high in zip(EDGES, EDGES[1:]):
        inside = (confidence >= low) & (confidence < high)
        n, k = int(inside.sum()), int(right[inside].sum())
        if n:
            interval = beta.ppf([.05, .95], k + .5, n - k + .5)
            rows.append((confidence[inside].mean(), k / n, *interval, n))
            print(f"| {low:g}–{min(high, 1):g} | {n} | {confidence[inside].mean():.2f} | {k} ({100 * k / n:.0f} %) |")
    if a.output:
        open(a.output, "w").write(svg(rows, len(songs)))


if __name__ == "__main__":
    main()

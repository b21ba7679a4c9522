"""How many corrections a teacher makes until a song's phrases are right.

    python3 form_corrections.py SONGS --hoofbeat ../target/release/hoofbeat [--half apart] [--alone]

SONGS as form_songs.py makes them. First count and pulse are set from the truth, so that phrases alone are judged. Then the first phrase start
that is wrong is corrected by `mark`, again and again, as a teacher would who listens from the start: one that is missing (or up to 8 counts
off) is marked or moved, one too many is removed. `--alone` takes NAME.heard away, so that corrections teach nothing.
"""
import argparse
import collections
import json
import os
import shutil
import subprocess
import tempfile
import time

import numpy as np

from cuts import counted, load

MOST = 12


def corrections(hoofbeat, base, alone, times):
    beats, phrases, _ = load(base)
    rows = counted(beats, phrases)
    run = lambda *a: subprocess.run([hoofbeat, *a], capture_output=True, text=True)
    with tempfile.TemporaryDirectory() as d:
        to = os.path.join(d, "a.song.json")
        if run("listen", base + ".wav", "-o", to).returncode:
            return None
        run("mark", to, "pulse", f"{60 / float(np.median(np.diff(beats))):.2f}")
        run("mark", to, "first", f"{beats[rows[0][0]]:.3f}")
        if alone:
            os.remove(os.path.join(d, "a.heard"))
        true = [(beats[a], label) for a, label, _ in rows]
        half = float(np.median(np.diff(beats))) / 2
        for k in range(MOST + 1):
            told = [line.split("\t") for line in run("export", to, "--as", "phrases", "-o", "-").stdout.splitlines()]
            starts = [float(t[0]) for t in told][1:]
            want = [t for t, _ in true][1:]
            wrong = [(t, "missing") for t in want if not any(abs(t - s) < half for s in starts)]
            wrong += [(s, "extra") for s in starts if not any(abs(t - s) < half for t in want) and s < want[-1] + 8 * half]
            if not wrong:
                return k
            at, kind = min(wrong)
            begun = time.time()
            near = [s for s in starts if kind == "missing" and abs(s - at) <= 16 * half and not any(abs(t - s) < half for t in want)]
            if kind == "extra" and any(0 < t - at <= 16 * half for t, what in wrong if what == "missing"):
                at, kind = min((t for t in wrong if t[1] == "missing" and t[0] > at))
                near = [min(s for s, what in wrong if what == "extra")]
            if kind == "missing" and near:
                r = run("mark", to, "move", f"{near[0]:.3f}", "to", f"{at:.3f}")
            elif kind == "missing":
                r = run("mark", to, "phrase", f"{at:.3f}", "phrase")
            else:
                r = run("mark", to, "remove", f"{at:.3f}")
            times.append(time.time() - begun)
            if r.returncode:
                run("mark", to, "phrase", f"{at:.3f}", "phrase")
        return MOST + 1


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("songs"), ap.add_argument("--hoofbeat", required=True), ap.add_argument("--half"), ap.add_argument("--alone", action="store_true")
    a = ap.parse_args()
    by_kind, times = collections.defaultdict(list), []
    for f in sorted(os.listdir(a.songs)):
        if f.endswith(".json"):
            facts = json.load(open(os.path.join(a.songs, f)))
            if a.half in (None, facts["half"]):
                n = corrections(a.hoofbeat, os.path.join(a.songs, f[:-5]), a.alone, times)
                if n is not None:
                    by_kind[facts["kind"]].append(n)
    print("| kind | n | 0 | 1 | 2 | 3 and more | mean |\n|---|---|---|---|---|---|---|")
    for kind, ns in list(by_kind.items()) + [("all", sum(by_kind.values(), []))]:
        share = lambda holds: f"{100 * np.mean([holds(n) for n in ns]):.0f} %"
        print(f"| {kind} | {len(ns)} | {share(lambda n: n == 0)} | {share(lambda n: n == 1)} | {share(lambda n: n == 2)} | {share(lambda n: n > 2)} | {np.mean(ns):.1f} |")
    print(f"one correction takes {1000 * np.median(times):.0f} ms in the median, {1000 * np.max(times):.0f} at most ({len(times)} made; up to {MOST} a song)")


if __name__ == "__main__":
    main()

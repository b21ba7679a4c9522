"""Measures suggested phrases against songs whose form is known (made by form_songs.py).

    python3 form_accuracy.py DATA MAPS [--half tuning|apart] [--listen HOOFBEAT] [--each]

MAPS holds NAME.song.json as written by `hoofbeat listen`; with --listen they are made first. Boundaries and sameness are
scored by mir_eval.segment. The start and the end of the song are no boundaries; what is suggested after the last
chord or before count 1 is scored as a wrong first count or not at all.

Columns: songs; beats F (70 ms); boundary F at 0.5 s and 3 s; first count right; wait right (in counts and in time;
up to the first phrase after the intro, or after an instrumental in its place);
lengths right where both ends are found; odd phrases found; whole eights called odd; pairwise F of sameness; share of
songs that need 0, 1, 2, 3+ corrections (a boundary to set, take away or move by up to 8 counts; a wrong first count).
"""
import argparse
import collections
import json
import os
import subprocess

import mir_eval
import numpy as np


OPENING = ("intro", "instrumental")      # the dancers wait through the one of these that a song opens with


def load_truth(base):
    beats = np.array([float(line.split("\t")[0]) for line in open(base + ".beats")])
    rows = [line.rstrip("\n").split("\t") for line in open(base + ".phrases")]
    times, labels = [float(r[0]) for r in rows], [r[1] for r in rows]
    index = [int(np.argmin(np.abs(beats - t))) for t in times]
    return beats, times, labels, index


def load_map(path):
    heard = json.load(open(path))["heard"]
    beats = np.array(heard["beats_s"])
    starts = [p["beat"] for p in heard["phrases"]]
    labels = [p.get("letter") or p["label"] for p in heard["phrases"]]
    words = [p["label"] for p in heard["phrases"]]
    return beats, starts, labels, words, heard["first_count_beat"]


def score(truth, found):
    tb, tt, tl, ti = truth
    eb, es, el, words, first = found
    period = float(np.median(np.diff(tb)))
    near = .25 * period
    s = collections.Counter()
    s["beats"] = mir_eval.beat.f_measure(tb, mir_eval.beat.trim_beats(eb, 0.)) if len(eb) else 0
    est = [float(eb[i]) for i in es]
    inner = [t for t in est if tt[0] + .5 < t < tt[-1] - .5]
    if not est:
        est, es, el, words, inner = [tt[0]], [0], ["none"], ["phrase"], []
    ref_iv = np.array(list(zip(tt[:-1], tt[1:]))) - tt[0]
    bounds = [tt[0]] + inner + [tt[-1]]
    est_iv = np.array(list(zip(bounds[:-1], bounds[1:]))) - tt[0]
    for key, window in (("f05", .5), ("f3", 3.)):
        s[key] = mir_eval.segment.detection(ref_iv, est_iv, window=window, trim=True)[2] if len(ref_iv) > 1 else 1
    label_at = lambda t: el[max(0, int(np.searchsorted(est, t + 1e-3)) - 1)]
    s["same"] = mir_eval.segment.pairwise(ref_iv, tl[:-1], est_iv, [label_at(a + tt[0]) for a, _ in est_iv])[2]
    # count 1 and the wait
    s["first"] = first < len(eb) and abs(eb[first] - tt[0]) < near
    waited = tl[0] if tl[0] in OPENING else "intro"
    opening = next((i for i, label in enumerate(tl[:-1]) if label != waited), 0)
    k = next((i for i, w in enumerate(words) if w != "intro"), 0)
    s["wait"] = s["first"] and es[k] - first == ti[opening] - ti[0] and abs(est[k] - tt[opening]) < near
    # lengths
    match = {}
    for j, t in enumerate(tt):
        options = [(abs(e - t), i) for e, i in zip(est + [eb[-1] + period if len(eb) else 0], es + [len(eb)]) if abs(e - t) < .5]
        if j == 0 and len(eb):
            options = [(abs(e - t), i) for i, e in enumerate(eb) if abs(e - t) < .5] or options
        if options:
            match[j] = min(options)[1]
    for j in range(len(tt) - 1):
        counts = ti[j + 1] - ti[j]
        right = j in match and j + 1 in match and match[j + 1] - match[j] == counts
        last = j == len(tt) - 2
        if j in match and j + 1 in match:
            s["len_of"] += 1
            s["len_ok"] += right
        if last:
            continue
        if counts % 8:
            s["odd_of"] += 1
            s["odd_ok"] += right
        else:
            overlap = lambda k: min(tt[j + 1], est[k + 1] if k + 1 < len(est) else tt[-1]) - max(tt[j], est[k])
            best = max(range(len(est)), key=overlap)
            size = (es[best + 1] if best + 1 < len(es) else None)
            s["even_of"] += 1
            s["even_bad"] += size is not None and (size - max(es[best], first)) % 8 != 0
    # corrections
    missing = [t for t in tt[1:-1] if not any(abs(e - t) < near for e in inner)]
    extra = [e for e in inner if not any(abs(e - t) < near for t in tt[1:-1])]
    moved = 0
    for t in list(missing):
        close = [e for e in extra if abs(e - t) < 8.5 * period]
        if close:
            extra.remove(min(close, key=lambda e: abs(e - t)))
            missing.remove(t)
            moved += 1
    s["fixes"] = len(missing) + len(extra) + moved + (not s["first"])
    s["missing"], s["extra"], s["moved"] = len(missing), len(extra), moved
    return s


HEAD = "kind       n  beats   F.5    F3  first  wait  lengths    odd  called  same |   0    1    2   3+"


def row(name, scores):
    n = len(scores)
    mean = lambda key: sum(s[key] for s in scores) / n
    share = lambda a, b: f"{sum(s[a] for s in scores) / max(sum(s[b] for s in scores), 1):.2f}"
    odd = share("odd_ok", "odd_of") if any(s["odd_of"] for s in scores) else "  - "
    called = share("even_bad", "even_of") if any(s["even_of"] for s in scores) else "  - "
    fixes = [sum(s["fixes"] == k for s in scores) / n for k in (0, 1, 2)]
    print(f"{name:8s} {n:3d}  {mean('beats'):.3f}  {mean('f05'):.3f} {mean('f3'):.3f}  {mean('first'):.2f}  {mean('wait'):.2f}"
          f"   {share('len_ok', 'len_of')}    {odd}   {called}  {mean('same'):.3f} | "
          + " ".join(f"{f:.2f}" for f in fixes) + f" {1 - sum(fixes):.2f}")


def table(scored, each=False):
    if each:
        for name, s in sorted(scored.items(), key=lambda x: x[1]["f05"]):
            print(f"{name:10s} F.5 {s['f05']:.2f} F3 {s['f3']:.2f} beats {s['beats']:.2f} first {int(s['first'])} wait {int(s['wait'])} "
                  f"missing {s['missing']} extra {s['extra']} moved {s['moved']} same {s['same']:.2f}")
    print(HEAD)
    for name, s in scored.items():
        if name.startswith("waltz"):        # in three nothing is whole eights
            s["odd_of"] = s["odd_ok"] = s["even_of"] = s["even_bad"] = 0
    kinds = collections.defaultdict(list)
    for name, s in scored.items():
        kinds[name.split("_")[0]].append(s)
    for kind in sorted(kinds):
        row(kind, kinds[kind])
    row("all", list(scored.values()))
    good = [s for s in scored.values() if s["beats"] > .9]
    if good:
        row("beats ok", good)


def names(data, half=None):
    for f in sorted(os.listdir(data)):
        if f.endswith(".json") and not f.endswith(".song.json"):
            if half in (None, json.load(open(os.path.join(data, f)))["half"]):
                yield f[:-5]


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("data"), ap.add_argument("maps")
    ap.add_argument("--half", choices=["tuning", "apart"]), ap.add_argument("--each", action="store_true")
    ap.add_argument("--listen", help="the hoofbeat to listen with first")
    a = ap.parse_args()
    chosen = list(names(a.data, a.half))
    if a.listen:
        os.makedirs(a.maps, exist_ok=True)
        for name in chosen:
            subprocess.run([a.listen, "listen", "--force", "--without-beats", os.path.join(a.data, name + ".wav"), "-o",
                            os.path.join(a.maps, name + ".song.json")], check=True, stdout=subprocess.DEVNULL)
    table({n: score(load_truth(os.path.join(a.data, n)), load_map(os.path.join(a.maps, n + ".song.json"))) for n in chosen}, a.each)


if __name__ == "__main__":
    main()

"""The cuts of cuts.py carried over by general alignment libraries too, beside `hoofbeat recut`, by the same measure.

    python3 -m venv VENV && VENV/bin/pip install synctoolbox soundfile      # brings librosa with it
    VENV/bin/python cuts_beside.py SONGS CUTS --hoofbeat ../target/release/hoofbeat [--half apart] [--songs pop_b0 loop_b0]

How each is used:

* librosa 0.11, as in its own example of synchronising music: `feature.chroma_cqt` (hop 2048), then `sequence.dtw` with its
  standard steps (1, 1), (0, 1), (1, 0) and the cosine distance.
* synctoolbox 1.4, as in its own example of audio against audio: tuning estimated, pitch features at 50 a second quantised to
  chroma, pitch onsets to DLNCO, `sync_via_mrmsdtw` with weights 1.5, 1.5, 2 and a threshold of 10^6.

Both are told the true key, which recut has to find; neither needs beats. What warping in time leads a phrase's first and last
moment to is held against the truth: right is within half a count at either end, which a program that counts would call the same
first count and the same length. recut counts on its own beats and is judged as cuts.py judges it, which is stricter. Dynamic time
warping goes forward through both recordings from end to end: it can pass over what is gone or new by standing still in one of
them, but cannot jump, so that what comes again is lost to it. It gives no answer to "another song" and is not asked.
What is added counts as carried wrongly where more than half as much of the song runs by as of the cut.
"""
import argparse
import os
import tempfile

import librosa
import numpy as np
import soundfile
from synctoolbox.dtw.mrmsdtw import sync_via_mrmsdtw
from synctoolbox.dtw.utils import make_path_strictly_monotonic
from synctoolbox.feature.chroma import pitch_to_chroma, quantize_chroma
from synctoolbox.feature.dlnco import pitch_onset_features_to_DLNCO
from synctoolbox.feature.pitch import audio_to_pitch_features
from synctoolbox.feature.pitch_onset import audio_to_pitch_onset_features
from synctoolbox.feature.utils import estimate_tuning

import cuts

SR = 22050
HOP = 2048
RATE = 50
KINDS = ["radio", "extended", "transposed", "tempo", "worn", "take", "cover", "medley"]


def chroma(x):
    return librosa.feature.chroma_cqt(y=x, sr=SR, hop_length=HOP)


def by_librosa(old, new, semitones):
    """Seconds of both recordings along the way."""
    _, path = librosa.sequence.dtw(old + 1e-6, np.roll(new, -semitones, axis=0) + 1e-6, metric="cosine")
    return path[::-1].T * HOP / SR


def pitches(x):
    tuning = estimate_tuning(x, SR)
    f_pitch = audio_to_pitch_features(f_audio=x, Fs=SR, tuning_offset=tuning, feature_rate=RATE)
    f_chroma = quantize_chroma(f_chroma=pitch_to_chroma(f_pitch=f_pitch))
    peaks = audio_to_pitch_onset_features(f_audio=x, Fs=SR, tuning_offset=tuning)
    return f_chroma, pitch_onset_features_to_DLNCO(f_peaks=peaks, feature_rate=RATE, feature_sequence_length=f_chroma.shape[1])


def by_synctoolbox(old, new, semitones):
    turned = [np.roll(f, -semitones, axis=0) for f in new]
    path = sync_via_mrmsdtw(f_chroma1=old[0], f_onset1=old[1], f_chroma2=turned[0], f_onset2=turned[1], input_feature_rate=RATE,
                            step_weights=np.array([1.5, 1.5, 2.0]), threshold_rec=10 ** 6)
    return make_path_strictly_monotonic(path) / RATE


def judged(path, facts, songs):
    """(right, of, false, added) of a way through both recordings."""
    beats, phrases, _ = cuts.load(os.path.join(songs, facts["song"]))
    rows = cuts.counted(beats, phrases)
    period = float(np.median(np.diff(beats))) / facts["ratio"]
    right = of = false = added = 0
    for k, (at, _, counts, p) in enumerate(facts["truth"]):
        if p is None:
            added += 1
            a, b = (np.interp(s, path[1], path[0]) for s in (at, at + counts * period))
            false += b - a > .5 * counts * period * facts["ratio"]
            continue
        if counts != -1 and counts < 8:
            continue
        of += 1
        first, _, n = rows[p]
        kept = n if counts == -1 else counts
        # A shortened phrase has lost its beginning.
        old_s = [beats[min(first + i, len(beats) - 1)] for i in (n - kept, n)]
        # It ends where the next begins; the last by its counts.
        ends = facts["truth"][k + 1][0] if k + 1 < len(facts["truth"]) else at + (old_s[1] - old_s[0]) / facts["ratio"]
        told = np.interp(old_s, path[0], path[1])
        right += abs(told[0] - at) <= period / 2 and (counts == -1 or abs(told[1] - ends) <= period / 2)
    return int(right), of, int(false), added


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("songs"), ap.add_argument("cuts"), ap.add_argument("--hoofbeat", required=True)
    ap.add_argument("--half"), ap.add_argument("--kind", nargs="*", default=KINDS)
    ap.add_argument("--only", nargs="*", help="names of songs; left out, all")
    a = ap.parse_args()
    work = tempfile.mkdtemp()
    sums, known = {}, (None, None)
    for name, facts in cuts.selected(a):
        if a.only and facts["song"] not in a.only:
            continue
        if known[0] != facts["song"]:
            x = soundfile.read(os.path.join(a.songs, facts["song"] + ".wav"))[0].astype(np.float32)
            known = facts["song"], (chroma(x), pitches(x))
        y = soundfile.read(os.path.join(a.cuts, name + ".flac"))[0].astype(np.float32)
        old = cuts.true_map(a.hoofbeat, a.songs, facts["song"], work)
        answer, _, _ = cuts.asked(a.hoofbeat, old, os.path.join(a.cuts, name + ".flac"), work)
        beats = cuts.load(os.path.join(a.songs, facts["song"]))[0]
        answer["period_s"] = float(np.median(np.diff(beats))) / facts["ratio"]
        results = [cuts.judge(answer, facts["truth"]),
                   judged(by_librosa(known[1][0], chroma(y), facts["semitones"]), facts, a.songs),
                   judged(by_synctoolbox(known[1][1], pitches(y), facts["semitones"]), facts, a.songs)]
        sums[facts["kind"]] = sums.get(facts["kind"], np.zeros((3, 4))) + np.array(results)
        print(name, results, flush=True)
    print("| kind | phrases | right: hoofbeat | librosa | synctoolbox | carried wrongly: hoofbeat | librosa | synctoolbox |")
    print("|---|---|---|---|---|---|---|---|")
    for kind in a.kind:
        if kind in sums:
            r = sums[kind]
            wrong = [f"{int(n)} of {int(r[0][3])}" if r[0][3] else "" for n in r[:, 2]]
            print(f"| {kind} | {int(r[0][1])} | " + " | ".join(f"{100 * x[0] / x[1]:.1f} %" for x in r) + " | " + " | ".join(wrong) + " |")


if __name__ == "__main__":
    main()

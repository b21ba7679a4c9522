"""Prints how long the sections of real songs are: the figures of src/song/form/lengths.rs.

    python3 form_lengths.py [--forms ../../shared/forms/forms.jsonl]

Every second song of the set (Harmonix, Nieto et al., ISMIR 2019) in 4/4; sections without the first and the last, boundaries at the
nearest bar line.
"""
import argparse
import collections
import json


def lengths(song):
    """Beats of each inner section."""
    beats, places = song["beats_s"], song["position_in_bar"]
    lines = [i for i, place in enumerate(places) if place == 1]
    starts = [min(lines, key=lambda i: abs(beats[i] - p["start_s"])) for p in song["phrases"]]
    return [b - a for a, b in list(zip(starts, starts[1:]))[1:-1] if b > a]


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--forms", default="../../shared/forms/forms.jsonl")
    songs = [json.loads(line) for line in open(ap.parse_args().forms)][::2]
    found = [n for song in songs if song["time_signature"] == "4/4" for n in lengths(song)]
    over = collections.Counter(n % 4 for n in found if n % 4)
    print(f"{len(found)} sections, {1 - sum(over.values()) / len(found):.3f} of whole bars of 4")
    print("beats over, of the others:", *(f"{k}: {over[k] / sum(over.values()):.2f}" for k in sorted(over)))
    whole = collections.Counter(n // 4 for n in found if n % 4 == 0)
    for bars in sorted(whole):
        print(f"{bars:3d} bars {whole[bars] / len(found):.4f}")


if __name__ == "__main__":
    main()

"""Draws the true phrases of songs above those heard, to look at what goes wrong.

    python3 form_picture.py OUT.png DATA MAPS NAME=caption …        (needs matplotlib)

DATA is made by form_songs.py, MAPS by form_accuracy.py --listen.
"""
import os
import sys

import matplotlib

matplotlib.use("Agg")
import matplotlib.pyplot as plt

import form_accuracy


def row(axis, y, times, words, counts, colours):
    for k, (start, end) in enumerate(zip(times, times[1:])):
        axis.barh(y, end - start, left=start, height=.8, color=colours[k % 2], edgecolor="#333")
        axis.text((start + end) / 2, y, f"{words[k]}\n{counts[k]}", ha="center", va="center", fontsize=6)


def main():
    out, data, maps, *songs = sys.argv[1:]
    figure, axes = plt.subplots(len(songs), 1, figsize=(11, 1.6 * len(songs)), squeeze=False)
    for axis, song in zip(axes[:, 0], songs):
        name, _, caption = song.partition("=")
        _, times, labels, at = form_accuracy.load_truth(os.path.join(data, name))
        beats, starts, _, words, _ = form_accuracy.load_map(os.path.join(maps, name + ".song.json"))
        heard, index = [beats[i] for i in starts] + [beats[-1]], starts + [len(beats)]
        row(axis, 1, times, labels, [b - a for a, b in zip(at, at[1:])], ("#b9cba8", "#d9e2d0"))
        row(axis, 0, heard, words, [b - a for a, b in zip(index, index[1:])], ("#d3b48f", "#e6d3bf"))
        axis.set_yticks([0, 1], ["heard", "true"])
        axis.set_title(caption or name, fontsize=9, loc="left")
        axis.set_xlim(0, max(times[-1], heard[-1]) + 1)
    axes[-1, 0].set_xlabel("seconds")
    figure.tight_layout()
    figure.savefig(out, dpi=90)


if __name__ == "__main__":
    main()

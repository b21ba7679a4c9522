#!/usr/bin/env python3
"""Makes the demo songs and their truth files. See README.md beside this file.

    python3 make.py                 all songs
    python3 make.py lantern-road    only these
    python3 make.py --masters DIR   keep the uncompressed masters there as well
"""

import argparse
import sys
import time
from pathlib import Path

import numpy as np
import soundfile

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from band import files, sound  # noqa: E402
from songs import acorns_in_a_hatbox, coopers_left_boot, lantern_road, marrow_bay_waltz  # noqa: E402

TAIL_S = 3.2


def finish(name, song, master, kick, times, phrases, kind, keep, **how):
    """Encodes a master and writes its truth beside it. `keep` is the folder in which the master and
    the kick drum alone are kept for `check.py`, if any."""
    path = HERE / f"{name}.{kind}"
    files.encode(master, path, song, **how)
    files.write_truth(HERE / name, times, song.bar, phrases)
    if keep:
        soundfile.write(keep / f"{name}.wav", master, sound.RATE, subtype="FLOAT")
        soundfile.write(keep / f"{name}.kick.wav", kick, sound.RATE, subtype="FLOAT")
    print(f"{path.name}: {path.stat().st_size} bytes, {len(master) / sound.RATE:.2f} s, "
          f"{sound.loudness(master):.1f} LUFS, {len(times) - 1} counts")


def lantern_road_and_its_edit(keep):
    """The full song, and the radio edit cut from the same mix."""
    song, clock, take = lantern_road.play()
    end_s = clock.at(song.counts) + TAIL_S
    mix, kick = sound.mix(take, lantern_road.CHANNELS, end_s, np.random.default_rng(lantern_road.SEED))
    master = sound.fade(sound.master(mix), end_s - 1.2, end_s)
    times = [clock.at(n) for n in range(song.counts + 1)]
    phrases = [(s.label, s.start, s.counts) for s in song.sections]
    finish("lantern-road", song, master, kick, times, phrases, "mp3", keep)

    spans, counts, phrases = [(0.0, times[0])], [], []
    for index, first, last in lantern_road.EDIT:
        section = song.sections[index]
        phrases.append((section.label, len(counts), last - first))
        start = section.start + first
        spans.append((times[start], times[section.start + last]))
        counts += range(start, section.start + last)
    spans = joined(spans)
    edit_times, at = [], times[0]
    for n in counts:
        edit_times.append(at)
        at += times[n + 1] - times[n]
    edit_times.append(at)
    edit = sound.splice(mix, spans)
    fade_from = edit_times[len(counts) - lantern_road.EDIT_FADE]
    edit = sound.fade(sound.master(edit, ceiling_db=-3.0), fade_from, edit_times[-1])
    song.title += " (Radio Edit)"
    finish("lantern-road-radio-edit", song, edit, sound.splice(kick, spans), edit_times, phrases, "m4a", keep)


def joined(spans):
    """Neighbours that follow each other in the source are one span: nothing to splice."""
    out = []
    for span in spans:
        if out and abs(out[-1][1] - span[0]) < 1e-9:
            out[-1] = (out[-1][0], span[1])
        else:
            out.append(span)
    return out


def plain(module, kind, tail_s=TAIL_S, **how):
    """A maker for a song without cuts."""

    def make(keep):
        song, clock, take = module.play()
        end_s = clock.at(song.counts) + tail_s
        mix, kick = sound.mix(take, module.CHANNELS, end_s, np.random.default_rng(module.SEED))
        ceiling_db = -3.0 if kind == "ogg" else -2.0
        master = sound.fade(sound.master(mix, ceiling_db=ceiling_db), end_s - 0.4 * tail_s, end_s)
        times = [clock.at(n) for n in range(song.counts + 1)]
        phrases = [(s.label, s.start, s.counts) for s in song.sections]
        finish(song.name, song, master, kick, times, phrases, kind, keep, **how)

    return make


MAKERS = {
    "lantern-road": lantern_road_and_its_edit,
    "marrow-bay-waltz": plain(marrow_bay_waltz, "ogg", 2.4),
    "coopers-left-boot": plain(coopers_left_boot, "flac", 1.8, rate=22050, mono=True),
    "acorns-in-a-hatbox": plain(acorns_in_a_hatbox, "wav", 1.3, rate=22050, mono=True),
}


def main():
    """Reads the command line and makes what it names."""
    parser = argparse.ArgumentParser(description="Makes the demo songs.")
    parser.add_argument("songs", nargs="*", choices=[*MAKERS, []], help="which (all of them)")
    parser.add_argument("--masters", type=Path, help="keep the masters in this folder")
    wanted = parser.parse_args()
    if wanted.masters:
        wanted.masters.mkdir(parents=True, exist_ok=True)
    for name in wanted.songs or MAKERS:
        began = time.monotonic()
        MAKERS[name](wanted.masters)
        print(f"  in {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()

"""Marrow Bay Waltz: three counts to the bar, in D, accordion and fiddle. Phrases of 48 counts."""

import numpy as np

from band.players import CRASH, HAT, KICK, RIDE, SNARE, TAMBOURINE, Take
from band.score import Clock, Song, third_below, tune
from band.sound import Channel

SEED = 1850
COUNT_1_S = 2.24
TEMPO = 112.0

VERSE = ("F2 A2 d2 | d4 c B | A4 F2 | A4 z2 | G2 B2 d2 | e4 d B | A6 | A4 z A |"
         "F2 A2 d2 | d4 c B | A2 d2 f2 | e4 d B | A2 F2 A2 | G2 F2 E2 | D6 | D4 z2")
CHORUS = ("f4 e d | B4 d2 | A3 B A F | A6 | B4 c d | e2 d2 B2 | A4 F G | A4 d e |"
          "f4 e d | B4 d2 | A3 B A F | A4 d2 | B2 d2 g2 | f2 e2 c2 | d6 | d4 z2")
INTRO = "A2 d2 f2 | e4 d2 | B2 c2 e2 | d6"

CHANNELS = {
    "kick": Channel(40, -24.0, 0, 0.04, 35, drums=True, width=0.3),
    "snare": Channel(40, -25.5, 0.05, 0.2, 120, drums=True, width=0.8),
    "metal": Channel(40, -31.0, 0.0, 0.12, 300, drums=True),
    "bass": Channel(32, -20.5, 0, 0.03, 38),
    "guitar": Channel(24, -24.5, -0.5, 0.16, 110, 2),
    "mandolin": Channel(25, -26.5, 0.55, 0.2, 200, bank=16),
    "accordion": Channel(21, -23.5, 0.25, 0.2, 180),
    "fiddle": Channel(110, -21.5, -0.15, 0.28, 200, vibrato=26),
    "second fiddle": Channel(110, -26.0, -0.55, 0.3, 200, vibrato=26),
}


def page():
    """The form: intro, verse, chorus, verse, chorus, ending."""
    song = Song("marrow-bay-waltz", "Marrow Bay Waltz", "Ida Quill and the Wheelwrights", "D", 3)
    verse = "D G D D G G D A D G D G D A D D"
    chorus = "D G D D G G D A D G D Bm G A D D"
    song.add("intro", "D G A D")
    song.add("verse", verse)
    song.add("chorus", chorus)
    song.add("verse", verse)
    song.add("chorus", chorus)
    song.add("ending", "G A D D")
    return song


def play():
    """The whole take. Returns the song, the clock and what was played."""
    rng = np.random.default_rng(SEED)
    song = page()
    where = [s.label for s in song.sections for _ in range(s.counts)]
    slow_end = song.counts - 6

    def lean(place):
        if place >= slow_end:
            return 0.985 - 0.02 * (place - slow_end)
        return 1.005 if where[place] == "chorus" else 1.0

    clock = Clock(song.counts, COUNT_1_S, TEMPO, lean, 0.005, rng)
    take = Take(song, clock, rng)
    for place, pitch in [(-3, 57), (-2, 62), (-1, 64)]:  # three pickup notes, one a count
        take.hit("guitar", place, 0.95, pitch, 76, 0, 6)
    for n, section in enumerate(song.sections):
        parts = {"intro": intro, "verse": verse, "chorus": chorus, "ending": ending}
        parts[section.label](take, section, n >= 3)
    return song, clock, take


def band(take, start, counts, level, drums=True):
    """Bass on one, chords on two and three, brushes underneath."""
    take.bass_line("bass", start, counts, 88 * level, "r..f..")
    take.strum_bars("guitar", start, counts, 76 * level, "Bdd", 3)
    take.groove("kick", KICK, "X.....", start, counts, 92 * level, 3, scatter_ms=1.5)
    if drums:
        take.groove("snare", SNARE, "..x.x.", start, counts, 62 * level, 3, scatter_ms=2.5)
        take.groove("metal", RIDE, "x.x.xo", start, counts, 58 * level, 3)


def lead(take, stem, start, text, loud, **how):
    """A tune from the page; returns its tones."""
    tones, _ = tune(text, "D", 0.5)
    take.sing(stem, start, tones, loud, 3, **how)
    return tones


def intro(take, section, _):
    band(take, section.start, section.counts, 0.9, drums=False)
    take.groove("metal", HAT, "x.x.x.", section.start, section.counts, 52, 3)
    lead(take, "accordion", section.start, INTRO, 84, legato=0.97)


def verse(take, section, again):
    start, counts = section.start, section.counts
    take.hit("metal", start, 3, CRASH, 60, 0, 2)
    band(take, start, counts, 0.94 + 0.05 * again)
    if again:
        lead(take, "fiddle", start, VERSE, 84, slides=0.4, legato=0.97)
        take.pad("accordion", start, counts, 60, 57)
        take.chop("mandolin", start, counts, 74, bar=3, places=(1, 2))
    else:
        lead(take, "accordion", start, VERSE, 88, legato=0.97)
        lead(take, "mandolin", start + 9, "z2 f e d B | z6 | z6 | z6 | z2 d c B A", 72)
    take.fill(start + counts - 1, "s.ss")


def chorus(take, section, again):
    start, counts = section.start, section.counts
    take.hit("metal", start, 3, CRASH, 88, 0, 2)
    band(take, start, counts, 1.02 + 0.03 * again)
    take.groove("metal", TAMBOURINE, "..x.x.", start, counts, 62, 3)
    tones = lead(take, "fiddle", start, CHORUS, 92, slides=0.6, legato=0.97)
    take.sing("second fiddle", start, third_below(tones, "D"), 84, 3, slides=0.4)
    take.pad("accordion", start, counts, 74, 57)
    take.chop("mandolin", start, counts, 80, bar=3, places=(1, 2))
    if again:
        take.sing("accordion", start, tones, 84, 3, feel_ms=6)
    take.fill(start + 23, "s.ss")
    take.fill(start + counts - 2, "h.m.s.SS")


def ending(take, section, _):
    """Last line once more, slowing, and a long last chord."""
    start = section.start
    band(take, start, 6, 1.0)
    tones = lead(take, "fiddle", start, "B2 d2 g2 | f2 e2 c2", 94, slides=0.5, legato=0.97)
    take.sing("second fiddle", start, third_below(tones, "D"), 86, 3)
    take.sing("accordion", start, tones, 84, 3)
    for n, (stem, pitch) in enumerate([("fiddle", 74), ("second fiddle", 66), ("accordion", 62), ("accordion", 57)]):
        take.hit(stem, start + 6, 5.5, pitch, 88, 2 * n, 3)
    take.hit("bass", start + 6, 5, 38, 92, 0, 2)
    take.strum("guitar", start + 6, 5, "D", 84)
    for place in (6, 9):
        take.hit("kick", start + place, 0.3, KICK, 84, 0, 1.5)
    for place in (7, 8):
        take.strum("mandolin", start + place, 1, "D", 60, top=3)
    take.strum("guitar", start + 9, 3, "D", 70)
    take.hit("metal", start + 6, 4, CRASH, 76, 0, 2)

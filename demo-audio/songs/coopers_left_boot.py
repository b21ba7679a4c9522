"""The Cooper's Left Boot: a reel in D for fiddle and banjo, AABB, four phrases of 16 counts."""

import numpy as np

from band.players import HAT, KICK, STICK, Take
from band.score import Clock, Song, tune
from band.sound import Channel

SEED = 1847
COUNT_1_S = 1.42
TEMPO = 114.0

A_PART = ("A2 f A d A F A | B d g e d B A F | G2 B G E G B d | e d c B A G F E |"
          "A2 f A d A F A | B d g e d B A F | G B e d c A B c | d2 f e d2 z2")
B_PART = ("f2 a f b f a f | g f e d e2 c e | d2 f d A d f d | B d A F G F E C |"
          "f2 a f b f a f | g f e d e2 c d | e g f e c A B c | d2 d c d2 z2")

CHANNELS = {
    "kick": Channel(40, -20.5, 0, 0.03, 35, drums=True, width=0.3),
    "wood": Channel(40, -28.0, 0.15, 0.12, 200, drums=True, width=0.4),
    "bass": Channel(32, -21.0, 0, 0.03, 38),
    "guitar": Channel(25, -23.5, -0.45, 0.12, 110, 2),
    "banjo": Channel(105, -22.5, 0.45, 0.12, 160),
    "fiddle": Channel(110, -20.0, -0.05, 0.22, 200),
    "mandolin": Channel(25, -31.0, 0.3, 0.14, 200, bank=16),
}


def page():
    """The form. A bar of the reel has two counts; chords change by the bar or within it."""
    song = Song("coopers-left-boot", "The Cooper's Left Boot", "Ida Quill and the Wheelwrights", "D", 2)
    a_part = "D D G D Em Em A A D D G D Em A D D"
    b_part = "D D G A D D G A D D G A A A D D"
    for label, chords in [("A", a_part), ("A", a_part), ("B", b_part), ("B", b_part)]:
        song.add(label, chords, counts_each=1)
    return song


def play():
    """The whole take. Returns the song, the clock and what was played."""
    rng = np.random.default_rng(SEED)
    song = page()
    clock = Clock(song.counts, COUNT_1_S, TEMPO, lambda place: 1 + 0.0002 * place, 0.003, rng)
    take = Take(song, clock, rng)
    for place, pitch in [(-1, 69), (-0.75, 66), (-0.5, 67), (-0.25, 68)]:  # fiddle's pickup
        take.hit("fiddle", place, 0.23, pitch, 78, 0, 4)
    for n, section in enumerate(song.sections):
        start, counts = section.start, section.counts
        last = n == 3
        body = counts - 1 if last else counts
        tones, _ = tune(A_PART if section.label == "A" else B_PART, "D", 0.25)
        take.sing("fiddle", start, tones, 88 + 2 * n, 2, legato=0.9, slides=0.2)
        if n in (0, 2):
            take.roll("banjo", start, body, 68 + 4 * n)
        else:
            take.roll("banjo", start, body, 76 + 2 * n, tones)
        # Stomp and wood on every count, chords on the off-beat.
        take.groove("kick", KICK, "X.x.", start, body, 84 + 3 * n, 2, scatter_ms=1.5)
        take.groove("wood", STICK, "X.Xo", start, body, 60 + 4 * n, 2)
        if n >= 2:
            take.groove("wood", HAT, "XoXo", start, body, 64, 2)
        take.bass_line("bass", start, body, 84 + 2 * n, "rf" if n < 2 else "rfrw")
        take.strum_bars("guitar", start, body, 78 + 2 * n, "B.duB.du", 2)
        if n >= 1:
            for count in range(int(body)):
                take.strum("mandolin", start + count + 0.5, 0.2, song.chord_at(start + count), 62, top=3)
    end = song.counts - 1
    for stem, pitch, length in [("fiddle", 74, 1.4), ("fiddle", 62, 1.4), ("bass", 38, 1.5), ("banjo", 62, 1.4)]:
        take.hit(stem, end, length, pitch, 96, 0, 3)
    take.strum("guitar", end, 2.0, "D", 96)
    take.strum("mandolin", end, 1.5, "D", 88, top=3)
    take.hit("kick", end, 0.3, KICK, 104, 0, 1.5)
    return song, clock, take

"""Acorns in a Hatbox: a jig in six-eight, E dorian, AABB, two counts to the bar."""

import numpy as np

from band.players import HAT, KICK, SHAKER, Take
from band.score import Clock, Song, tune
from band.sound import Channel

SEED = 1883
COUNT_1_S = 0.96
TEMPO = 126.0
UNIT = 1 / 3  # an eighth is a third of a count

A_PART = ("E G A B2 A | G A B d B A | G E D E G A | B A G A2 D |"
          "E G A B2 d | e d e d B A | G B A G E D | E2 D E3")
B_PART = ("e2 f g2 e | d B A B2 d | e g e d B A | G A B A2 B |"
          "e2 f g2 a | b g e d B A | G B A G E D | E3 E2 z")

CHANNELS = {
    "kick": Channel(40, -20.5, 0, 0.03, 35, drums=True, width=0.3),
    "shaker": Channel(0, -30.0, 0.0, 0.1, 400, drums=True, width=0.2),
    "bass": Channel(32, -21.0, 0, 0.03, 38),
    "guitar": Channel(25, -22.5, 0, 0.12, 110, 2),
    "whistle": Channel(78, -23.5, 0, 0.2, 300),
    "fiddle": Channel(110, -20.5, 0, 0.2, 200),
    "mandolin": Channel(25, -24.0, 0, 0.14, 200, bank=16),
}


def page():
    """The form. A bar of the jig has two counts."""
    song = Song("acorns-in-a-hatbox", "Acorns in a Hatbox", "Ida Quill and the Wheelwrights", "G", 2)
    a_part, b_part = "Em G Em D Em D G Em", "Em G Em D Em G G Em"
    for label, chords in [("A", a_part), ("A", a_part), ("B", b_part), ("B", b_part)]:
        song.add(label, chords)
    return song


def play():
    """The whole take. Returns the song, the clock and what was played."""
    rng = np.random.default_rng(SEED)
    song = page()
    clock = Clock(song.counts, COUNT_1_S, TEMPO, lambda place: 1.0, 0.003, rng)
    take = Take(song, clock, rng)
    for place, pitch in [(-1, 59), (-2 / 3, 62), (-1 / 3, 66)]:
        take.hit("fiddle", place, 0.3, pitch, 76, 0, 4)
    for n, section in enumerate(song.sections):
        start, counts = section.start, section.counts
        body = counts - 1 if n == 3 else counts
        tones, _ = tune(A_PART if section.label == "A" else B_PART, "G", UNIT)
        take.sing("fiddle", start, tones, 86 + 2 * n, 2, legato=0.92, slides=0.2)
        if n in (1, 3):
            take.sing("whistle", start, tones, 78 + 2 * n, 2, legato=0.92, shift=0 if n == 3 else 12)
        take.groove("kick", KICK, "X..x..", start, body, 86 + 3 * n, 2, scatter_ms=1.5)
        take.groove("shaker", SHAKER if n < 2 else HAT, "X.xX.x" if n < 2 else "XoxXox", start, body, 62, 2)
        take.bass_line("bass", start, body, 86, "rf")
        take.strum_bars("guitar", start, body, 80 + 2 * n, "B.uD.u", 2)
        for count in range(int(body)):
            chord = song.chord_at(start + count)
            take.strum("mandolin", start + count, 0.3, chord, 80 + 3 * n, top=3)
            take.strum("mandolin", start + count + 2 / 3, 0.25, chord, 44 + 3 * n, up=True, top=3)
    end = song.counts - 1
    take.hit("bass", end, 1.5, 40, 96, 0, 2)
    take.strum("guitar", end, 1.8, "Em", 94)
    take.hit("kick", end, 0.3, KICK, 100, 0, 1.5)
    return song, clock, take

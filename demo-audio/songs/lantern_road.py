"""Lantern Road: a country-rock song in G. The first chorus is four counts longer than the others."""

import numpy as np

from band.players import (CLAP, CRASH, CRASH_2, HAT, HAT_OPEN, KICK, RIDE, SHAKER, SNARE, TAMBOURINE,
                          Take)
from band.score import Clock, Song, third_below, tune
from band.sound import Channel

SEED = 1903
COUNT_1_S = 1.857
TEMPO = 119.25

RIFF = "B d2 B A2 G2 | E G2 A G4 | B d2 e d2 B2 | A6 z2"
VERSE = ("B B d2 B A G2 | A G E2 D2 z D | E G G2 A c B A | B3 A G2 z D |"
         "E G B2 B A G2 | c B A2 G E3 | D E G2 A B d2 | A5 z B c")
CHORUS = ("e2 e d2 c d2 | B3 G A B3 | A A d2 A F A2 | G5 z B d |"
          "e2 e d2 c d2 | B d2 g2 d B2 | A B c B A F A2 | G5 z3")
TURN = "G A B d e d B A"
BREAK = "B d e d B A G A | c e g e d c A c | B d g d B A G B | A B c e d4"
BRIDGE = "B6 A G | E6 z2 | c6 B A | G6 z2 | c3 B A2 c2 | e4 d2 c2 | d3 c B2 A2 | A B c ^c d4"
SOLO = ("B d e d B d G2 | A B A G E G D2 | E G A c e c A G | B A G A B d2 z |"
        "e d B d e g e d | c d e c A G E2 | D E G A B A G B | A F D E F A2 z")
TAG = "A B c B A F A2 | G4 B d2 z | A B c B A F A2 | G4 z4"

CHANNELS = {
    "kick": Channel(8, -21.5, 0, 0.02, 35, drums=True, width=0.3),
    "snare": Channel(8, -20.5, 0.02, 0.16, 110, 1.5, drums=True, width=0.9),
    "metal": Channel(8, -28.0, 0.0, 0.10, 300, drums=True),
    "shaker": Channel(0, -31.0, 0.35, 0.10, 500, drums=True, width=0.2),
    "bass": Channel(32, -20.0, 0, 0.02, 38),
    "guitar left": Channel(25, -25.0, -0.75, 0.14, 120, 2),
    "guitar right": Channel(25, -25.5, 0.75, 0.14, 120, 2),
    "mandolin": Channel(25, -29.0, 0.5, 0.15, 200, bank=16),
    "banjo": Channel(105, -24.5, 0.38, 0.12, 160),
    "banjo solo": Channel(105, -20.5, 0.15, 0.16, 160),
    "organ": Channel(16, -31.0, -0.2, 0.25, 150),
    "harmonica": Channel(22, -20.0, 0.0, 0.24, 220, vibrato=28),
    "fiddle": Channel(110, -20.0, -0.12, 0.26, 200, vibrato=22),
    "second fiddle": Channel(110, -25.5, -0.5, 0.28, 200, vibrato=22),
}


def page():
    """The form: where every phrase starts and what chords it has."""
    song = Song("lantern-road", "Lantern Road", "The Thimble Creek Band", "G", 4)
    verse, chorus = "G G C G Em C G D", "C G D Em C G D G"
    song.add("intro", "G C G D")
    song.add("verse", verse)
    song.add("chorus", chorus + " G")
    song.add("verse", verse)
    song.add("chorus", chorus)
    song.add("instrumental", "G C G D")
    song.add("bridge", "Em Em C C Am Am D D")
    song.add("verse", verse)
    song.add("chorus", chorus)
    song.add("chorus", chorus)
    song.add("ending", "D G D G")
    return song


def lean(song):
    """The band pushes a little in choruses and sits back in the bridge."""
    factors = {"chorus": 1.006, "bridge": 0.993, "ending": 0.997, "instrumental": 1.003}
    where = [s.label for s in song.sections for _ in range(s.counts)]
    return lambda place: factors.get(where[min(place, len(where) - 1)], 1.0)


def play():
    """The whole take. Returns the song, the clock and what was played."""
    rng = np.random.default_rng(SEED)
    song = page()
    clock = Clock(song.counts, COUNT_1_S, TEMPO, lean(song), 0.004, rng)
    clock.pin(16, 9.907)
    take = Take(song, clock, rng)
    pickup(take)
    intro(take, song.sections[0])
    choruses, verses = song.named("chorus"), song.named("verse")
    for n, section in enumerate(verses):
        verse(take, section, n)
    for n, section in enumerate(choruses):
        chorus(take, section, n)
    instrumental(take, song.named("instrumental")[0])
    bridge(take, song.named("bridge")[0])
    ending(take, song.named("ending")[0])
    return song, clock, take


def pickup(take):
    """A free run up to count 1."""
    for place, pitch, loud in [(-2.9, 43, 70), (-2.1, 47, 72), (-1.5, 50, 76), (-1.0, 52, 80), (-0.5, 54, 86)]:
        take.hit("guitar left", place, 0.9, pitch, loud, 0, 9)
    for place, pitch in [(-1.0, 62), (-0.5, 66)]:
        take.hit("fiddle", place, 0.45, pitch, 70, 0, 6)


def drums(take, start, counts, level, kick, snare, hat, hat_loud=66, sound=HAT):
    """One groove over all the kit."""
    take.groove("kick", KICK, kick, start, counts, 96 * level, 4, scatter_ms=1.5)
    take.groove("snare", SNARE, snare, start, counts, 92 * level, 4, scatter_ms=2.0, feel_ms=1.5)
    take.groove("metal", sound, hat, start, counts, hat_loud * level, 4, scatter_ms=3.0)


def guitars(take, start, counts, loud, left="B.D.B.Du", right="B.Du.uDu"):
    """Two acoustic guitars, far left and far right, each with its own hand."""
    take.strum_bars("guitar left", start, counts, loud, left, 4)
    take.strum_bars("guitar right", start, counts, loud - 3, right, 4)


def lead(take, stem, start, text, loud, **how):
    """A tune from the page; returns its tones."""
    tones, _ = tune(text, "G", 0.5)
    take.sing(stem, start, tones, loud, 4, **how)
    return tones


def intro(take, section):
    start = section.start
    drums(take, start, 8, 0.86, "X...x...X...x...", "................", "x...o...x...o...", 50)
    take.groove("shaker", SHAKER, "x.o.X.o.x.o.X.o.", start, 16, 70, 4)
    guitars(take, start, 16, 82)
    lead(take, "fiddle", start, RIFF, 82, slides=0.5)
    tones, _ = tune(RIFF, "G", 0.5)
    take.roll("banjo", start + 8, 8, 70, [t.__class__(t.place - 8, t.length, t.pitch) for t in tones if t.place >= 8])
    drums(take, start + 8, 7, 0.92, "X.....x.X...x...", "....x.......x..o", "x.o.x.o.x.o.x.o.")
    take.fill(start + 15, "ssSS")
    take.bass_line("bass", start + 8, 8, 84, "r.f.r.fw")


def verse(take, section, n):
    """First verse sparse with harmonica, second fuller, third the banjo's solo."""
    start, counts = section.start, section.counts
    body = counts - 2
    ghost = "....X.......X..o" if n == 0 else "..o.X..o..o.X.oo"
    take.hit("metal", start, 1, CRASH, 78 if n else 62, 0, 2)
    drums(take, start, body, 0.9 + 0.04 * n, "X.....x.X.x.....", ghost, "x.o.x.o.x.o.x.o.")
    take.fill(start + body, ["..s.ssSS", "s.s.hhmS", "sshhmmlS"][n])
    take.hit("kick", start + body, 0.25, KICK, 96, 0, 1.5)
    take.bass_line("bass", start, counts, 86, "r.f.r.fw" if n == 0 else "r.f.r.fwr.frf.fw")
    guitars(take, start, counts, 78 + 3 * n)
    take.groove("shaker", SHAKER, "x.o.X.o.x.o.X.o.", start, counts, 66, 4)
    if n == 0:
        lead(take, "harmonica", start, VERSE, 84)
        # The fiddle answers where the tune rests.
        lead(take, "fiddle", start + 12, "z4 B d e g | z8 | z8 | z8 | z8", 62, slides=0.4)
    elif n == 1:
        lead(take, "harmonica", start, VERSE, 88)
        take.chop("mandolin", start, counts, 76)
        take.pad("organ", start + 16, counts - 16, 62)
        lead(take, "banjo", start + 4, "z6 D E | z8 | z4 d e g e | z8 | z8 | z8 | z5 B c d", 70)
    else:
        tones, _ = tune(SOLO, "G", 0.5)
        take.roll("banjo solo", start, counts, 84, tones)
        take.chop("mandolin", start, counts, 80)
        lead(take, "fiddle", start + 14, "z2 D2 | G6 z2 | A4 z4 | B6 d2 | d4 z4", 58)


def chorus(take, section, n):
    """The hook, with fiddle on top; each chorus adds a voice. Without a bar to spare it ends on a
    fill that leads straight on."""
    start, counts = section.start, section.counts
    spare = counts - 32
    take.hit("metal", start, 2, CRASH, 100, 0, 2)
    take.hit("metal", start + 16, 2, CRASH_2, 84, 0, 2)
    body = counts - 4 - spare if n else 32
    drums(take, start, body, 1.0 + 0.02 * n, "X..x..x.X.x...x.", "....X..o.o..X..o", "x.x.x.x.x.x.x.x.",
          62, sound=RIDE if n >= 2 else HAT)
    take.groove("shaker", TAMBOURINE, "..o.x.o...o.x.o.", start, counts - 2, 60, 4)
    if n:
        drums(take, start + body, 2, 1.0, "X..x..x.", "....X..o", "x.x.x.x.", 62)
        take.fill(start + body + 2, ["", "ssSShhmm", "sshhmmlS", "SsSsSSSS", ""][n])
    if spare:
        # Four over: the band stops, kick and guitar keep the time, a roll leads back.
        at = start + 32
        take.hit("metal", at, 2, CRASH, 92, 0, 2)
        drums(take, at, 2, 0.95, "X...x...", "........", "x...x...", 58)
        take.hit("metal", at + 1.5, 0.5, HAT_OPEN, 66, 0, 2)
        take.fill(at + 2, "k.s.kSSS")
        tones, _ = tune(TURN, "G", 0.5)
        take.roll("banjo solo", at, 4, 84, tones)
    if n >= 3:
        take.groove("shaker", CLAP, "....X.......X...", start, 28, 88, 4, scatter_ms=4)
    take.bass_line("bass", start, counts, 94, "r.rfr.fw" if n < 2 else "rrfrr.fw")
    guitars(take, start, counts, 88 + 2 * n, "B.DuB.Du", "D.Du.uDu")
    take.chop("mandolin", start, counts, 84)
    take.pad("organ", start, counts - spare, 72 + 4 * n)
    tones = lead(take, "fiddle", start, CHORUS, 92 + 2 * n, slides=0.6)
    take.sing("second fiddle", start, third_below(tones, "G"), 82 + 3 * n, 4, slides=0.4)
    if n >= 2:
        take.sing("harmonica", start, tones, 84, 4, shift=-12 if n == 2 else 0, feel_ms=6)
    if n != 0:
        take.roll("banjo", start, 32, 72)
    if n in (1, 2):
        lead(take, "banjo", start + 28, "z5 G B d", 80)


def instrumental(take, section):
    start, counts = section.start, section.counts
    take.hit("metal", start, 2, CRASH, 96, 0, 2)
    drums(take, start, counts - 4, 0.98, "X.x...x.X.x...x.", "..o.X..o..o.X.oo", "x.x.x.x.x.x.x.x.", 60)
    drums(take, start + counts - 4, 2, 0.98, "X.x...x.", "..o.X..o", "x.x.x.x.")
    take.fill(start + counts - 2, "hhmmllSS")
    take.bass_line("bass", start, counts, 92, "rrfrr.fw")
    guitars(take, start, counts, 86)
    take.chop("mandolin", start, counts, 84)
    tones, _ = tune(BREAK, "G", 0.5)
    take.roll("banjo solo", start, counts, 88, tones)
    lead(take, "fiddle", start + 8, "B d g d B A G B | A B c e d4", 74)


def bridge(take, section):
    """Half-time and dark, then eight counts of build."""
    start, counts = section.start, section.counts
    take.hit("metal", start, 4, CRASH, 88, 0, 2)
    drums(take, start, 24, 0.88, "X...x...x.x.x...", "........X.......", "x...x...x...x...", 56, sound=RIDE)
    take.groove("kick", KICK, "X...X...X...X...", start + 24, 8, 92, 4, scatter_ms=1.5)
    take.groove("metal", HAT, "x.x.x.x.x.x.x.x.", start + 24, 8, 58, 4)
    for n in range(28):  # snare swells from eighths to sixteenths
        place = 24 + n / 2 if n < 8 else 28 + (n - 8) / 4
        if place < 32 - 0.3:
            take.hit("snare", start + place, 0.25, SNARE, 44 + 2.6 * n, 1, 2.5)
    take.bass_line("bass", start, 24, 84, "r...r.f.")
    take.bass_line("bass", start + 24, 8, 90, "rrrrrrrw")
    guitars(take, start, 24, 72, "D...D.du", "D...d.du")
    guitars(take, start + 24, 8, 82, "DdDdDdDd", "DuDuDuDu")
    take.pad("organ", start, counts, 84, 52)
    tones = lead(take, "fiddle", start, BRIDGE, 84, legato=0.98, slides=0.3)
    take.sing("second fiddle", start + 16, third_below([t.__class__(t.place - 16, t.length, t.pitch)
                                                       for t in tones if t.place >= 16], "G"), 80, 4)
    tones, _ = tune("z8 | z4 E G B2 | z8 | z4 c B G2", "G", 0.5)
    take.sing("harmonica", start, tones, 70, 4)


def ending(take, section):
    """The last line twice, then three stabs and the last chord rings."""
    start = section.start
    take.hit("metal", start, 2, CRASH, 96, 0, 2)
    drums(take, start, 7, 1.04, "X..x..x.X.x...x.", "....X..o.o..X..o", "x.x.x.x.x.x.x.x.", 64)
    take.fill(start + 7, "hhSS")
    take.hit("metal", start + 8, 2, CRASH_2, 92, 0, 2)
    drums(take, start + 8, 3, 1.04, "X..x..x.X.x.....", "....X..o.o......", "x.x.x.x.x.x.x...", 64)
    take.fill(start + 11, "S.SS")
    take.bass_line("bass", start, 12, 96, "r.rfr.fw")
    guitars(take, start, 12, 92, "B.DuB.Du", "D.Du.uDu")
    take.chop("mandolin", start, 12, 86)
    take.pad("organ", start, 12, 78)
    tones, _ = tune(TAG, "G", 0.5)
    body = [t for t in tones if t.place < 12]
    take.sing("fiddle", start, body, 96, 4, slides=0.5)
    take.sing("second fiddle", start, third_below(body, "G"), 86, 4)
    take.sing("harmonica", start, body, 84, 4)
    take.roll("banjo", start, 12, 80, [t for t in body if t.place >= 8])
    for place, length in [(12, 0.9), (13.5, 0.4), (14, 3.6)]:
        at = start + place
        take.hit("kick", at, 0.5, KICK, 108, 0, 1.5)
        take.hit("snare", at, 0.5, SNARE, 98, 1, 2)
        take.hit("metal", at, 3, CRASH, 100, 0, 2)
        take.hit("bass", at, length, 31, 100, 0, 2)
        take.strum("guitar left", at, length, "G", 98)
        take.strum("guitar right", at, length, "G", 94)
        take.strum("mandolin", at, length, "G", 84, top=3)
        for stem, pitch in [("fiddle", 79), ("second fiddle", 74), ("harmonica", 67), ("banjo", 67), ("organ", 59)]:
            take.hit(stem, at, length, pitch, 92, 0, 4, slide=stem == "fiddle" and place == 14)
    take.hit("banjo", start + 15, 2, 71, 70)


# The radio edit: section, first and last count taken from it; a fade over the last counts.
EDIT = [(0, 8, 16), (1, 0, 32), (2, 0, 32), (3, 0, 32), (4, 0, 32), (6, 0, 32), (8, 0, 32), (9, 0, 20)]
EDIT_FADE = 12

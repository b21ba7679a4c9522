"""Makes other cuts of rendered songs, with known maps: what `cuts.py --make` runs.

Beside each NAME.KIND.flac stands NAME.KIND.json: the song, semitones, tempo ratio, whether the form is the song's, and the
true map as [seconds, label, counts (-1: not to be judged), index of the song's phrase or None for what is not of the song].
"""
import hashlib
import json
import os
import subprocess
import tempfile

import numpy as np
import soundfile

SR = 22050
KINDS = ["radio", "extended", "transposed", "tempo", "both", "worn", "take", "radio_take", "cover", "radio_cover",
         "medley", "moved_medley", "other", "other_medley"]
#: Kinds that nothing was tuned on at first; docs/recut.md says what was looked at since.
HELD_BACK = ["both", "radio_take", "radio_cover", "moved_medley"]
REFUSED = ["other", "other_medley"]


def load(base):
    beats = np.array([float(line.split()[0]) for line in open(base + ".beats")])
    rows = [line.rstrip("\n").split("\t") for line in open(base + ".phrases")]
    phrases = [(float(t), label) for t, label in rows]
    return beats, phrases, json.load(open(base + ".json"))


def counted(beats, phrases):
    """[(first beat, label, beats)] of the phrases; the last line is where the last chord stands."""
    at = [int(np.argmin(abs(beats - t))) for t, _ in phrases]
    ends = at[1:] + [len(beats)]
    rows = [(a, label, b - a) for a, b, (_, label) in zip(at, ends, phrases)]
    if phrases[-1][1] == "end":
        rows = rows[:-1]
    return [r for r in rows if r[2] > 0]


def rng_of(*words):
    return np.random.default_rng(int(hashlib.sha256("/".join(map(str, words)).encode()).hexdigest()[:8], 16))


# ---------------------------------------------------------------- cuts of sound

def join(x, pieces):
    """Pieces of samples one after the other, 10 ms crossfades."""
    fade = SR // 100
    ramp = np.sin(np.linspace(0, np.pi / 2, fade)) ** 2
    out = np.zeros(0)
    for p in pieces:
        p = np.array(p, dtype=float)
        if len(out) >= fade and len(p) > fade:
            out[-fade:] = out[-fade:] * (1 - ramp) + p[:fade] * ramp
            p = p[fade:]
        out = np.concatenate([out, p])
    return out


def edit(x, beats, rows, order, strange, rng):
    """Plays phrases in an order: an index, ("from", index, n) for its last n beats, ("new", n) for n beats of strange music.
    Returns sound and the true map [(seconds, label, counts, old phrase or None)] with the beats' times."""
    def sound(a, b):
        end = beats[b] if b < len(beats) else beats[-1] + (beats[-1] - beats[-2])
        return x[int(beats[a] * SR):int(end * SR)], end - beats[a], beats[a:b] - beats[a]

    at, out, truth, times = 0.0, [], [], []
    lead = x[:int(beats[rows[0][0]] * SR)] if order[0] == 0 else np.zeros(SR // 2)
    out.append(lead)
    at = len(lead) / SR
    for step in order:
        if isinstance(step, tuple) and step[0] == "new":
            period = float(np.median(np.diff(beats)))
            n = int(step[1] * period * SR)
            start = int(rng.uniform(20, len(strange) / SR - 20 - n / SR) * SR)
            piece, long_s, own = strange[start:start + n], n / SR, np.arange(step[1]) * period
            truth.append((at, "new", step[1], None))
        else:
            p, keep = (step[1], step[2]) if isinstance(step, tuple) else (step, rows[step][2])
            first, label, counts = rows[p]
            keep = min(keep, counts)
            piece, long_s, own = sound(first + counts - keep, first + counts)
            truth.append((at, label, keep, p))
        times += [at + t for t in own]
        out.append(piece)
        at += long_s
    # The join is made after the piece that is left, so that no time is lost.
    fade = SR // 100
    pieces = [out[0]]
    for before, piece in zip(out, out[1:]):
        pieces.append(np.concatenate([np.zeros(fade) if len(before) < fade else before[-fade:], piece]))
    return join(x, pieces), truth, times


def through_ffmpeg(x, filters, codec=None):
    with tempfile.TemporaryDirectory() as d:
        soundfile.write(d + "/a.wav", x, SR)
        end = d + ("/b.mp3" if codec else "/b.wav")
        subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", d + "/a.wav", "-af", filters] + (codec or []) + [end], check=True)
        if codec:
            subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", end, d + "/c.wav"], check=True)
            end = d + "/c.wav"
        return soundfile.read(end)[0]


def radio(rows, rng):
    n = len(rows)
    order = list(range(n))
    for p in sorted(rng.choice(np.arange(1, n), size=min(int(rng.integers(1, 4)), max(1, n - 3)), replace=False), reverse=True):
        order.remove(int(p))
    if rows[0][1] in ("intro", "instrumental") and rows[0][2] >= 8 and rng.uniform() < .7:
        order[0] = ("from", 0, rows[0][2] // 2 // 4 * 4)
    return order


def extended(rows, rng):
    order = list(range(len(rows)))
    p = int(rng.integers(1, len(rows)))
    order.insert(p + 1, p)
    order.insert(int(rng.integers(2, len(order))), ("new", int(rng.choice([8, 16, 16, 32]))))
    return [("new", int(rng.choice([8, 16, 32])))] + order



def faded(y, truth, beats, rng):
    """Faded out over 8 s, from 70 to 90 % of it; what starts in the second half of the fade is not judged."""
    end = len(y) / SR * rng.uniform(.7, .9)
    n, f = int(end * SR), 8 * SR
    y = y[:n].copy()
    y[-f:] *= np.linspace(1, 0, f)
    period = float(np.median(np.diff(beats)))
    out = []
    for t, label, counts, p in truth:
        if t < end - 4 - 8 * period:
            out.append((t, label, counts if t + counts * period < end - 4 else -1, p))
    return y, out


# ---------------------------------------------------------------- medleys

def strange_stretch(other, rng):
    """Sound and length in seconds of 64 to 120 beats of another song, from one of its bar lines."""
    x, (beats, _, _) = other
    n = int(min(rng.integers(64, 121), len(beats) - 9))
    a = int(rng.integers(4, len(beats) - n - 1)) // 4 * 4
    piece = x[int(beats[a] * SR):int(beats[a + n] * SR)]
    return piece, len(piece) / SR


def strange_rows(at, long_s, period):
    """What is not of the song, in rows of 16 counts, so that each is judged."""
    n = max(1, round(long_s / period / 16))
    return [(at + k * long_s / n, "new", round(long_s / n / period), None) for k in range(n)]


def medley(x, beats, rows, others, rng, semis=0, ratio=1.0):
    """A part of the song, whole phrases of 64 to 160 counts in all, between two other songs or before or behind one."""
    first = int(rng.integers(0, len(rows)))
    while first > 0 and sum(r[2] for r in rows[first:]) < 64:
        first -= 1
    last = first
    while last + 1 < len(rows) and sum(r[2] for r in rows[first:last + 1]) < 64:
        last += 1
    while last + 1 < len(rows) and sum(r[2] for r in rows[first:last + 2]) <= 160 and rng.uniform() < .4:
        last += 1
    period = float(np.median(np.diff(beats))) / ratio
    end = rows[last][0] + rows[last][2]
    start_s, end_s = beats[rows[first][0]], beats[min(end, len(beats) - 1)]
    piece = x[int(start_s * SR):int(end_s * SR)]
    if semis or ratio != 1.0:
        piece = through_ffmpeg(piece, f"rubberband=pitch={2 ** (semis / 12)}:tempo={ratio}")
    place = str(rng.choice(["middle", "middle", "middle", "first", "last"]))
    pieces, truth, at = [], [], 0.0
    for what in {"middle": "xpx", "first": "px", "last": "xp"}[place]:
        if what == "x":
            sound, long_s = strange_stretch(others[len(pieces) % len(others)], rng)
            truth += strange_rows(at, long_s, period)
        else:
            sound, long_s = piece, (end_s - start_s) / ratio
            truth += [(at + (beats[a] - start_s) / ratio, label, n, first + k) for k, (a, label, n) in enumerate(rows[first:last + 1])]
        pieces.append(level(sound))
        at += long_s
    return butt(pieces), truth


def level(sound):
    """At one loudness, as a medley is mixed."""
    return np.asarray(sound, dtype=float) * .1 / max(float(np.sqrt(np.mean(np.square(sound)))), 1e-6)


def butt(pieces):
    """One after the other with no time lost; 5 ms ramps against clicks."""
    n = SR // 200
    for p in pieces:
        p[:n] *= np.linspace(0, 1, n)
        p[-n:] *= np.linspace(1, 0, n)
    return np.concatenate(pieces)


# ---------------------------------------------------------------- all of them

class Maker:
    """One song and all that cuts of it are made of."""

    def __init__(self, songs, name, about):
        self.songs, self.name = songs, name
        base = os.path.join(songs, name)
        self.x = soundfile.read(base + ".wav")[0]
        self.beats, phrases, self.facts = load(base)
        self.rows = counted(self.beats, phrases)
        # Two arrangements of one published tune are no other song.
        self.others = [m for m in about if m != name and about[m]["half"] == self.facts["half"]
                       and about[m].get("tune", m) != self.facts.get("tune", name)]
        self.played_again = {}

    def other(self, k):
        base = os.path.join(self.songs, self.others[k])
        return soundfile.read(base + ".wav")[0], load(base)

    def some_others(self, n, rng):
        return [self.other(k) for k in rng.choice(len(self.others), size=min(n, len(self.others)), replace=False)]

    def played(self, kind):
        """(sound, beats, semitones, ratio) of the song as it is or played again; a radio cut is made of the same take."""
        import played_again
        by = {"take": played_again.second_take, "cover": played_again.cover}.get(kind.removeprefix("radio_"))
        if by is None:
            return self.x, self.beats, 0, 1.0
        if by not in self.played_again:
            rng = rng_of("cut", self.name, by.__name__)
            self.played_again[by] = by(self.songs, self.name, self.facts, rng)
        return self.played_again[by]

    def cut(self, kind):
        """(sound, truth, semitones, ratio), or None where it cannot be made."""
        rng = rng_of("cut", self.name, kind)
        if kind == "other":
            return self.some_others(1, rng)[0][0], [], 0, 1.0
        if kind == "other_medley":
            pieces = [strange_stretch(o, rng)[0] for o in self.some_others(3, rng)]
            return butt([level(p) for p in pieces]), [], 0, 1.0
        x, beats, semis, ratio = self.played(kind)
        if x is None:
            return None
        if kind in ("medley", "moved_medley"):
            if kind == "moved_medley":
                semis, ratio = int(rng.choice([-3, -2, -1, 1, 2, 3])), float(rng.choice([.9, .94, 1.06, 1.1]))
            y, truth = medley(x, beats, self.rows, self.some_others(2, rng), rng, semis, ratio)
            return y, truth, semis, ratio
        order = list(range(len(self.rows)))
        if kind in ("radio", "both", "radio_take", "radio_cover"):
            order = radio(self.rows, rng)
        if kind == "extended":
            order = extended(self.rows, rng)
        if kind in ("transposed", "tempo", "worn", "take", "cover"):
            y, truth = x, [(beats[a], label, n, p) for p, (a, label, n) in enumerate(self.rows)]
        else:
            y, truth, _ = edit(x, beats, self.rows, order, self.some_others(1, rng)[0][0], rng)
            if kind == "radio" and rng.uniform() < .5:
                y, truth = faded(y, truth, beats, rng)
        if kind in ("transposed", "tempo", "both"):
            semis = 0 if kind == "tempo" else int(rng.choice([-4, -3, -2, -1, 1, 2, 3, 4]))
            ratio = 1.0 if kind == "transposed" else float(rng.choice([.8, .85, .9, .95, 1.05, 1.1, 1.18, 1.25]))
            y = through_ffmpeg(y, f"rubberband=pitch={2 ** (semis / 12)}:tempo={ratio}")
            truth = [(t / ratio, label, n, p) for t, label, n, p in truth]
        if kind == "worn":
            gain = rng.uniform(-9, 9, 3)
            y = through_ffmpeg(y, f"bass=g={gain[0]},treble=g={gain[1]},equalizer=f=1200:t=o:w=2:g={gain[2]},volume=-3dB", ["-b:a", "64k"])
        return y, truth, semis, ratio

    def with_facts(self, kind):
        """(sound below full scale, what is true of it), or None where it cannot be made."""
        made = self.cut(kind)
        if made is None:
            return None
        y, truth, semis, ratio = made
        same_form = [p for _, _, _, p in truth] == list(range(len(self.rows))) and all(n == self.rows[p][2] for _, _, n, p in truth)
        truth = [(float(t), label, int(n), p) for t, label, n, p in truth]
        facts = dict(song=self.name, kind=kind, half=self.facts["half"], semitones=semis, ratio=ratio, truth=truth, same_form=same_form)
        return np.clip(y * .9 / max(abs(y).max(), 1e-6), -1, 1), facts


def make(songs, out, part, of, kinds):
    os.makedirs(out, exist_ok=True)
    names = sorted(f[:-5] for f in os.listdir(songs) if f.endswith(".json"))
    about = {m: json.load(open(os.path.join(songs, m + ".json"))) for m in names}
    # One song of every sort first, should there be no time for all.
    for k, name in enumerate(sorted(names, key=lambda name: (name[-1], name))):
        if k % of != part:
            continue
        maker = Maker(songs, name, about)
        rows = maker.rows
        for kind in kinds or KINDS:
            to = os.path.join(out, f"{name}.{kind}")
            if os.path.exists(to + ".json") or len(rows) < 3:
                continue
            made = maker.with_facts(kind)
            if made is None:
                continue
            soundfile.write(to + ".flac", made[0], SR)
            json.dump(made[1], open(to + ".json", "w"))

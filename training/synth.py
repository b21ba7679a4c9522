"""Instruments of our own: a random drum kit, random pitched voices, rooms, noises and talk-like sound.

Everything is drawn from a numpy Generator, so a seed gives the same sound.
"""
from __future__ import annotations

import numpy as np
from scipy.fft import next_fast_len
from scipy.signal import fftconvolve, lfilter, sosfilt, butter


def _env(n, sr, attack, decay):
    t = np.arange(n) / sr
    return np.minimum(1, t / max(attack, 1e-4)) * np.exp(-t / decay)


def _band(x, sr, lo, hi, order=2):
    lo, hi = max(lo, 20) / (sr / 2), min(hi, sr * 0.49) / (sr / 2)
    if hi <= lo * 1.05:
        return x
    return sosfilt(butter(order, [lo, hi], "band", output="sos"), x)


def log_uniform(rng, lo, hi):
    return float(np.exp(rng.uniform(np.log(lo), np.log(hi))))


class Kit:
    """One-shot drum sounds with random make-up, from electronic to dull and roomy."""

    NAMES = ("kick", "snare", "side", "hat", "open", "ride", "crash", "tom1", "tom2", "tom3", "clap", "shaker",
             "tamb", "cow", "stomp", "brush", "snap", "bodhran", "bodhran2", "conga", "conga2")

    def __init__(self, rng, sr):
        self.sr, self.rng = sr, rng
        self.shots = {}
        self.params = rng.uniform(size=64)

    def shot(self, name):
        if name not in self.shots:
            self.shots[name] = self._make(name)
        return self.shots[name]

    def _noise(self, n):
        return self.rng.standard_normal(n)

    def _make(self, name):
        rng, sr = self.rng, self.sr
        u = rng.uniform
        if name in ("kick", "stomp", "bodhran", "bodhran2", "tom1", "tom2", "tom3", "conga", "conga2"):
            f0, dec, sweep, click = {
                "kick": (u(40, 75), log_uniform(rng, .05, .35), u(1, 6), u(0, .6)),
                "stomp": (u(55, 110), log_uniform(rng, .04, .12), u(0.3, 2), u(.1, .8)),
                "bodhran": (u(70, 120), log_uniform(rng, .06, .2), u(.2, 1), u(.05, .5)),
                "bodhran2": (u(110, 220), log_uniform(rng, .04, .12), u(.2, 1), u(.05, .5)),
                "tom1": (u(150, 220), log_uniform(rng, .1, .3), u(.2, 1.2), u(.05, .4)),
                "tom2": (u(110, 150), log_uniform(rng, .1, .3), u(.2, 1.2), u(.05, .4)),
                "tom3": (u(70, 110), log_uniform(rng, .1, .4), u(.2, 1.2), u(.05, .4)),
                "conga": (u(180, 260), log_uniform(rng, .06, .15), u(.1, .4), u(.1, .4)),
                "conga2": (u(280, 400), log_uniform(rng, .04, .1), u(.1, .4), u(.1, .6)),
            }[name]
            n = int(sr * min(1.2, dec * 6))
            t = np.arange(n) / sr
            phase = 2 * np.pi * f0 * (t + sweep * .02 * (1 - np.exp(-t / .02)))
            x = np.sin(phase) * _env(n, sr, u(.0003, .004), dec)
            if u() < .5:
                x += u(0, .5) * np.sin(phase * u(1.5, 2.3)) * _env(n, sr, .001, dec * .6)
            x += click * _band(self._noise(n), sr, u(300, 2000), u(2500, 9000)) * _env(n, sr, .0003, u(.002, .015))
            return x
        if name in ("snare", "brush"):
            dec = log_uniform(rng, .05, .25)
            n = int(sr * min(1.0, dec * 6))
            att = .0005 if name == "snare" else u(.004, .02)
            body = np.sin(2 * np.pi * u(150, 260) * np.arange(n) / sr) * _env(n, sr, .0005, u(.03, .12))
            noise = _band(self._noise(n), sr, u(300, 1800), u(4000, 10500)) * _env(n, sr, att, dec)
            return u(.2, .9) * body * (name == "snare") + noise
        if name in ("hat", "open", "ride", "crash", "shaker", "tamb"):
            dec = {"hat": log_uniform(rng, .015, .08), "open": u(.12, .5), "ride": u(.2, .9), "crash": u(.5, 1.6),
                   "shaker": u(.02, .07), "tamb": u(.04, .15)}[name]
            n = int(sr * min(2.5, dec * 5))
            x = _band(self._noise(n), sr, u(2500, 6500), 10800)
            if u() < .6:  # metal partials
                t = np.arange(n) / sr
                for _ in range(6):
                    x += u(0, .8) * np.sign(np.sin(2 * np.pi * u(2500, 9000) * t + u(0, 6)))
            att = u(.008, .03) if name == "shaker" else .0005
            x = x * _env(n, sr, att, dec)
            if name == "ride":
                m = min(n, int(.03 * sr))
                x[:m] += u(1, 4) * np.sin(2 * np.pi * u(2500, 5500) * np.arange(m) / sr) * _env(m, sr, .0005, .01)
            return x
        if name == "clap":
            n = int(.4 * sr)
            x = np.zeros(n)
            noise = _band(self._noise(n), sr, u(600, 1100), u(2500, 6000))
            for k in range(rng.integers(1, 5)):
                a = int(sr * k * u(.006, .012))
                x[a:] += noise[: n - a] * _env(n - a, sr, .0005, .008 if k < 2 else u(.02, .12))
            return x
        # short pitched clicks
        n = int(.2 * sr)
        t = np.arange(n) / sr
        f = {"side": u(700, 1800), "cow": u(500, 900), "snap": u(1500, 3000)}[name]
        x = sum(np.sin(2 * np.pi * f * r * t) * g for r, g in ((1, 1), (u(1.4, 1.6), u(.2, .9)), (u(2.2, 3), u(0, .4))))
        return x * _env(n, sr, .0004, u(.01, .06)) + u(0, .6) * self._noise(n) * _env(n, sr, .0003, .006)

    def render(self, hits, n):
        """hits: (seconds, name, velocity 0..1) → mono."""
        out = np.zeros(n + 3 * self.sr)
        for t, name, v in hits:
            i = int(round(t * self.sr))
            if i < 0 or i >= n:
                continue
            s = self.shot(name)
            s = s / (np.sqrt(np.mean(s[: self.sr // 10] ** 2)) + 1e-6)
            g = LEVEL.get(name, .5) * v ** 1.5
            out[i:i + len(s)] += g * s
        return out[:n]


LEVEL = {"kick": 1.0, "snare": .7, "side": .4, "hat": .2, "open": .25, "ride": .22, "crash": .4, "tom1": .6, "tom2": .6,
         "tom3": .7, "clap": .5, "shaker": .15, "tamb": .2, "cow": .25, "stomp": .9, "brush": .3, "snap": .35,
         "bodhran": .9, "bodhran2": .5, "conga": .5, "conga2": .4}


class Voice:
    """A random pitched instrument: plucked, struck, bowed, blown, buzzing or sung."""

    KINDS = ("pluck", "bell", "reed", "bow", "pad", "fm", "sung", "square", "ks")

    def __init__(self, rng, sr, kind=None):
        self.sr, self.rng = sr, rng
        self.kind = kind or rng.choice(self.KINDS)
        u = rng.uniform
        self.harmonics = rng.integers(4, 24)
        self.tilt = u(.5, 2.2)
        self.odd = u() < .2
        self.decay = log_uniform(rng, .1, 1.5)
        self.attack = {"pluck": u(.001, .006), "bell": .001, "ks": .001, "reed": u(.01, .06), "bow": u(.02, .12),
                       "pad": u(.05, .3), "fm": u(.001, .02), "sung": u(.02, .1), "square": u(.001, .02)}[self.kind]
        self.release = u(.02, .25)
        self.vibrato = u(0, .012) * (self.kind in ("bow", "sung", "reed"))
        self.vib_hz = u(4, 6.5)
        self.breath = u(0, .15) * (self.kind in ("reed", "sung", "bow"))
        self.formants = [(u(300, 800), u(60, 150)), (u(900, 2200), u(80, 200)), (u(2400, 3200), u(120, 300))]
        self.fm = (rng.choice([.5, 1, 1.5, 2, 3, 3.5, 7]), u(.3, 6))
        self.glide = u(0, .6) * (self.kind == "sung")

    def note(self, f, dur, v):
        sr, rng = self.sr, self.rng
        n = int(sr * (dur + self.release))
        t = np.arange(n) / sr
        wob = 1 + self.vibrato * np.sin(2 * np.pi * self.vib_hz * t + rng.uniform(0, 6)) * np.minimum(1, t / .3)
        if self.glide:
            wob = wob * 2 ** (-self.glide / 12 * np.exp(-t / .04) * rng.choice([0, 1, 2]))
        phase = 2 * np.pi * np.cumsum(f * wob) / sr
        if self.kind == "ks":
            period = max(2, int(round(sr / f)))
            burst = np.zeros(n)
            burst[:period] = rng.uniform(-1, 1, min(period, n))[: len(burst[:period])]
            rho = .996 if f < 400 else .99
            a = np.zeros(period + 2)
            a[0], a[period], a[period + 1] = 1, -rho * .5, -rho * .5
            x = lfilter([1], a, burst)
        elif self.kind == "fm":
            ratio, index = self.fm
            x = np.sin(phase + index * v * np.exp(-t / self.decay) * np.sin(phase * ratio))
        elif self.kind == "square":
            x = np.tanh(4 * np.sin(phase))
        else:
            x = np.zeros(n)
            for h in range(1, self.harmonics + 1):
                if f * h > sr * .45 or (self.odd and h % 2 == 0):
                    continue
                g = h ** -self.tilt
                if self.kind == "sung":
                    g = h ** -.6 * (.02 + sum(np.exp(-.5 * ((f * h - c) / (2 * w)) ** 2) for c, w in self.formants))
                ratio = h * (1 + .0004 * h * h) if self.kind == "pluck" else h * (1 + .13 * (h - 1) * (self.kind == "bell"))
                dec = np.exp(-t * h ** .7 / self.decay) if self.kind in ("pluck", "bell") else 1
                x += g * np.sin(phase * ratio) * dec
        if self.breath:
            x += self.breath * rng.standard_normal(n) * np.abs(x).mean()
        env = np.minimum(1, t / self.attack) if self.attack > 0 else np.ones(n)
        if self.kind in ("fm", "square"):
            env = env * (.3 + .7 * np.exp(-t / self.decay))
        gate = np.clip((dur + self.release - t) / self.release, 0, 1)
        return x * env * gate * v ** 1.3

    def render(self, notes, n):
        """notes: (seconds on, seconds off, midi, velocity) → mono."""
        out = np.zeros(n + 8 * self.sr)
        for on, off, p, v in notes:
            i = int(round(on * self.sr))
            if i < 0 or i >= n:
                continue
            x = self.note(440 * 2 ** ((p - 69) / 12), min(max(off - on, .03), 6), v)
            out[i:i + len(x)] += x
        return out[:n]


def room(x, sr, rng, amount=None):
    """A room: an early part and an exponential tail; the direct sound stays at its time."""
    rt = log_uniform(rng, .15, 2.2)
    amount = rng.uniform(.02, .5) if amount is None else amount
    n = int(sr * min(rt, 2.0))
    h = rng.standard_normal(n) * np.exp(-6.9 * np.arange(n) / (rt * sr))
    h = _band(h, sr, rng.uniform(80, 300), rng.uniform(2500, 9000), 1)
    pre = int(sr * rng.uniform(.002, .03))
    wet = fftconvolve(x, h / (np.sqrt(np.sum(h ** 2)) + 1e-9))[: len(x)]
    wet = np.concatenate([np.zeros(pre), wet])[: len(x)]
    scale = np.std(x) / (np.std(wet) + 1e-9)
    return x + amount * scale * wet


def equalise(x, sr, rng, depth=6.0):
    """A smooth random response in the frequency domain (zero phase, so no delay)."""
    n = next_fast_len(len(x), real=True)        # a long prime length would take twenty times as long
    X = np.fft.rfft(x, n)
    f = np.fft.rfftfreq(n, 1 / sr)
    knots = np.log2([20, 80, 250, 800, 2500, 6000, sr / 2])
    gains = rng.uniform(-depth, depth, len(knots))
    g = np.interp(np.log2(np.maximum(f, 20)), knots, gains)
    if rng.uniform() < .2:  # small speaker or phone
        lo = rng.uniform(100, 350)
        g -= 24 * np.clip(np.log2(lo / np.maximum(f, 20)), 0, None)
    if rng.uniform() < .25:
        hi = log_uniform(rng, 3000, 10000)
        g -= 48 * np.clip(np.log2(np.maximum(f, 20) / hi), 0, 2)
    return np.fft.irfft(X * 10 ** (g / 20), n)[: len(x)]


def compress(x, sr, rng, strength=None):
    """Slow-release levelling, and a soft clip."""
    strength = rng.uniform(0, .8) if strength is None else strength
    block = sr // 100
    m = len(x) // block + 1
    p = np.sqrt(np.mean(np.pad(x, (0, m * block - len(x))).reshape(m, block) ** 2, axis=1)) + 1e-6
    rel = np.exp(-1 / (100 * log_uniform(rng, .05, .5)))
    env = np.empty(m)
    e = p[0]
    for i in range(m):
        e = max(p[i], e * rel)
        env[i] = e
    g = (env / (np.percentile(env, 95) + 1e-9) + 1e-3) ** -strength
    g = np.minimum(g, 10)
    x = x * np.interp(np.arange(len(x)) / block, np.arange(m), g)
    x = x / (np.percentile(np.abs(x), 99.9) + 1e-9)
    return np.tanh(x * (rng.uniform(.5, 1.6) if rng.uniform() < .8 else rng.uniform(1.6, 6)))


def noise(n, sr, rng):
    """Hiss, hum, rumble or a murmuring crowd."""
    kind = rng.integers(4)
    w = rng.standard_normal(n)
    if kind == 0:
        return w
    if kind == 1:
        return lfilter([1], [1, -.98], w)
    if kind == 2:
        t = np.arange(n) / sr
        f = rng.choice([50, 60])
        return sum(np.sin(2 * np.pi * f * k * t) / k for k in (1, 2, 3, 5)) + .1 * w
    return talk(n, sr, rng) + talk(n, sr, rng) + .2 * w


def talk(n, sr, rng):
    """Talk-like sound: voiced and hissed syllables at an uneven pace, with pauses."""
    out = np.zeros(n)
    t = rng.uniform(0, .3)
    f0 = log_uniform(rng, 85, 240)
    while t < n / sr - .5:
        d = rng.uniform(.07, .28)
        m = int(d * sr)
        i = int(t * sr)
        env = np.hanning(m) * rng.uniform(.3, 1)
        if rng.uniform() < .75:
            f = f0 * 2 ** rng.uniform(-.35, .35)
            tt = np.arange(m) / sr
            x = np.zeros(m)
            c = [(rng.uniform(300, 800), 80), (rng.uniform(900, 2300), 120), (rng.uniform(2300, 3200), 200)]
            for h in range(1, int(4500 / f)):
                g = h ** -.5 * (.02 + sum(np.exp(-.5 * ((f * h - a) / (2 * b)) ** 2) for a, b in c))
                x += g * np.sin(2 * np.pi * f * h * tt * (1 - rng.uniform(0, .05) * tt))
        else:
            x = .15 * _band(rng.standard_normal(m), sr, 2500, 9000)
        out[i:i + m] += x[: len(out[i:i + m])] * env[: len(out[i:i + m])]
        t += d * rng.uniform(.6, 1.2)
        if rng.uniform() < .15:
            t += rng.uniform(.2, 1.0)
    return out

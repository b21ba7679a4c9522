"""Turns a Song into sound: every stem through a soundfont or one of our own voices, then rooms, mix and wear."""
from __future__ import annotations

import ctypes
import ctypes.util

import numpy as np

import synth

DRUM_KEYS = {"kick": [36, 35], "snare": [38, 40], "side": [37], "hat": [42, 44], "open": [46], "ride": [51, 59], "crash": [49, 57],
             "tom1": [48, 50], "tom2": [45, 47], "tom3": [43, 41], "clap": [39], "shaker": [70, 82], "tamb": [54], "cow": [56],
             "stomp": [36, 41], "brush": [38, 40], "snap": [37, 39], "bodhran": [64, 41, 66], "bodhran2": [63, 65, 37],
             "conga": [64, 63], "conga2": [62, 60]}


class TinyFont:
    """A soundfont through TinySoundFont (MIT), in process."""

    def __init__(self, path, sr):
        import tinysoundfont
        self.sr = sr
        self.synth = tinysoundfont.Synth(samplerate=sr)
        self.font = self.synth.sfload(path)
        self.has_drums = True

    def render(self, events, n, program, drums=False):
        s, ch = self.synth, 9 if drums else 0
        try:
            s.program_select(ch, self.font, 128 if drums else 0, program, drums)
        except Exception:
            s.program_select(ch, self.font, 128 if drums else 0, 0, drums)
        out = np.zeros(n, np.float32)
        at = 0
        for i, on, key, v in events:
            i = min(i, n)
            if i > at:
                out[at:i] = np.frombuffer(s.generate(i - at), np.float32).reshape(-1, 2).mean(1)
                at = i
            (s.noteon(ch, key, v) if on else s.noteoff(ch, key))
        if n > at:
            out[at:] = np.frombuffer(s.generate(n - at), np.float32).reshape(-1, 2).mean(1)
        s.sounds_off(ch)
        return out


class FluidFont:
    """A soundfont through FluidSynth's library (LGPL; used as a tool, not shipped)."""

    lib = None

    def __init__(self, path, sr):
        if FluidFont.lib is None:
            FluidFont.lib = ctypes.CDLL(ctypes.util.find_library("fluidsynth") or "libfluidsynth.so.3")
            for name in ("new_fluid_settings", "new_fluid_synth"):
                getattr(FluidFont.lib, name).restype = ctypes.c_void_p
            FluidFont.lib.fluid_settings_setnum.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_double]
            FluidFont.lib.fluid_settings_setint.argtypes = [ctypes.c_void_p, ctypes.c_char_p, ctypes.c_int]
        lib = FluidFont.lib
        self.sr = sr
        st = ctypes.c_void_p(lib.new_fluid_settings())
        lib.fluid_settings_setnum(st, b"synth.sample-rate", float(sr))
        lib.fluid_settings_setnum(st, b"synth.gain", 0.5)
        lib.fluid_settings_setint(st, b"synth.reverb.active", 0)
        lib.fluid_settings_setint(st, b"synth.chorus.active", 0)
        lib.fluid_settings_setint(st, b"synth.dynamic-sample-loading", 1)
        self.h = ctypes.c_void_p(lib.new_fluid_synth(st))
        self.font = lib.fluid_synth_sfload(self.h, path.encode(), 1)
        assert self.font >= 0, path
        self.has_drums = lib.fluid_synth_program_select(self.h, 9, self.font, 128, 0) == 0

    def render(self, events, n, program, drums=False):
        lib, h, ch = FluidFont.lib, self.h, 9 if drums else 0
        if drums:
            if lib.fluid_synth_program_select(h, ch, self.font, 128, program) != 0:
                lib.fluid_synth_program_select(h, ch, self.font, 128, 0)
        else:
            lib.fluid_synth_program_select(h, ch, self.font, 0, program)
        left, right = np.zeros(n, np.float32), np.zeros(n, np.float32)
        at = 0

        def write(upto):
            nonlocal at
            if upto > at:
                lib.fluid_synth_write_float(h, upto - at, left[at:].ctypes.data_as(ctypes.c_void_p), 0, 1,
                                            right[at:].ctypes.data_as(ctypes.c_void_p), 0, 1)
                at = upto
        for i, on, key, v in events:
            write(min(i, n))
            (lib.fluid_synth_noteon(h, ch, key, v) if on else lib.fluid_synth_noteoff(h, ch, key))
        write(n)
        lib.fluid_synth_all_sounds_off(h, ch)
        spare = np.zeros(2048, np.float32)
        lib.fluid_synth_write_float(h, 2048, spare.ctypes.data_as(ctypes.c_void_p), 0, 1, spare.ctypes.data_as(ctypes.c_void_p), 0, 1)
        return (left + right) * .5


_FONTS: dict = {}


def font(kind, path, sr):
    key = (kind, path, sr)
    if key not in _FONTS:
        _FONTS[key] = (TinyFont if kind == "tiny" else FluidFont)(path, sr)
    return _FONTS[key]


def stem_audio(stem, n, sr, rng, fonts, drum_fonts=()):
    """One stem, mono, at unit loudness."""
    kind = stem.sound[0]
    if kind == "kit":
        return synth.Kit(rng, sr).render([(t, nm, v) for t, nm, v in stem.notes], n)
    if kind == "voice":
        x = synth.Voice(rng, sr, stem.sound[1]).render(stem.notes, n)
    else:
        drums = kind == "sfkit"
        program, bank = stem.sound[1], drums
        if drums and drum_fonts and rng.uniform() < .35:
            f, program, bank = font(*drum_fonts[int(rng.integers(len(drum_fonts)))], sr), 0, False   # a kit in bank 0
        else:
            able = [f for f in (font(*k, sr) for k in fonts) if f.has_drums or not drums]
            f = able[int(rng.integers(len(able)))]
        ev = []
        if drums:
            keys = {nm: int(rng.choice(k)) for nm, k in DRUM_KEYS.items()}
            for t, nm, v in stem.notes:
                i = int(round(t * sr))
                if i < 0:
                    continue
                ev += [(i, 1, keys[nm], int(np.clip(v ** .7 * 127, 8, 127))), (i + sr // 8, 0, keys[nm], 0)]
        else:
            for on, off, p, v in stem.notes:
                if on < 0:
                    continue
                p = int(np.clip(p, 20, 108))
                ev += [(int(round(on * sr)), 1, p, int(np.clip(v ** .7 * 127, 10, 127))),
                       (max(int(round(off * sr)), int(round(on * sr)) + sr // 50), 0, p, 0)]
        ev.sort(key=lambda e: (e[0], e[1]))
        x = f.render(ev, n, program, bank)
    return x


GAIN = {"drums": 1.0, "bass": .75, "comp": .55, "comp2": .45, "pad": .4, "riff": .5, "lead": .75}


def active_rms(x, sr):
    block = sr // 10
    m = len(x) // block
    if m == 0:
        return 1e-9
    p = np.mean(x[: m * block].reshape(m, block) ** 2, axis=1)
    p = p[p > p.max() * 1e-3] if p.max() > 0 else p
    return float(np.sqrt(p.mean())) + 1e-9 if len(p) else 1e-9


def mix(song, rng, sr, fonts, drum_fonts=(), rough=1.0, talk_sound=None):
    """The whole song, mono float32, peak near 0.9."""
    n = int(song.duration * sr)
    out = np.zeros(n)
    wet = rng.uniform(0, .35) if rng.uniform() < .7 else rng.uniform(.2, .8)
    for stem in song.stems:
        x = stem_audio(stem, n, sr, rng, fonts, drum_fonts).astype(np.float64)
        x /= active_rms(x, sr)
        if stem.sound in (("sf", 29), ("sf", 30)) and rng.uniform() < .7:    # an amplifier driven hard
            x = np.tanh(x * rng.uniform(1, 12))
            x /= active_rms(x, sr)
        g = GAIN[stem.role] * 10 ** (rng.normal(0, 4 * rough) / 20)
        if stem.role == "drums" and len(song.stems) > 1 and rng.uniform() < .15 * rough:
            g *= 10 ** (-rng.uniform(4, 14) / 20)           # drums far back
        if rng.uniform() < .5:
            x = synth.equalise(x, sr, rng, 4)
        if rng.uniform() < .6:
            x = synth.room(x, sr, rng, wet * rng.uniform(.3, 1))
        out += g * x
    if rng.uniform() < .75 * rough:
        out = synth.equalise(out, sr, rng, 6)
    if rng.uniform() < .25 * rough:
        out = synth.room(out, sr, rng)
    if rng.uniform() < .7:
        out = synth.compress(out, sr, rng)
    level = active_rms(out, sr)
    for a, b, kind in song.talk:
        i, j = int(a * sr), min(int(b * sr), n)
        if kind == "talk":
            t = (talk_sound or synth.talk)(j - i, sr, rng) if rng.uniform() < .7 else synth.noise(j - i, sr, rng)
            t = np.asarray(t, float)
            out[i:j] += t * level / (active_rms(t, sr)) * rng.uniform(.2, 1)
    if rng.uniform() < .35 * rough:
        w = synth.noise(n, sr, rng)
        out += w * level / active_rms(w, sr) * 10 ** (-rng.uniform(14, 50) / 20)
    if song.fade is not None:
        t = np.arange(n) / sr
        out *= np.clip((song.duration - t) / max(song.duration - song.fade, .1), 0, 1) ** rng.uniform(1, 2.5)
    peak = np.abs(out).max() + 1e-9
    return (out / peak * rng.uniform(.5, .98)).astype(np.float32)

"""From what was played to a mastered song: instruments, mixing desk, room, loudness.

Every stem goes through FluidSynth alone and dry; levels, places in the stereo image, equalising,
the room and the mastering are ours. Arrays are float64 `[n_samples, 2]` at `RATE`.
"""

import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import mido
import numpy as np
import soundfile
from scipy import ndimage, signal

from .players import Played

RATE = 44100
SOUNDFONT = Path("/usr/share/sounds/sf2/FluidR3_GM.sf2")
TICKS = 5000  # a second; MIDI's clock runs at one quarter note a second


@dataclass
class Channel:
    """A strip of the mixing desk. `lufs` is the loudness that the stem is brought to, `pan` runs
    from -1 left to 1 right, `room` is the share sent to the room, `high_pass` in Hz."""

    program: int
    lufs: float
    pan: float = 0.0
    room: float = 0.15
    high_pass: float = 90.0
    shelf_db: float = 0.0  # above 4 kHz
    bank: int = 0
    drums: bool = False
    width: float = 1.0
    vibrato: int = 0


def write_midi(path, notes, channel):
    """A stem as a MIDI file, in real seconds."""
    midi = mido.MidiFile(ticks_per_beat=TICKS)
    track = mido.MidiTrack()
    midi.tracks.append(track)
    track.append(mido.MetaMessage("set_tempo", tempo=1_000_000))
    number = 9 if channel.drums else 0
    events = []

    def put(time_s, order, kind, **facts):
        message = mido.Message(kind, channel=number, **facts)
        events.append((max(0, round(time_s * TICKS)), order, message))

    if channel.bank:
        put(0, 0, "control_change", control=0, value=channel.bank)
    put(0, 1, "program_change", program=channel.program)
    last_of_pitch = {}
    for note in sorted(notes, key=lambda n: n.start_s):
        put(note.start_s, 5, "note_on", note=note.pitch, velocity=note.velocity)
        end = note.start_s + note.length_s
        last_of_pitch.setdefault(note.pitch, []).append((note.start_s, end))
        if note.slide:
            for step in range(9):
                bend = int(-4096 * (1 - step / 8) ** 1.5)
                put(note.start_s + 0.009 * step, 4, "pitchwheel", pitch=bend)
        if channel.vibrato and note.length_s > 0.45:
            put(note.start_s + 0.02, 6, "control_change", control=1, value=0)
            for step in range(1, 7):
                deep = int(channel.vibrato * step / 6)
                put(note.start_s + 0.16 + 0.035 * step, 6, "control_change", control=1, value=deep)
            put(end, 6, "control_change", control=1, value=0)
    for pitch, spans in last_of_pitch.items():
        for (start, end), following in zip(spans, spans[1:] + [(np.inf, np.inf)]):
            put(min(end, following[0] - 0.004), 3, "note_off", note=pitch, velocity=0)
    at = 0
    for tick, _, message in sorted(events, key=lambda e: (e[0], e[1])):
        track.append(message.copy(time=tick - at))
        at = tick
    midi.save(path)


def synthesise(notes, channel, seconds):
    """Renders one stem, dry, `[n_samples, 2]`."""
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = Path(folder) / "stem.mid", Path(folder) / "stem.wav"
        write_midi(midi, notes, channel)
        subprocess.run(
            ["fluidsynth", "-q", "-ni", "-R", "0", "-C", "0", "-g", "0.5", "-r", str(RATE)]
            + ["-o", "synth.cpu-cores=1", "-o", "synth.polyphony=512", "-O", "float", "-T", "wav"]
            + ["-F", str(wav), str(SOUNDFONT), str(midi)],
            check=True, capture_output=True,
        )
        audio, rate = soundfile.read(wav, always_2d=True)
    assert rate == RATE
    length = int(seconds * RATE)
    audio = audio[:length]
    return np.pad(audio, ((0, length - len(audio)), (0, 0)))


def speaks_after(channel, pitch, velocity):
    """Seconds from a note's start to the moment it is heard: a tenth of the attack's peak for drums,
    a third for the rest. Bows and reeds speak late; their players start early, and so does the desk."""
    audio = synthesise([Played(0.2, 0.5, pitch, velocity)], channel, 0.8).mean(axis=1)
    envelope = ndimage.maximum_filter1d(np.abs(audio), 441)
    peak = envelope[: int(0.35 * RATE)].max()
    heard = int(np.argmax(envelope > (0.1 if channel.drums else 0.35) * peak))
    return float(np.clip(heard / RATE + 0.005 - 0.2, 0.0, 0.06))


def high_pass(audio, hz):
    """Second-order high pass."""
    return signal.sosfilt(signal.butter(2, hz, "highpass", fs=RATE, output="sos"), audio, axis=0)


def shelf(audio, hz, gain_db):
    """High shelf (Audio EQ Cookbook, R. Bristow-Johnson), slope 0.7."""
    amp = 10 ** (gain_db / 40)
    w = 2 * np.pi * hz / RATE
    alpha = np.sin(w) / 2 * np.sqrt((amp + 1 / amp) * (1 / 0.7 - 1) + 2)
    cos, root = np.cos(w), 2 * np.sqrt(amp) * alpha
    b = [amp * ((amp + 1) + (amp - 1) * cos + root), -2 * amp * ((amp - 1) + (amp + 1) * cos),
         amp * ((amp + 1) + (amp - 1) * cos - root)]
    a = [(amp + 1) - (amp - 1) * cos + root, 2 * ((amp - 1) - (amp + 1) * cos),
         (amp + 1) - (amp - 1) * cos - root]
    return signal.lfilter(np.array(b) / a[0], np.array(a) / a[0], audio, axis=0)


def loudness(audio):
    """Integrated loudness in LUFS (ITU-R BS.1770-4: K weighting, gating at -70 and -10)."""
    pre_b = [1.53512485958697, -2.69169618940638, 1.19839281085285]
    pre_a = [1.0, -1.69065929318241, 0.73248077421585]
    rlb_a = [1.0, -1.99004745483398, 0.99007225036621]
    audio = signal.resample_poly(audio, 160, 147, axis=0)  # the filters are given at 48 kHz
    audio = signal.lfilter(pre_b, pre_a, audio, axis=0)
    audio = signal.lfilter([1.0, -2.0, 1.0], rlb_a, audio, axis=0)
    power = np.concatenate([[0.0], np.cumsum((audio**2).sum(axis=1))])
    block, hop = 19200, 4800
    starts = np.arange(0, max(len(audio) - block, 1), hop)
    blocks = (power[np.minimum(starts + block, len(audio))] - power[starts]) / block
    blocks = blocks[blocks > 10 ** ((-70 + 0.691) / 10)]
    if not len(blocks):
        return -np.inf
    gated = blocks[blocks > blocks.mean() / 10]
    return -0.691 + 10 * np.log10(gated.mean())


def room(rng, seconds=1.3):
    """Impulse response of a wooden hall: early reflections, then a decaying, darkening tail."""
    length = int(seconds * 1.2 * RATE)
    time = np.arange(length)[:, None] / RATE
    noise = rng.standard_normal((length, 2))
    tail = np.zeros((length, 2))
    for low, high, decay in [(150, 700, 1.1), (700, 3000, 1.0), (3000, 9000, 0.55)]:
        band = signal.butter(2, [low, high], "bandpass", fs=RATE, output="sos")
        tail += signal.sosfilt(band, noise, axis=0) * np.exp(-6.9 * time / (seconds * decay))
    tail *= np.minimum(1.0, time / 0.03)
    early = np.zeros((length, 2))
    for _ in range(14):
        at = int(rng.uniform(0.009, 0.06) * RATE)
        early[at, rng.integers(2)] += rng.uniform(0.3, 1.0) * rng.choice([-1, 1]) * np.exp(-at / RATE / 0.03)
    tail /= np.sqrt((tail**2).sum())
    early /= np.sqrt((early**2).sum())
    return 0.85 * tail + 0.5 * early


def mix(take, channels, seconds, rng):
    """Brings the stems together: level, place, equaliser, room. Returns the mix and the kick drum's
    stem alone, each `[n_samples, 2]`."""
    length = int(seconds * RATE)
    dry, wet, kick = np.zeros((length, 2)), np.zeros((length, 2)), None
    for name, notes in take.stems.items():
        channel = channels[name]
        pitches = sorted(n.pitch for n in notes)
        late = speaks_after(channel, pitches[len(pitches) // 2], 90)
        for note in notes:
            note.start_s = max(0.0, note.start_s - late)
        audio = synthesise(notes, channel, seconds)
        audio = high_pass(audio, channel.high_pass)
        if channel.shelf_db:
            audio = shelf(audio, 4000, channel.shelf_db)
        if channel.drums:
            middle = audio.mean(axis=1, keepdims=True)
            audio = middle + channel.width * (audio - middle)
        else:
            audio = np.repeat(audio.mean(axis=1, keepdims=True), 2, axis=1)
        angle = (channel.pan + 1) * np.pi / 4
        audio = audio * np.array([np.cos(angle), np.sin(angle)]) * np.sqrt(2)
        audio *= 10 ** ((channel.lufs - loudness(audio)) / 20)
        dry += audio
        wet += channel.room * audio
        if name == "kick":
            kick = audio
    hall = room(rng)
    dry += np.stack([signal.fftconvolve(wet[:, c], hall[:, c])[:length] for c in (0, 1)], axis=1)
    return dry, kick


def glue(audio, threshold_db=-20.0, ratio=1.8):
    """Gentle bus compression: 20 ms up, 200 ms down, both channels alike."""
    hop = 64
    blocks = len(audio) // hop + 1
    power = np.pad((audio**2).mean(axis=1), (0, blocks * hop - len(audio))).reshape(blocks, hop).mean(axis=1)
    level = 10 * np.log10(power + 1e-12)
    up, down = np.exp(-hop / RATE / 0.02), np.exp(-hop / RATE / 0.2)
    smooth, value = np.empty(blocks), level[0]
    for n, now in enumerate(level):
        keep = up if now > value else down
        value = keep * value + (1 - keep) * now
        smooth[n] = value
    gain_db = -np.maximum(smooth - threshold_db, 0) * (1 - 1 / ratio)
    gain = 10 ** (np.interp(np.arange(len(audio)), np.arange(blocks) * hop, gain_db) / 20)
    return audio * gain[:, None]


def limit(audio, ceiling_db):
    """Look-ahead limiter: no sample above the ceiling, gain moves over 6 ms each way."""
    ceiling, reach = 10 ** (ceiling_db / 20), int(0.006 * RATE) | 1
    peak = ndimage.maximum_filter1d(np.abs(audio).max(axis=1), reach)
    gain = np.minimum(1.0, ceiling / np.maximum(peak, 1e-9))
    window = np.hanning(reach + 2)[1:-1]
    gain = ndimage.convolve1d(gain, window / window.sum(), mode="nearest")
    return audio * gain[:, None]


def master(audio, lufs=-14.0, ceiling_db=-2.0):
    """Loudness and limits of a finished song. The ceiling leaves room for what lossy codecs add."""
    audio = glue(high_pass(audio, 32) * 10 ** ((-18 - loudness(audio)) / 20))
    audio = shelf(audio, 6000, 1.5)
    gain = lufs - loudness(audio)
    for _ in range(4):
        done = limit(audio * 10 ** (gain / 20), ceiling_db)
        gain += lufs - loudness(done)
    return limit(audio * 10 ** (gain / 20), ceiling_db)


def fade(audio, start_s, end_s):
    """Fades out along a cosine from `start_s` to `end_s` and ends there."""
    end = int(end_s * RATE)
    time = np.clip((np.arange(end) / RATE - start_s) / (end_s - start_s), 0, 1)
    return audio[:end] * (0.5 + 0.5 * np.cos(np.pi * time))[:, None]


def splice(audio, spans, blend_s=0.012):
    """Cuts spans (start and end, seconds) out of a mix and joins them, blending over each joint.
    A joint's middle is where one span ends and the next starts, so no time is lost."""
    half = int(blend_s * RATE / 2)
    edges = [(round(a * RATE), round(b * RATE)) for a, b in spans]
    out = np.zeros((sum(b - a for a, b in edges) + half, 2))
    at = 0
    ramp = 0.5 - 0.5 * np.cos(np.pi * (np.arange(2 * half) + 0.5) / (2 * half))
    for n, (a, b) in enumerate(edges):
        before = half if n else 0
        after = half if b + half <= len(audio) else len(audio) - b
        piece = audio[a - before : b + after].copy()
        if before:
            piece[: 2 * half] *= ramp[:, None]
        if n + 1 < len(edges):
            piece[len(piece) - 2 * half :] *= ramp[::-1][:, None]
        out[at - before : at - before + len(piece)] += piece[: len(out) - (at - before)]
        at += b - a
    return out[:at]

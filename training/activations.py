"""Activations of a checkpoint for recordings, as the Rust `accuracy` example reads them.

    python3 activations.py CHECKPOINT AUDIO_DIR OUT_DIR --front dump_features

OUT_DIR gets NAME.wav (mono, 22 050 Hz) where it is missing, NAME.feat, and NAME.act: f32 [frames, 2].
"""
import argparse
import glob
import os
import subprocess

import numpy as np
import torch

from model import Net
from stream import read_features

AUDIO = (".mp3", ".ogg", ".m4a", ".flac", ".wav")


def prepare(audio, out, front):
    """Decodes and runs the feature front on what is not there yet."""
    names = []
    for path in sorted(glob.glob(os.path.join(audio, "*"))):
        name, ext = os.path.splitext(os.path.basename(path))
        if ext not in AUDIO:
            continue
        names.append(name)
        wav = os.path.join(out, name + ".wav")
        if not os.path.exists(wav) or os.path.getmtime(wav) < os.path.getmtime(path):
            subprocess.run(["ffmpeg", "-y", "-loglevel", "error", "-i", path, "-ac", "1", "-ar", "22050", "-c:a", "pcm_f32le", wav], check=True)
            subprocess.run([front, wav, out], check=True)
    return names


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("checkpoint"), ap.add_argument("audio"), ap.add_argument("out")
    ap.add_argument("--front", required=True)
    a = ap.parse_args()
    os.makedirs(a.out, exist_ok=True)
    ck = torch.load(a.checkpoint, map_location="cpu")
    net = Net(**ck["cfg"])
    net.load_state_dict(ck["state"])
    net.eval()
    torch.set_num_threads(1)
    for name in prepare(a.audio, a.out, a.front):
        x = read_features(os.path.join(a.out, name + ".feat"))
        n = len(x)
        pad = np.zeros(((n + 3) // 4 * 4, x.shape[1]), np.float32)
        pad[:n] = x
        with torch.no_grad():
            y = torch.sigmoid(net(torch.from_numpy(pad)[None])[0])[0, :n].numpy()
        y.astype("<f4").tofile(os.path.join(a.out, name + ".act"))


if __name__ == "__main__":
    main()

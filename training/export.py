"""Writes a checkpoint as the product's weights, and a small fixture to check the product's inference against.

    python3 export.py CHECKPOINT ../src/rhythm/weights.bin [--fixture ../src/rhythm/network_fixture.bin --front dump_features]

weights.bin, little-endian: the bytes `HBNET001`; u32 bands, attacks, patch channels, fold, fast width, slow width, taps,
number of fast dilations, number of slow ones, then the dilations; f32 mean and scale of each input value; then the
layers as IEEE half floats, batch norms folded in, in the order that they run. A convolution is its taps from past to
future, each a matrix [in, out] in rows, then the bias. The patch layer is [channel, time, band], then the bias.

fixture: u32 frames, then f32 [frames, values] of input, then f32 [frames, 2] of probabilities (beat, downbeat).
"""
import argparse
import struct
import subprocess
import tempfile

import numpy as np
import torch

import arrange
import render
from model import MAGIC, Net, layers
from stream import read_features, write_wav


def fold(weight, norm):
    """Weight and bias of a convolution followed by a batch norm."""
    s = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    return weight * s.view(-1, *[1] * (weight.dim() - 1)), norm.bias - norm.running_mean * s


def folded(net):
    """The arrays in file order, as float16, and a copy of the net with exactly these weights."""
    out = []

    def put(t):
        h = t.detach().cpu().numpy().astype(np.float16)
        out.append(h.ravel())
        return torch.from_numpy(h.astype(np.float32))

    def conv(weight, bias):
        w = put(weight.permute(2, 1, 0).contiguous())          # [taps, in, out]
        return w.permute(2, 1, 0).contiguous(), put(bias)

    for layer, norm in layers(net):
        if norm is None:
            layer.weight.data, layer.bias.data = conv(layer.weight, layer.bias)
            continue
        w, b = fold(layer.weight, norm)
        if layer.weight.dim() == 4:
            w, b = put(w[:, 0]).unsqueeze(1), put(b)
        else:
            w, b = conv(w, b)
        layer.weight.data = w
        norm.weight.data, norm.bias.data = torch.ones_like(b), b
        norm.running_mean.zero_(), norm.running_var.fill_(1 - norm.eps)
    return np.concatenate(out)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("checkpoint"), ap.add_argument("weights"), ap.add_argument("--fixture")
    ap.add_argument("--front", help="the dump_features program, for the fixture")
    a = ap.parse_args()
    ck = torch.load(a.checkpoint, map_location="cpu")
    net = Net(**ck["cfg"])
    net.load_state_dict(ck["state"])
    net.eval()
    c = ck["cfg"]
    with torch.no_grad():
        x = torch.rand(1, 200, c["bands"] + c["attacks"])
        before = torch.sigmoid(net(x)[0])
        data = folded(net)
        after = torch.sigmoid(net(x)[0])
        print("largest change by folding and rounding:", float((before - after).abs().max()))
    with open(a.weights, "wb") as f:
        f.write(MAGIC)
        f.write(struct.pack("<9I", c["bands"], c["attacks"], c["patch"], c["fold"], c["fast"], c["slow"], c["taps"],
                            len(c["fast_dil"]), len(c["slow_dil"])))
        f.write(np.array(c["fast_dil"] + c["slow_dil"], "<u4").tobytes())
        f.write(net.mean.numpy().astype("<f4").tobytes() + net.scale.numpy().astype("<f4").tobytes())
        f.write(data.astype("<f2").tobytes())
    if a.fixture:
        # Five seconds out of an invented song, on instruments of our own only.
        rng = np.random.default_rng(5)
        song = arrange.compose(rng, "rock", 20, synth_share=1.0, tempo_shape=["steady"], opening="none", bpm=118, drumless=False)
        for stem in song.stems:
            stem.sound = ("kit",) if stem.role == "drums" else ("voice", "pluck")
        with tempfile.TemporaryDirectory() as tmp:
            write_wav(f"{tmp}/s.wav", render.mix(song, rng, 22050, []))
            subprocess.run([a.front, f"{tmp}/s.wav", tmp], check=True)
            x = read_features(f"{tmp}/s.feat")[300:551].astype(np.float32)
        n, v = x.shape
        pad = np.zeros(((n + 3) // 4 * 4, v), np.float32)
        pad[:n] = x
        with torch.no_grad():
            y = torch.sigmoid(net(torch.from_numpy(pad)[None])[0])[0, :n].numpy()
        with open(a.fixture, "wb") as f:
            f.write(struct.pack("<I", n) + x.astype("<f4").tobytes() + y.astype("<f4").tobytes())
        print("fixture: largest probabilities", y.max(0))
    print(len(data), "weights,", net.macs(), "multiply-adds a frame")


if __name__ == "__main__":
    main()

"""Writes a checkpoint of the network that hears phrases as the product's weights, and a fixture to check its inference against.

    python3 export_form.py CHECKPOINT [CHECKPOINT] ../src/song/form/weights.bin [--fixture ../src/song/form/network_fixture.bin]

Two checkpoints, one trained on from the other, are averaged. weights.bin, little-endian: the bytes `HBFORM01`; u32 values a
beat, width, taps, heads, values of a head, sorts of phrase, values of a direction, number of layers, then each layer's dilation (0
for attention); f32 mean and scale of each input value; then the layers as IEEE half floats, batch norms folded in, in the order
that they run: a block is its two convolutions, attention those of queries (divided by the root of a head's values), keys,
values and output. A convolution is its taps from past to future, each a matrix [in, out] in rows, then the bias.

fixture: u32 beats, then f32 [beats, values] of input out of a seed, then f32 [beats, outputs]: log odds of a start, log
probabilities of the sorts, the direction.
"""
import argparse
import struct

import numpy as np
import torch

from export import fold
from form_model import LABELS, Block, FormNet


def folded(net):
    """The arrays in file order, as float16, and in place a net with exactly these weights."""
    out = []

    def put(t):
        h = t.detach().numpy().astype(np.float16)
        out.append(h.ravel())
        return torch.from_numpy(h.astype(np.float32))

    def conv(layer, weight, bias):
        w = put(weight.permute(2, 1, 0).contiguous()).permute(2, 1, 0).contiguous()
        layer.weight.data, layer.bias = w, torch.nn.Parameter(put(bias))

    def normed(layer, norm):
        conv(layer, *fold(layer.weight, norm))
        still(norm)

    def still(norm):
        norm.weight.data.fill_(1), norm.bias.data.zero_()
        norm.running_mean.zero_(), norm.running_var.fill_(1 - norm.eps)

    normed(net.stem, net.stem_norm)
    for layer in net.layers:
        if isinstance(layer, Block):
            normed(layer.conv, layer.norm)
        else:
            # Here the norm comes before: its scale goes into the weights, its shift through them into the bias.
            n = layer.norm
            s = n.weight / torch.sqrt(n.running_var + n.eps)
            shift = n.bias - n.running_mean * s
            w, b = layer.qkv.weight, layer.qkv.bias
            w, b = w * s.view(1, -1, 1), b + w[:, :, 0] @ shift
            width = layer.heads * layer.dim
            w, b = w.clone(), b.clone()
            w[:width] /= layer.dim ** .5
            b[:width] /= layer.dim ** .5
            parts = [(put(w[k * width:(k + 1) * width].permute(2, 1, 0).contiguous()).permute(2, 1, 0), put(b[k * width:(k + 1) * width])) for k in range(3)]
            layer.qkv.weight.data = torch.cat([p[0] for p in parts])
            layer.qkv.bias.data = torch.cat([p[1] for p in parts])
            layer.qkv.weight.data[:width] *= layer.dim ** .5
            layer.qkv.bias.data[:width] *= layer.dim ** .5
            still(n)
        last = layer.mix if isinstance(layer, Block) else layer.out
        conv(last, last.weight, last.bias)
    conv(net.head, net.head.weight, net.head.bias)
    return np.concatenate(out)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("checkpoints", nargs="+"), ap.add_argument("weights"), ap.add_argument("--fixture")
    a = ap.parse_args()
    read = [torch.load(c, map_location="cpu", weights_only=True) for c in a.checkpoints]
    net = FormNet(**read[0]["cfg"])
    state = read[0]["state"]
    net.load_state_dict({k: sum(r["state"][k] for r in read) / len(read) if v.is_floating_point() else v for k, v in state.items()})
    net.eval()
    c = read[0]["cfg"]
    rng = np.random.default_rng(3)
    n = 150
    # Phrases of 16 beats that come again, so that attention has something to find.
    kinds = rng.normal(0, 1, (3, 16, c["inputs"]))
    x = np.concatenate([kinds[k] for k in (0, 1, 0, 2, 1, 0, 1, 2, 0, 1)])[:n] + rng.normal(0, .2, (n, c["inputs"]))
    x = (x / net.scale.numpy() + net.mean.numpy()).astype(np.float32)

    def run():
        start, label, direction = net(torch.from_numpy(x)[None], torch.ones(1, n))
        return torch.cat([start[..., None], torch.log_softmax(label, -1), direction], -1)[0].numpy()
    with torch.no_grad():
        before = run()
        data = folded(net)
        after = run()
    print("largest change by folding and rounding:", float(np.abs(before - after).max()))
    with open(a.weights, "wb") as f:
        f.write(b"HBFORM01")
        f.write(struct.pack("<8I", c["inputs"], c["ch"], c["taps"], c["heads"], c["dim"], len(LABELS), c["embed"], len(c["plan"])))
        f.write(np.array(c["plan"], "<u4").tobytes())
        f.write(net.mean.numpy().astype("<f4").tobytes() + net.scale.numpy().astype("<f4").tobytes())
        f.write(data.astype("<f2").tobytes())
    if a.fixture:
        with open(a.fixture, "wb") as f:
            f.write(struct.pack("<I", n) + x.astype("<f4").tobytes() + after.astype("<f4").tobytes())
    print(len(data), "weights")


if __name__ == "__main__":
    main()

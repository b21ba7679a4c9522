"""Writes checkpoints of the networks that hear phrases as the product's weights, and a fixture to check its inference against.

    python3 export_form.py NETWORK [NETWORK] ../src/song/form/weights.bin [--fixture ../src/song/form/network_fixture.bin]

A network is A.pt, or A.pt+B.pt for the mean of two of which one was trained on from the other. weights.bin, little-endian: the
bytes `HBFORM03`, then for each network: u32 values a beat, width, taps, heads, values of a head, sorts of phrase, values of a direction, number of layers, then each layer's dilation (0
for attention); f32 mean and scale of each input value; then the layers as IEEE half floats, batch norms folded in, in the order
that they run: a block is its two convolutions, attention those of queries (divided by the root of a head's values), keys,
values and output. A convolution is its taps from past to future, each a matrix [in, out] in rows, then the bias.

fixture: u32 beats, then f32 [beats, values] of input out of a seed, then f32 [beats, outputs] of all networks together: mean log odds of a
start, logarithms of the mean probabilities of the sorts and of the first step, the directions side by side. What is learned of count 1 is left out.
"""
import argparse
import struct

import numpy as np
import torch

from export import fold
from form_model import COUNT_ONE, FIRST_STEP, LABELS, Block, FormNet


def folded(net):
    """The arrays in file order, as float16, and in place a net with exactly these weights."""
    out = []

    def put(t):
        h = t.detach().numpy().astype(np.float16)
        out.append(h.ravel())
        return torch.from_numpy(h.astype(np.float32))

    def written(weight, bias):
        return put(weight.permute(2, 1, 0).contiguous()).permute(2, 1, 0).contiguous(), put(bias)

    def conv(layer, weight, bias):
        w, b = written(weight, bias)
        layer.weight.data, layer.bias = w, torch.nn.Parameter(b)

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
    kept = [i for i in range(net.head.weight.shape[0]) if i != 1 + len(LABELS) + COUNT_ONE]
    weight, bias = net.head.weight.clone(), net.head.bias.clone()
    net.head.weight.data[kept], net.head.bias.data[kept] = written(weight[kept], bias[kept])
    return np.concatenate(out)


def read(names):
    """The network of one checkpoint, or with the mean weights of several."""
    parts = [torch.load(name, map_location="cpu", weights_only=True) for name in names.split("+")]
    net = FormNet(**parts[0]["cfg"])
    net.load_state_dict({k: sum(p["state"][k] for p in parts) / len(parts) if v.is_floating_point() else v for k, v in parts[0]["state"].items()})
    return net.eval(), parts[0]["cfg"]


def together(nets, x):
    runs = [net(torch.from_numpy(x)[None], torch.ones(1, len(x))) for net in nets]
    start = torch.stack([r[0][0] for r in runs]).mean(0)
    sorts = torch.stack([torch.softmax(r[1][0], -1) for r in runs]).mean(0).log()
    step = torch.stack([torch.softmax(r[2][0, :, FIRST_STEP], 0) for r in runs]).mean(0).clamp(min=torch.finfo(torch.float32).tiny).log()
    return torch.cat([start[:, None], sorts, step[:, None], *(r[3][0] / len(nets) ** .5 for r in runs)], -1).numpy()


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("networks", nargs="+"), ap.add_argument("weights"), ap.add_argument("--fixture")
    a = ap.parse_args()
    nets, cfgs = zip(*map(read, a.networks))
    width = cfgs[0]["inputs"]
    rng = np.random.default_rng(3)
    n = 150
    # Phrases of 16 beats that come again, so that attention has something to find.
    kinds = rng.normal(0, 1, (3, 16, width))
    x = np.concatenate([kinds[k] for k in (0, 1, 0, 2, 1, 0, 1, 2, 0, 1)])[:n] + rng.normal(0, .2, (n, width))
    x = (x / nets[0].scale.numpy() + nets[0].mean.numpy()).astype(np.float32)
    with torch.no_grad():
        before = together(nets, x)
        weights = [folded(net) for net in nets]
        after = together(nets, x)
    print("largest change by folding and rounding:", float(np.abs(before - after).max()))
    with open(a.weights, "wb") as f:
        f.write(b"HBFORM03")
        for net, c, data in zip(nets, cfgs, weights):
            f.write(struct.pack("<8I", c["inputs"], c["ch"], c["taps"], c["heads"], c["dim"], len(LABELS), c["embed"], len(c["plan"])))
            f.write(np.array(c["plan"], "<u4").tobytes())
            f.write(net.mean.numpy().astype("<f4").tobytes() + net.scale.numpy().astype("<f4").tobytes())
            f.write(data.astype("<f2").tobytes())
    if a.fixture:
        with open(a.fixture, "wb") as f:
            f.write(struct.pack("<I", n) + x.astype("<f4").tobytes() + after.astype("<f4").tobytes())
    print(sum(map(len, weights)), "weights")


if __name__ == "__main__":
    main()

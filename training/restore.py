"""Reads the product's weights back into the network, so that training can go on from them.

Batch norms are folded into the weights of `weights.bin`. `settle` sets them apart again on some songs: each norm gets the
mean and the spread of what comes to it, and the scale and shift that undo them, so that nothing changes in what the network says.
"""
import struct

import numpy as np
import torch
import torch.nn as nn

from model import MAGIC, Net, layers


def load(path):
    """The network of a file that `export.py` wrote."""
    data = open(path, "rb").read()
    assert data[:8] == MAGIC, path
    bands, attacks, patch, fold, fast, slow, taps, n_fast, n_slow = struct.unpack("<9I", data[8:44])
    at = 44
    dilations = np.frombuffer(data, "<u4", n_fast + n_slow, at).tolist()
    at += 4 * (n_fast + n_slow)
    net = Net(bands, attacks, patch, fold, fast, slow, taps, dilations[:n_fast], dilations[n_fast:])
    scales = np.frombuffer(data, "<f4", 2 * (bands + attacks), at).copy()
    at += scales.nbytes
    net.mean.copy_(torch.from_numpy(scales[: bands + attacks]))
    net.scale.copy_(torch.from_numpy(scales[bands + attacks:]))
    values = torch.from_numpy(np.frombuffer(data, "<f2", -1, at).astype(np.float32))
    used = 0

    def take(shape):
        nonlocal used
        n = int(np.prod(shape))
        used += n
        return values[used - n:used].reshape(shape)

    for layer, norm in layers(net):
        shape = layer.weight.shape
        if len(shape) == 4:
            layer.weight.data = take((shape[0], *shape[2:])).unsqueeze(1).clone()
        else:
            layer.weight.data = take(shape[::-1]).permute(2, 1, 0).contiguous()
        bias = take((shape[0],)).clone()
        if norm is None:
            layer.bias.data = bias
        else:
            norm.weight.data, norm.bias.data = torch.ones_like(bias), bias
            norm.running_mean.zero_(), norm.running_var.fill_(1 - norm.eps)
    assert used == len(values), (used, len(values))
    return net


@torch.no_grad()
def settle(net, x):
    """Gives each batch norm the statistics of songs `x` [songs, frames, values]; what the network says stays."""
    found = {}

    def note(norm, inputs, _):
        v = inputs[0].transpose(0, 1).flatten(1)
        found[norm] = (v.mean(1), v.var(1))

    norms = [m for m in net.modules() if isinstance(m, (nn.BatchNorm1d, nn.BatchNorm2d))]
    hooks = [m.register_forward_hook(note) for m in norms]
    net.eval()
    before = net(x)[0]
    [h.remove() for h in hooks]
    for norm in norms:
        mean, var = found[norm]
        norm.running_mean.copy_(mean), norm.running_var.copy_(var)
        norm.weight.mul_(torch.sqrt(var + norm.eps))
        norm.bias.add_(mean)
    print("largest change by setting norms apart:", float((net(x)[0] - before).abs().max()), flush=True)

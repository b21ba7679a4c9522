"""The network: a small, non-causal, two-rate temporal convolutional network.

Input [batch, frames, values]: log-compressed bands and attack rises of the product's own front, 50 a second.
A two-dimensional first layer sees small patches of the spectrogram, a dense layer folds the bands, a few blocks work
at 50 frames a second, and the long view (over 20 s) is taken at a quarter of that rate where it is cheap.
Output at 50 a second: logits of beat and downbeat. At 12.5 a second, used in training to shape what is learned and
kept out of the product: local tempo and beats in a bar.
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

POOL = 4          # frames of the fast rate in one of the slow
TEMPI = 64        # classes of local tempo, log-spaced over 40 to 240 a minute


class Block(nn.Module):
    """x + 1x1(relu(dilated convolution)). Batch norms fold away on export."""

    def __init__(self, ch, taps, dilation, drop):
        super().__init__()
        self.conv = nn.Conv1d(ch, ch, taps, padding=dilation * (taps // 2), dilation=dilation, bias=False)
        self.norm = nn.BatchNorm1d(ch)
        self.mix = nn.Conv1d(ch, ch, 1)
        self.drop = nn.Dropout1d(drop)

    def forward(self, x):
        return x + self.drop(self.mix(F.relu(self.norm(self.conv(x)))))


class Net(nn.Module):
    def __init__(self, bands=76, attacks=4, patch=6, fold=4, fast=32, slow=64, taps=5, fast_dil=(1, 2, 4), slow_dil=(1, 2, 4, 8, 16, 32),
                 drop=.1):
        super().__init__()
        self.cfg = dict(bands=bands, attacks=attacks, patch=patch, fold=fold, fast=fast, slow=slow, taps=taps,
                        fast_dil=list(fast_dil), slow_dil=list(slow_dil))
        self.bands, self.fold = bands, fold
        self.register_buffer("mean", torch.zeros(bands + attacks))
        self.register_buffer("scale", torch.ones(bands + attacks))
        self.patch = nn.Conv2d(1, patch, (3, 3), padding=(1, 1), bias=False)
        self.patch_norm = nn.BatchNorm2d(patch)
        width = patch * (bands // fold) + attacks
        self.dense = nn.Conv1d(width, fast, 3, padding=1, bias=False)
        self.dense_norm = nn.BatchNorm1d(fast)
        self.fast = nn.ModuleList(Block(fast, taps, d, drop) for d in fast_dil)
        self.down = nn.Conv1d(fast, slow, 1)
        self.slow = nn.ModuleList(Block(slow, taps, d, drop) for d in slow_dil)
        self.up = nn.Conv1d(slow, fast, 1)
        self.last = Block(fast, taps, 1, 0)
        self.head = nn.Conv1d(fast, 2, 1)
        self.tempo = nn.Conv1d(slow, TEMPI, 1)
        self.meter = nn.Conv1d(slow, 5, 1)

    def forward(self, x):
        """x: [batch, frames (a multiple of 4), values] → [batch, frames, 2], [batch, frames/4, TEMPI], [.., 5]"""
        x = (x - self.mean) * self.scale
        bands, attacks = x[..., : self.bands], x[..., self.bands:]
        p = F.relu(self.patch_norm(self.patch(bands.unsqueeze(1))))          # [B, patch, T, bands]
        p = F.max_pool2d(p, (1, self.fold))                                  # [B, patch, T, bands/fold]
        p = p.permute(0, 1, 3, 2).flatten(1, 2)                              # [B, patch * folded, T]
        h = torch.cat([p, attacks.transpose(1, 2)], 1)
        h = F.relu(self.dense_norm(self.dense(h)))
        for b in self.fast:
            h = b(h)
        s = self.down(F.avg_pool1d(h, POOL))
        for b in self.slow:
            s = b(s)
        # The slow rate's centre lies 1.5 frames after its first frame; linear interpolation keeps time.
        up = F.interpolate(self.up(s), scale_factor=POOL, mode="linear", align_corners=False)
        h = self.last(F.relu(h + up))
        return self.head(h).transpose(1, 2), self.tempo(s).transpose(1, 2), self.meter(s).transpose(1, 2)

    def macs(self):
        """Multiply-adds a frame."""
        c = self.cfg
        f, s, t = c["fast"], c["slow"], c["taps"]
        patch = c["bands"] * c["patch"] * 9
        dense = (c["patch"] * (c["bands"] // c["fold"]) + c["attacks"]) * 3 * f
        block = lambda ch: ch * ch * (t + 1)
        return patch + dense + (len(c["fast_dil"]) + 1) * block(f) + (f * s * 2 + len(c["slow_dil"]) * block(s)) / POOL + 2 * f


#: What a file of weights begins with.
MAGIC = b"HBNET001"


def layers(net):
    """The layers in the order in which a file of weights has them, each with the batch norm behind it, or None."""
    block = lambda b: ((b.conv, b.norm), (b.mix, None))
    yield net.patch, net.patch_norm
    yield net.dense, net.dense_norm
    for b in net.fast:
        yield from block(b)
    yield net.down, None
    for b in net.slow:
        yield from block(b)
    yield net.up, None
    yield from block(net.last)
    yield net.head, None


if __name__ == "__main__":
    n = Net()
    y = n(torch.zeros(2, 400, 80))
    print([tuple(v.shape) for v in y], n.macs(), sum(p.numel() for p in n.parameters()))

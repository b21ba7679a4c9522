"""The network that hears phrases: convolutions over beats, and attention, by which a beat learns what stands at its likes elsewhere.

Input [batch, beats, values] as src/song/form/inputs.rs gives them. Outputs a beat: log odds that a phrase starts there; logits
of what the phrase is (LABELS); of all beats of the song, the logit that counting starts there and that the wait is over there;
and a direction, close to those of beats that are the same place of the same music.
"""
import torch
import torch.nn as nn
import torch.nn.functional as F

import model

LABELS = ["none", "intro", "verse", "prechorus", "chorus", "bridge", "instrumental", "break", "ending", "tune"]
COUNT_ONE, FIRST_STEP = OF_SONG = 0, 1       # of which a song has one beat each; the step is where the wait is over
NEAR = 2            # beats to either side that attention leaves out: a beat's likes are elsewhere


class Block(model.Block):
    """The ear's block, which drops single values, kept at 0 where there are no beats."""

    def __init__(self, ch, taps, dilation, drop):
        super().__init__(ch, taps, dilation, drop)
        self.drop = nn.Dropout(drop)

    def forward(self, x, mask):
        return super().forward(x) * mask


class Attention(nn.Module):
    """x + out(attention(q(x), k(x), v(x))) over all beats but the nearest."""

    def __init__(self, ch, heads, dim, drop):
        super().__init__()
        self.heads, self.dim = heads, dim
        self.norm = nn.BatchNorm1d(ch)
        self.qkv = nn.Conv1d(ch, 3 * heads * dim, 1)
        self.out = nn.Conv1d(heads * dim, ch, 1)
        self.drop = nn.Dropout(drop)

    def forward(self, x, mask):
        b, _, t = x.shape
        q, k, v = self.qkv(self.norm(x)).view(b, 3, self.heads, self.dim, t).permute(1, 0, 2, 4, 3)
        at = torch.arange(t, device=x.device)
        allowed = ((at[:, None] - at[None]).abs() > NEAR)[None, None] & mask.bool()[:, :, None, :]
        bias = torch.zeros(allowed.shape, device=x.device, dtype=q.dtype).masked_fill(~allowed, -30.)
        y = F.scaled_dot_product_attention(q, k, v, attn_mask=bias)
        return (x + self.drop(self.out(y.permute(0, 1, 3, 2).flatten(1, 2)))) * mask


class FormNet(nn.Module):
    def __init__(self, inputs=74, ch=64, taps=5, heads=4, dim=16, plan=(1, 2, 0, 4, 8, 0, 16, 4, 0, 2, 1), embed=16, drop=.1):
        """`plan`: dilations of the blocks in order; 0 stands for attention."""
        super().__init__()
        self.cfg = dict(inputs=inputs, ch=ch, taps=taps, heads=heads, dim=dim, plan=list(plan), embed=embed)
        self.register_buffer("mean", torch.zeros(inputs))
        self.register_buffer("scale", torch.ones(inputs))
        self.stem = nn.Conv1d(inputs, ch, taps, padding=taps // 2, bias=False)
        self.stem_norm = nn.BatchNorm1d(ch)
        self.layers = nn.ModuleList(Block(ch, taps, d, drop) if d else Attention(ch, heads, dim, drop) for d in plan)
        self.head = nn.Conv1d(ch, 1 + len(LABELS) + len(OF_SONG) + embed, 1)

    def forward(self, x, mask):
        """x [B, T, inputs], mask [B, T] → start logits [B, T], label logits [B, T, 10], logits of count 1 and the first step [B, T, 2], directions
        [B, T, embed]"""
        m = mask[:, None].to(x.dtype)
        h = ((x - self.mean) * self.scale).transpose(1, 2) * m
        h = F.relu(self.stem_norm(self.stem(h))) * m
        for layer in self.layers:
            h = layer(h, m)
        y = self.head(h).transpose(1, 2).float()
        n = 1 + len(LABELS)
        return y[..., 0], y[..., 1:n], y[..., n:n + len(OF_SONG)], F.normalize(y[..., n + len(OF_SONG):], dim=-1, eps=1e-6)

"""Trains the network on shards that `stream.py` writes (they may still be arriving).

    python3 train.py SHARDS OUT --minutes 8 [--start CHECKPOINT or ../src/rhythm/weights.bin] [--cpu]

All augmentation of features happens here: tempo (resampling in time), gain, tilt, band limits, noise floor, pitch.
The learning rate follows the clock. What is saved is the running average of the weights.
"""
from __future__ import annotations

import argparse
import copy
import glob
import json
import os
import time

import numpy as np
import torch
import torch.nn.functional as F

import restore
from model import Net, POOL, TEMPI

FPS = 50.0


class Store:
    """Shards on the device, filled as they arrive."""

    def __init__(self, folder, prefix, frames, capacity, device, max_beats=320):
        self.folder, self.prefix, self.frames, self.device = folder, prefix, frames, device
        self.x = torch.zeros(capacity, frames, 80, dtype=torch.float16, device=device)
        self.length = torch.zeros(capacity, device=device)
        self.beats = torch.full((capacity, max_beats), -1e4, device=device)
        self.place = torch.zeros(capacity, max_beats, dtype=torch.long, device=device)
        self.meter = torch.zeros(capacity, max_beats, dtype=torch.long, device=device)
        self.unjudged = torch.full((capacity, 3, 2), -1e4, device=device)
        self.n, self.seen, self.max_beats = 0, set(), max_beats
        self.style = []

    def fill(self, limit=400):
        names = sorted(set(os.listdir(self.folder)) - self.seen)
        names = [n for n in names if n.startswith(self.prefix) and n.endswith(".npz")][:limit]
        for name in names:
            self.seen.add(name)
            if self.n >= len(self.x):
                return
            try:
                z = np.load(os.path.join(self.folder, name))
                x, beats, unj = z["x"], z["beats"], z["unjudged"]
            except Exception:
                continue
            t = min(len(x), self.frames)
            i = self.n
            self.x[i, :t] = torch.from_numpy(x[:t].copy()).to(self.device)
            self.length[i] = t
            beats = beats[: self.max_beats]
            m = len(beats)
            self.beats[i, :m] = torch.from_numpy(beats[:, 0] * FPS).to(self.device)
            self.place[i, :m] = torch.from_numpy(beats[:, 1].astype(np.int64)).to(self.device)
            # beats in the bar that each beat belongs to
            pl = beats[:, 1].astype(int)
            bar = np.zeros(m, np.int64)
            s = 0
            for j in range(1, m + 1):
                if j == m or pl[j] == 1:
                    bar[s:j] = pl[j - 1]
                    s = j
            code = np.select([bar == 2, bar == 3, bar == 4], [1, 2, 3], 4)
            self.meter[i, :m] = torch.from_numpy(code).to(self.device)
            for j, (a, b) in enumerate(unj[:3]):
                self.unjudged[i, j] = torch.tensor([a * FPS, b * FPS])
            self.style.append(str(z["style"]))
            self.n += 1


def batch(store, size, crop, gen, augment=True):
    """Features and targets: x [B, crop, 80]; beat and downbeat targets and weights; tempo and metre at the slow rate."""
    dev = store.device
    rand = lambda *s: torch.rand(*s, generator=gen, device=dev)
    i = (rand(size) * store.n).long().clamp(max=store.n - 1)
    ratio = torch.exp((rand(size) - .5) * 2 * np.log(1.25)) if augment else torch.ones(size, device=dev)
    ratio = torch.where(rand(size) < .3, torch.ones_like(ratio), ratio)
    span = crop * ratio
    start = rand(size) * (store.length[i] - span).clamp(min=0)
    start = torch.where(ratio == 1, start.round(), start)
    if not augment:
        start = torch.zeros_like(start)
    at = start[:, None] + ratio[:, None] * torch.arange(crop, device=dev)[None]          # source frame of each frame
    lo = at.floor().long().clamp(0, store.frames - 2)
    w = (at - lo).clamp(0, 1)[..., None]
    x = store.x[i[:, None], lo].float() * (1 - w) + store.x[i[:, None], lo + 1].float() * w
    past = at >= store.length[i][:, None]
    x = x * (~past)[..., None]
    beats = (store.beats[i] - start[:, None]) / ratio[:, None]                           # in crop frames
    t = torch.arange(crop, device=dev, dtype=torch.float32)
    beats_sorted = torch.where(beats < -9e3, torch.full_like(beats, 1e6), beats)
    k = torch.searchsorted(beats_sorted, t[None].expand(size, -1).contiguous()).clamp(1, store.max_beats - 1)
    g = lambda v, j: torch.gather(v, 1, j)
    d1, d0 = g(beats_sorted, k) - t, t - g(beats_sorted, k - 1)
    near = torch.where(d1 < d0, k, k - 1)
    dist = (g(beats_sorted, near) - t).abs()
    soft = (1 - dist / 2.0).clamp(0, 1)
    soft = torch.where(soft > .7, torch.ones_like(soft), soft)
    beat = soft
    down = soft * (g(store.place[i], near) == 1)
    weight = torch.ones_like(beat)
    # frames near a beat but not on it count less
    weight = torch.where((dist > .6) & (dist < 3.2), weight * .4, weight)
    un = (store.unjudged[i] - start[:, None, None]) / ratio[:, None, None]
    for j in range(un.shape[1]):
        weight = weight * ~((t >= un[:, j, :1]) & (t < un[:, j, 1:]))
    weight = weight * ~past + .3 * past * (start[:, None] * 0 + 1)
    # local tempo and metre
    period = (g(beats_sorted, k) - g(beats_sorted, k - 1))[:, POOL // 2::POOL]
    ok = (period > 8) & (period < 90) & (weight[:, POOL // 2::POOL] > 0)
    bpm = 60 * FPS / period.clamp(8, 90)
    tempo = ((torch.log(bpm / 40) / np.log(6) * TEMPI).long()).clamp(0, TEMPI - 1)
    tempo = torch.where(ok, tempo, torch.full_like(tempo, -1))
    meter = torch.where(ok, g(store.meter[i], k - 1)[:, POOL // 2::POOL], torch.zeros_like(tempo))
    meter = torch.where(weight[:, POOL // 2::POOL] > 0, meter, torch.full_like(meter, -1))
    if augment:
        x = jostle(x, rand)
    return x, beat, down, weight, tempo, meter


def jostle(x, rand):
    """Gain, tilt, band limits, a noise floor and a shift in pitch, on power under the log compression."""
    B, T, W = x.shape
    nb = W - 4
    bands, att = x[..., :nb], x[..., nb:]
    dev = x.device
    p = 10 ** (6 * bands) - 1
    gain = (rand(B, 1, 1) - .5) * 16
    knots = (rand(B, 1, 5) - .5) * 2 * 8 * (rand(B, 1, 1) < .6)
    tilt = F.interpolate(knots, nb, mode="linear", align_corners=True)
    p = p * 10 ** ((gain + tilt) / 10)
    edge = torch.arange(nb, device=dev)[None, None]
    lo = (rand(B, 1, 1) * 22) * (rand(B, 1, 1) < .15)
    hi = nb - (rand(B, 1, 1) * 22) * (rand(B, 1, 1) < .2)
    p = p * ((edge >= lo) & (edge <= hi))
    floor = 10 ** (rand(B, 1, 1) * 3.5) * (rand(B, 1, 1) < .25)
    p = p + floor * (.5 + rand(B, T, nb))
    bands = torch.log10(1 + p) / 6
    shift = int((rand(1).item() - .5) * 6)
    if shift and rand(1).item() < .5:
        bands = torch.roll(bands, shift, 2)
        if shift > 0:
            bands[..., :shift] = 0
        else:
            bands[..., shift:] = 0
    att = att * (.7 + .6 * rand(B, 1, 4)) * (rand(B, 1, 1) > .1)
    return torch.cat([bands, att], 2)


def loss_of(net, b):
    x, beat, down, weight, tempo, meter = b
    y, yt, ym = net(x)
    y = y.float()
    bce = lambda z, t, pw: (F.binary_cross_entropy_with_logits(z, t, reduction="none", pos_weight=torch.tensor(pw, device=z.device)) * weight).sum() / weight.sum()
    lb, ld = bce(y[..., 0], beat, 2.0), bce(y[..., 1], down, 2.5)
    lt = F.cross_entropy(yt.float().flatten(0, 1), tempo.flatten(), ignore_index=-1)
    lm = F.cross_entropy(ym.float().flatten(0, 1), meter.flatten(), ignore_index=-1)
    return lb + ld + .03 * lt + .05 * lm, (lb, ld, lt, lm)


@torch.no_grad()
def follow(average, net, k):
    """Moves a running average of weights on: `k` of it stays."""
    for q, r in zip(average.state_dict().values(), net.state_dict().values()):
        if q.dtype.is_floating_point:
            q.mul_(k).add_(r, alpha=1 - k)
        else:
            q.copy_(r)


def save(net, path, note):
    torch.save(dict(cfg=net.cfg, state={k: v.float().cpu() for k, v in net.state_dict().items()}, note=note), path)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("shards"), ap.add_argument("out")
    ap.add_argument("--minutes", type=float, default=8)
    ap.add_argument("--start", help="a checkpoint, or the product's weights.bin")
    ap.add_argument("--cpu", action="store_true")
    ap.add_argument("--batch", type=int, default=96)
    ap.add_argument("--crop", type=int, default=1600)
    ap.add_argument("--lr", type=float, default=3e-3)
    ap.add_argument("--end", type=float, default=.02, help="last learning rate over the first")
    ap.add_argument("--device", default="cuda")
    ap.add_argument("--capacity", type=int, default=12000)
    ap.add_argument("--first", type=int, default=400, help="songs to wait for")
    ap.add_argument("--cfg", default="{}", help="JSON of Net arguments")
    ap.add_argument("--frames", type=int, default=3000)
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    dev = "cpu" if a.cpu else a.device
    torch.manual_seed(a.seed)
    torch.backends.cudnn.benchmark = True
    t0 = time.time()
    limit = a.minutes * 60
    trn = Store(a.shards, "trn_", a.frames, a.capacity, dev)
    val = Store(a.shards, "val_", a.frames, max(16, a.capacity // 40), dev)
    while trn.n < a.first and time.time() - t0 < limit:
        trn.fill(), val.fill()
        time.sleep(.5)
    print(f"{trn.n} songs after {time.time() - t0:.0f} s", flush=True)
    net = Net(**json.loads(a.cfg)).to(dev)
    some = trn.x[: min(trn.n, 200)].float().flatten(0, 1)
    some = some[some.sum(1) > 0]
    if a.start and a.start.endswith(".bin"):
        net = restore.load(a.start).to(dev)
        restore.settle(net, trn.x[: min(trn.n, 128), : a.frames // POOL * POOL].float())
    elif a.start:
        ck = torch.load(a.start, map_location=dev)
        net = Net(**{k: v for k, v in ck["cfg"].items()}).to(dev)
        net.load_state_dict(ck["state"])
    else:
        # one mean and scale for all bands, so that the shape of the spectrum survives
        net.mean[:76], net.scale[:76] = some[:, :76].mean(), 1 / some[:, :76].std()
        net.mean[76:], net.scale[76:] = some[:, 76:].mean(0), 1 / (some[:, 76:].std(0) + 1e-6)
    print("multiply-adds a frame", net.macs(), flush=True)
    ema = copy.deepcopy(net)
    opt = torch.optim.AdamW(net.parameters(), lr=a.lr, weight_decay=.01, betas=(.9, .98))
    gen = torch.Generator(device=dev).manual_seed(a.seed)
    step, t_fill, t_log, sums = 0, time.time(), time.time(), None
    net.train()
    t1 = time.time()
    while True:
        now = time.time()
        done = (now - t1) / max(1, limit - (t1 - t0))
        if done >= 1:
            break
        lr = a.lr * min(1, (step + 1) / 300) * (.5 * (1 + np.cos(np.pi * done)) * (1 - a.end) + a.end)
        for gr in opt.param_groups:
            gr["lr"] = lr
        b = batch(trn, a.batch, a.crop, gen)
        with torch.autocast(dev.split(":")[0], dtype=torch.bfloat16, enabled=not a.cpu):
            loss, parts = loss_of(net, b)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        opt.step()
        step += 1
        k = min(.999, step / (step + 50))
        follow(ema, net, k)
        if now - t_fill > 4:
            trn.fill(120), val.fill(20)
            t_fill = time.time()
        parts = torch.stack([p.detach().float() for p in parts])
        sums = parts if sums is None else .98 * sums + .02 * parts
        if now - t_log > 20:
            t_log = now
            line = f"{now - t0:.0f}s step {step} songs {trn.n}/{val.n} lr {lr:.4f} train {[round(v, 4) for v in sums.tolist()]}"
            if val.n >= 8:
                ema.eval()
                with torch.no_grad():
                    vs = [torch.stack([p.float() for p in loss_of(ema, batch(val, min(64, val.n), min(2400, a.frames), gen, False))[1]]) for _ in range(2)]
                line += f" val {[round(v, 4) for v in torch.stack(vs).mean(0).tolist()]}"
            print(line, flush=True)
            save(ema, a.out, line)
    save(ema, a.out, f"{step} steps, {trn.n} songs")
    print("saved", step, "steps", trn.n, "songs", flush=True)


if __name__ == "__main__":
    main()

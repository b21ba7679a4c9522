"""Trains the network that hears phrases, on songs that `form_stream.py` made.

    python3 train_form.py SHARDS OUT.pt [--minutes 6] [--cfg JSON] [--start OTHER.pt] [--device cuda:0]

Augmented on the way: songs cut and joined anew (form_splice.py), pitch classes rotated, sounds noised or left out, songs cut short at either end, bars misplaced, beats
heard twice or missed. The learning rate follows the clock; of the running averages of the weights, the one that does best on the
songs to check with is saved.
"""
from __future__ import annotations

import argparse
import copy
import json
import os
import time

import numpy as np
import torch
import torch.nn.functional as F

from form_inputs import HARMONY, RHYTHM, TIMBRE, inputs
from form_model import COUNT_ONE, FIRST_STEP, LABELS, OF_SONG, FormNet
from form_splice import spliced
from train import follow

LONGEST = 768
READY = 512             # examples that a loader holds
PAIRS = 24
CUES, LOUD = slice(42, 63), slice(63, 66)
DOWNBEAT, MIDDLE, NEAR_START, NEAR_END = 61, 62, 70, 71
SORTS = dict(postchorus="chorus", build="prechorus", closing="ending", outro="ending", solo="instrumental", transition="break",
             breakdown="break", section="verse")


OPENING = [LABELS.index(label) for label in ("intro", "instrumental", "break")]
WAITED = OPENING[:2]      # dancers wait through the one of these that a song opens with


def class_of(label):
    label = label.rstrip("0123456789")
    label = "tune" if label.startswith("tune") else SORTS.get(label, label)
    return LABELS.index(label) if label in LABELS else -1


class Song:
    """A rendered song with its phrases on the beats that the ear found; `good` where it found them."""

    def __init__(self, path):
        z = np.load(path)
        self.kind = str(z["kind"])
        times, starts, self.labels = z["times"], z["starts"], [str(s) for s in z["labels"]]
        self.sounds, self.places, self.per_bar = z["sounds"].astype(np.float32), z["places"].astype(int), int(z["per_bar"])
        n = len(times)
        self.good = n >= 48 and len(starts) >= 3
        if not self.good:
            return
        period = np.median(np.diff(times))
        self.at, self.found = [], []
        for t in starts:
            i = int(np.argmin(np.abs(times - t)))
            self.at.append(n if t > times[-1] + period / 2 else i)
            self.found.append(t > times[-1] + period / 2 or abs(times[i] - t) < .3 * period)
        self.good = np.mean(self.found) >= .8 and sorted(self.at) == self.at
        self.phrases = list(zip(self.at, self.at[1:], self.labels))
        self.whole = all(self.found) and len(set(self.at)) == len(self.at)

    def example(self):
        """(inputs, start target, start weight, class of each beat, edges of the wait, phrases)"""
        n = len(self.sounds)
        target, weight, classes, edges = marked(n, self.phrases)
        for i, found in zip(self.at, self.found):
            if not found:
                edges[:, i:i + 1] = 0
                weight[max(0, i - 3):i + 4] = 0
                target[min(i, n - 1)] = 0
        sure = [p for p, a, b in zip(self.phrases, self.found, self.found[1:]) if a and b]
        return inputs(self.sounds, self.places, self.per_bar), target, weight, classes, edges, sure

    def other_form(self, rng):
        """The same of another song of its phrases."""
        sounds, places, phrases = spliced(self.sounds, self.places, self.per_bar, self.phrases, rng)
        return inputs(sounds, places, self.per_bar), *marked(len(sounds), phrases), phrases


def marked(n, phrases):
    """Of each beat: whether a phrase starts there, how much that weighs, its class, and whether count 1 and the first step are there."""
    target, weight, classes = np.zeros(n, np.float32), np.ones(n, np.float32), np.zeros(n, np.int64)
    edges = np.zeros((len(OF_SONG), n), np.float32)
    edges[COUNT_ONE, phrases[0][0]:phrases[0][0] + 1] = 1
    waited = phrases[0][2] if class_of(phrases[0][2]) in WAITED else "intro"
    step = next((a for a, _, label in phrases if label != waited), n)
    edges[FIRST_STEP, step:step + 1] = 1
    opening = True
    for a, b, label in phrases:
        if a < n:
            target[a] = 1
        # What opens a song before anybody sings is its intro, whatever the set calls it.
        opening = opening and class_of(label) in OPENING
        classes[a:b] = OPENING[0] if opening else class_of(label)
    weight[phrases[-1][1]:] = .3
    return target, weight, classes, edges


def augment(song, rng):
    x, target, weight, classes, edges, phrases = song
    x = x.astype(np.float32).copy()
    n = len(x)
    x[:, HARMONY] = np.roll(x[:, HARMONY], rng.integers(12), 1)
    lo, hi = 0, n
    if rng.uniform() < .25 and n > 150:
        lo = int(rng.integers(0, n // 3)) if rng.uniform() < .6 else 0
        hi = n - (int(rng.integers(0, n // 3)) if rng.uniform() < .6 else 0)
    if hi - lo > LONGEST:
        lo = int(rng.integers(lo, hi - LONGEST + 1))
        hi = lo + LONGEST
    if rng.uniform() < .08:                     # bars misplaced
        x[:, DOWNBEAT:MIDDLE + 1] = np.roll(x[:, DOWNBEAT:MIDDLE + 1], rng.integers(1, 4), 0)
    for part, p, spread in ((HARMONY, .06, .12), (TIMBRE, .06, .12), (RHYTHM, .06, .4), (LOUD, .1, .3)):
        if rng.uniform() < p:
            x[:, part] = 0
        elif rng.uniform() < .6:
            x[:, part] += rng.normal(0, spread * rng.uniform(), x[:, part].shape)
    x[:, TIMBRE] += rng.normal(0, .05, (1, 14))
    for part in (HARMONY, TIMBRE, RHYTHM):      # something else is heard for a while
        if rng.uniform() < .15:
            k, m = int(rng.integers(n)), int(rng.integers(4, 33))
            x[k:k + m, part] = 0
    some = 42 + np.flatnonzero(rng.uniform(size=19) < (.1 if rng.uniform() < .5 else .5) * rng.integers(2))
    x[:, some] = 0
    x[:, 42:61] *= rng.uniform(.8, 1.2, (1, 19))
    keep = np.arange(lo, hi)
    if rng.uniform() < .1 and hi - lo > 100:    # a beat missed or heard twice
        k = int(rng.integers(10, hi - lo - 10))
        keep = np.delete(keep, k) if rng.uniform() < .5 else np.insert(keep, k, keep[k])
        keep = keep[:LONGEST]
        phrases = []
    x, target, weight, classes, edges = x[keep], target[keep], weight[keep], classes[keep], edges[:, keep]
    m = len(x)
    x[:, NEAR_START] = np.minimum(np.arange(m), 64) / 64
    x[:, NEAR_END] = np.minimum(m - np.arange(m), 64) / 64
    phrases = [(a - lo, b - lo, s) for a, b, s in phrases if a >= lo and b <= hi]
    return x, target, weight, classes, edges, pairs_of(phrases, rng)


def pairs_of(phrases, rng):
    """[PAIRS, 4]: two starts, beats compared, and whether the phrases are the same; the length 0 where there are no more."""
    out = np.zeros((PAIRS, 4), np.int64)
    if len(phrases) < 2:
        return out
    for k in range(PAIRS):
        i, j = rng.choice(len(phrases), 2, replace=False)
        (a, b, s), (c, d, t) = phrases[i], phrases[j]
        out[k] = a, c, min(b - a, d - c, 64), s.rstrip("0123456789") == t.rstrip("0123456789")
    return out


def collate(songs, dev):
    t = min(LONGEST, max(len(s[0]) for s in songs))
    t = (t + 63) // 64 * 64
    b, w = len(songs), songs[0][0].shape[1]
    x, mask = np.zeros((b, t, w), np.float32), np.zeros((b, t), np.float32)
    target, weight, classes = np.zeros((b, t), np.float32), np.zeros((b, t), np.float32), np.full((b, t), -1)
    edges = np.zeros((b, len(OF_SONG), t), np.float32)
    for i, s in enumerate(songs):
        m = len(s[0])
        x[i, :m], target[i, :m], weight[i, :m], classes[i, :m], edges[i, :, :m], mask[i, :m] = s[0], s[1], s[2], s[3], s[4], 1
    put = lambda v: torch.from_numpy(v).to(dev, non_blocking=True)
    return [put(v) for v in (x, mask, target, weight, classes, edges, np.stack([s[5] for s in songs]))]


def loss_of(net, scale, batch):
    x, mask, target, weight, classes, edges, pairs = batch
    with torch.autocast(x.device.type, dtype=torch.bfloat16, enabled=x.device.type == "cuda"):
        start, label, of_song, direction = net(x, mask)
    weight = weight * mask
    bce = F.binary_cross_entropy_with_logits(start, target, reduction="none", pos_weight=torch.tensor(2., device=x.device))
    ls = (bce * weight).sum() / weight.sum() * 8
    lc = F.cross_entropy(label.flatten(0, 1), classes.flatten(), ignore_index=-1, label_smoothing=.05)
    le = wait_loss(of_song, mask, edges)
    a, c, n, same = pairs.unbind(-1)                                                   # [B, PAIRS]
    step = torch.arange(64, device=x.device)
    take = lambda at: torch.gather(direction, 1, (at[..., None] + step).clamp(max=x.shape[1] - 1).flatten(1)[..., None].expand(-1, -1, direction.shape[-1]))
    inside = (step < n[..., None]).float()
    like = ((take(a) * take(c)).sum(-1).view(*a.shape, 64) * inside).sum(-1) / inside.sum(-1).clamp(min=1)
    real = (n > 0).float()
    lp = (F.binary_cross_entropy_with_logits(scale[0].exp() * (like - scale[1]), same.float(), reduction="none") * real).sum() / real.sum().clamp(min=1)
    return ls + .3 * lc + .5 * lp + .15 * le, (ls, lc, lp, le)


def wait_loss(of_song, mask, edges):
    """Cross-entropy of where counting starts and where the wait is over, of songs that hold the place."""
    logits = of_song.transpose(1, 2).masked_fill(~mask.bool()[:, None], -30.)
    each = -(F.log_softmax(logits, -1) * edges).sum(-1)
    return each.sum() / edges.sum().clamp(min=1)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("shards"), ap.add_argument("out")
    ap.add_argument("--minutes", type=float, default=6), ap.add_argument("--cfg", default="{}")
    ap.add_argument("--device", default="cuda:0"), ap.add_argument("--batch", type=int, default=32)
    ap.add_argument("--lr", type=float, default=2e-3), ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--loaders", type=int, default=12), ap.add_argument("--drop", type=float, default=.3)
    ap.add_argument("--decay", type=float, default=.1), ap.add_argument("--start")
    ap.add_argument("--splice", type=float, default=.7, help="share of songs cut and joined anew")
    ap.add_argument("--fresh", type=int, default=12, help="new examples a loader makes for each batch")
    a = ap.parse_args()
    dev = torch.device(a.device)
    torch.manual_seed(a.seed)
    names = sorted(os.listdir(a.shards))
    load = lambda prefix: [s for s in (Song(os.path.join(a.shards, n)) for n in names if n.startswith(prefix) and n.endswith(".npz")) if s.good]
    trn, val = load("trn_"), [s.example() for s in load("val_")]
    print(len(trn), "songs,", len(val), "to check with", flush=True)
    some = np.concatenate([s.example()[0] for s in trn[:300]])
    net = FormNet(inputs=some.shape[1], drop=a.drop, **json.loads(a.cfg)).to(dev)
    net.mean.copy_(torch.from_numpy(some.mean(0)))
    net.scale.copy_(torch.from_numpy(1 / (some.std(0) + 1e-3)))
    scale = torch.nn.Parameter(torch.tensor([2.3, .5], device=dev))
    if a.start:
        begun_with = torch.load(a.start, map_location=dev, weights_only=True)
        net.load_state_dict(begun_with["state"])
        scale.data.copy_(begun_with["scale"])

    class Endless(torch.utils.data.IterableDataset):
        def __iter__(self):
            info = torch.utils.data.get_worker_info()
            rng = np.random.default_rng([a.seed, info.id if info else 0])
            ready = []
            while True:
                for _ in range(a.fresh):
                    song = trn[int(rng.integers(len(trn)))]
                    new = song.other_form(rng) if song.whole and rng.uniform() < a.splice else song.example()
                    if not 48 <= len(new[0]) or len(new[5]) < 2:
                        continue
                    if len(ready) < READY:
                        ready.append(new)
                    else:
                        ready[int(rng.integers(READY))] = new
                if ready:
                    yield collate([augment(ready[int(i)], rng) for i in rng.integers(len(ready), size=a.batch)], "cpu")
    batches = iter(torch.utils.data.DataLoader(Endless(), batch_size=None, num_workers=a.loaders, pin_memory=dev.type == "cuda"))
    check = np.random.default_rng(5)
    whole = [(s[0].astype(np.float32)[:LONGEST], s[1][:LONGEST], s[2][:LONGEST], s[3][:LONGEST], s[4][:, :LONGEST],
              pairs_of([p for p in s[5] if p[1] <= LONGEST], check)) for s in val]
    held = [collate(whole[i:i + 32], dev) for i in range(0, len(whole), 32)]
    opt = torch.optim.AdamW([*net.parameters(), scale], lr=a.lr, weight_decay=a.decay, betas=(.9, .98))
    ema, ema_scale = copy.deepcopy(net), scale.detach().clone()
    begun, step, shown, best = time.time(), 0, 0., (1e9, None)
    net.train()
    while (done := (time.time() - begun) / (60 * a.minutes)) < 1:
        for group in opt.param_groups:
            group["lr"] = a.lr * min(1, (step + 1) / 200) * (.51 + .49 * np.cos(np.pi * done))
        batch = [v.to(dev, non_blocking=True) for v in next(batches)]
        loss, parts = loss_of(net, scale, batch)
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.)
        opt.step()
        step += 1
        k = min(.999, step / (step + 50))
        follow(ema, net, k)
        with torch.no_grad():
            ema_scale.mul_(k).add_(scale.detach(), alpha=1 - k)
        if time.time() - shown > 6 or step == 1:
            shown = time.time()
            loss = report(ema, ema_scale, held, step, parts)
            if loss < best[0]:
                best = loss, dict(cfg=ema.cfg, state={k: v.float().cpu() for k, v in ema.state_dict().items()}, scale=ema_scale.cpu(), step=step)
                torch.save(best[1], a.out)
    print("kept: step", best[1]["step"])


def report(net, scale, held, step, parts):
    net.eval()
    with torch.no_grad():
        rows = [torch.stack([p.float() for p in loss_of(net, scale, b)[1]]).cpu() for b in held]
        hit = total = named = wait = songs = 0
        for b in held:
            start, label, of_song, _ = net(b[0], b[1])
            at = of_song.masked_fill(~b[1].bool()[..., None], -1e9).argmax(1)                    # [B, 2]
            right = (torch.gather(b[5], 2, at[..., None])[..., 0] > .5).all(1)
            wait += int(right.sum()); songs += int((b[5].sum((1, 2)) > 1.5).sum())
            peak = (start > 0) & (start >= F.max_pool1d(start[:, None], 9, 1, 4)[:, 0]) & b[1].bool()
            t = b[2] * (b[3] > .5)
            hit += float((peak * t).sum()); total += float(t.sum()); named += float((peak & (b[3] > .5)).sum())
    net.train()
    m = torch.stack(rows).mean(0)
    print(f"{step:6d} training {[round(float(p), 3) for p in parts]} held {[round(float(v), 3) for v in m]} "
          f"starts: recall {hit / max(total, 1):.3f} precision {hit / max(named, 1):.3f} "
          f"wait {wait / max(songs, 1):.3f}", flush=True)
    return float(m[0] + .2 * m[1] + .5 * m[2] + .1 * m[3])


if __name__ == "__main__":
    main()

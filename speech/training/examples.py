"""Draws the examples of a batch: what is said, where, and over what."""
import math
import numpy as np
import torch
import torch.nn.functional as F
import phrases as P
from mix import *


class Examples:
    def __init__(self, shelf, front, device, seed=1, standin=False, human=False):
        """standin: no recorded word or digit takes part, so that they measure how well a vocabulary
        learnt from synthesisers alone carries over to people. human: voices built from recordings count for more."""
        self.s, self.front, self.device, self.standin = shelf, front, device, standin
        self.rng = np.random.default_rng(seed)
        self.g = torch.Generator(device=device)
        self.g.manual_seed(seed)
        n = len(P.LABELS)
        synth, real = ("espeak", "flite", "festival", "tube"), ("real", "digit8k")
        self.by = {}
        for split in ("train", "held"):
            for c in P.LABELS + ["~" + w for w in P.SPARE]:
                self.by[split, c, "synth"] = self.weighed(shelf.pool(split, lambda l: l == c, synth))
                self.by[split, c, "real"] = shelf.pool(split, lambda l: l == c, real if not standin else ())
            self.by[split, "other"] = shelf.pool(split, lambda l: l == P.OTHER)
            self.by[split, "digits"] = shelf.pool(split, lambda l: l[0] == "#")
            self.by[split, "talk"] = shelf.pool(split, lambda l: l == "=talk")
            self.by[split, "noise"] = shelf.pool(split, lambda l: l == "=noise")
            self.by[split, "long"] = np.array([i for i in self.by[split, "other"] if shelf.long[i] > 1.2 * RATE], int)
        self.share = {"espeak": 2.0, "flite": 3.0, "festival": 1.0, "tube": 0.7} if human else {"espeak": 3.0, "flite": 1.6, "festival": 1.0, "tube": 1.0}
        self.labels = P.LABELS  # those drawn from; a label that stands twice is drawn twice as often
        self.several = 0.2  # share of examples in which others speak, or he himself, in the seconds before
        self.kinds = lambda u: u  # which kind of example a number from 0 to 1 stands for: see draw
        self.endless = False  # the sound goes round: see Front and model.past
        self.machines = machine_noise(420, 6, device, self.g)

    def weighed(self, ids):
        """Engines in turn rather than clips: (ids by engine)."""
        return [ids[self.s.engine[ids] == e] for e in ("espeak", "flite", "festival", "tube") if (self.s.engine[ids] == e).any()]

    def one(self, split, c):
        real = self.by[split, c, "real"]
        if len(real) and self.rng.random() < 0.4:
            return self.rng.choice(real)
        groups = self.by[split, c, "synth"]
        p = np.array([self.share[self.s.engine[g[0]]] for g in groups])
        return self.rng.choice(groups[self.rng.choice(len(groups), p=p / p.sum())])

    def u(self, *shape):
        return torch.rand(*shape, device=self.device, generator=self.g)

    def draw(self, size, split="train"):
        """Slot table of a batch: ids, starts, crops, lengths, speeds, gains, classes, digit targets."""
        r, s = self.rng, self.s
        ids = np.full((size, SLOTS), -1)
        start, crop, long = (np.zeros((size, SLOTS), np.int64) for _ in range(3))
        speed, gain = np.ones((size, SLOTS)), np.ones((size, SLOTS))
        cls = np.full(size, P.CLASSES.index(P.OTHER))
        digits, sounds, main = [None] * size, [None] * size, np.ones((size, SLOTS), bool)
        for b in range(size):
            kind = self.kinds(r.random())
            v = float(np.exp(r.normal(0, 0.09)))
            speed[b] = min(1.22, max(0.82, v))
            lead = int(r.uniform(0.5, 1.5) * RATE)

            def place(k, i, at, c=0, n=None, g=1.0):
                ids[b, k], start[b, k], crop[b, k], gain[b, k] = i, at, c, g / s.level[i]
                long[b, k] = n if n is not None else s.long[i] - c
                return at + int(long[b, k] / speed[b, k])

            def fit(i):
                return min(lead, max(6400, N - 5600 - int(s.long[i] / speed[b, 0])))

            if r.random() < self.several:  # utterances with pauses between; the last one counts
                at, k = int(r.uniform(0.2, 1.0) * RATE), 0
                while k < SLOTS:
                    c = self.labels[r.integers(len(self.labels))] if r.random() < 0.7 else P.OTHER
                    i = self.one(split, c) if c != P.OTHER else r.choice(self.by[split, "other"])
                    n = min(s.long[i], int(1.5 * RATE))
                    if at + n / speed[b, k] > N - 5600:
                        break
                    place(k, i, at, 0, n, 1.0 if k == 0 else 10 ** (r.uniform(-6, 6) / 20))
                    cls[b] = P.CLASSES.index(c) if n == s.long[i] else P.CLASSES.index(P.OTHER)
                    at, k = at + int(n / speed[b, k]) + int(r.uniform(0.35, 1.9) * RATE), k + 1
                main[b, : max(0, k - 1)] = False
            elif kind < 0.60 or 0.60 <= kind < 0.66:
                c = self.labels[r.integers(len(self.labels))] if kind < 0.60 else "~" + P.SPARE[r.integers(len(P.SPARE))]
                i = self.one(split, c)
                at = fit(i)
                place(0, i, at)
                cls[b] = P.CLASSES.index(c)
                digits[b] = s.digits[i] or []
                x = r.random()
                if kind < 0.60 and x < 0.10 and s.long[i] > 0.5 * RATE and c not in NOCUT:  # half a phrase
                    k = int(s.long[i] * r.uniform(0.35, 0.62))
                    if r.random() < 0.6:
                        place(0, i, at, 0, k)
                    else:
                        place(0, i, at, k)
                    cls[b], digits[b] = P.CLASSES.index(P.OTHER), None
                elif kind < 0.60 and x < 0.22:  # a phrase joined to other talk
                    j = r.choice(self.by[split, "other"])
                    gap = int(r.uniform(0.0, 0.17) * RATE) - 800
                    n = min(s.long[j], int(1.4 * RATE))
                    speed[b, 1] = speed[b, 0]
                    if r.random() < 0.6:
                        end = place(0, i, min(at, 12000))
                        place(1, j, end + gap, 0, n)
                    else:
                        end = place(1, j, min(at, 10000), s.long[j] - n, n)
                        place(0, i, end + gap)
                    cls[b], digits[b] = P.CLASSES.index(P.OTHER), None
                elif x < 0.42:  # talk that ended a while before
                    j = self.one(split, self.labels[r.integers(len(self.labels))]) if r.random() < 0.5 else r.choice(self.by[split, "other"])
                    at = place(0, i, max(at, min(20000, N - 5600 - int(s.long[i] / speed[b, 0])))) and start[b, 0]
                    end = at - int(r.uniform(0.3, 0.7) * RATE)
                    n = min(s.long[j], end)
                    if n > 2400:
                        place(1, j, end - n, s.long[j] - n, n, 10 ** (r.uniform(-8, 4) / 20))
                        speed[b, 1], main[b, 1] = 1, False
            elif kind < 0.83:
                i = r.choice(self.by[split, "other"])
                n = min(s.long[i], int(2.6 * RATE * speed[b, 0]))
                place(0, i, min(lead, N - 5600 - int(n / speed[b, 0])), r.integers(0, s.long[i] - n + 1), n)
            elif kind < 0.90:
                if r.random() < 0.5 or not len(self.by[split, "digits"]):
                    at, d = int(r.uniform(0.4, 0.8) * RATE), []
                    for k in range(r.integers(2, SLOTS + 1)):
                        i = self.one(split, P.NUMBERS[r.integers(len(P.NUMBERS))])
                        if at + s.long[i] / speed[b, k] > N - 5000:
                            break
                        d += s.digits[i]
                        at = place(k, i, at) - 700 + int(r.uniform(0, 0.12) * RATE)
                    digits[b] = d
                    if len(d) == 1:
                        cls[b] = P.CLASSES.index(P.DIGITS[d[0]])
                else:
                    i = r.choice(self.by[split, "digits"])
                    v = max(1.0, s.long[i] / (2.7 * RATE))
                    speed[b, 0] = v if v > 1 else speed[b, 0]
                    if v < 1.4:
                        place(0, i, fit(i))
                        digits[b] = s.digits[i]
            elif kind < 0.96:
                i = r.choice(self.by[split, "talk"])
                n = int(r.uniform(0.5, 2.4) * RATE)
                place(0, i, min(lead, N - 5600 - n), r.integers(0, max(1, s.long[i] - n * 1.3)), n)
                speed[b, 0] = 1
            # else: noise alone
            said = sorted((start[b, k], ids[b, k]) for k in range(SLOTS) if ids[b, k] >= 0)
            whole = all(long[b, k] == s.long[ids[b, k]] and s.sounds[ids[b, k]] is not None for k in range(SLOTS) if ids[b, k] >= 0)
            sounds[b] = [x for _, i in said for x in s.sounds[i]] if whole else None
        return ids, start, crop, long, speed, gain, cls, digits, main, sounds

    def noise_row(self, split, rows, talking=True):
        """Noise at level 1 with whether it is talk (other people, the radio, our own voice)."""
        r, s = self.rng, self.s
        kind = r.random(rows)
        made = int(0.42 * rows)
        kind[:made], kind[made:] = 0, 0.42 + (0.58 if talking else 0.3) * kind[made:]
        any_of = lambda name: self.by[split, name][r.integers(0, len(self.by[split, name]), rows)]
        talk = kind > 0.80
        ids = np.where(talk, np.where(r.random(rows) < 0.45, any_of("talk"), any_of("long")), any_of("noise"))
        crop = (r.random(rows) * np.maximum(0, s.long[ids] - N)).astype(np.int64)
        t = lambda a, d=torch.float32: torch.tensor(a, device=self.device, dtype=d)
        ids_t = t(ids, torch.long)
        shift = torch.where(t(s.long[ids]) < N, t(r.uniform(0, N - 8000, rows)) * t(talk), t(np.zeros(rows)))
        on = slice(made, rows)
        a = s.take(ids_t[on], shift[on], t(crop)[on], t(s.long[ids] - crop)[on], t(np.where(talk, 1.0, r.uniform(0.7, 1.3, rows)))[on], N)
        a = a / t(s.level[ids])[on, None]
        k = torch.randint(0, len(self.machines), (made,), device=self.device, generator=self.g)
        o = torch.randint(0, self.machines.shape[1] - N, (made,), device=self.device, generator=self.g)
        m = torch.gather(self.machines[k], 1, o[:, None] + torch.arange(N, device=self.device)) / 0.05
        p = torch.randperm(rows, device=self.device, generator=self.g)
        return torch.cat([m, a])[p], t(talk, torch.bool)[p]

    def curve(self, rows, spread, n):
        """Random smooth tone curves and band limits as gains over n bins."""
        knots = self.u(rows, 9) * 2 * spread - spread
        c = F.interpolate(knots[:, None], size=n, mode="linear", align_corners=True)[:, 0]
        c = torch.gather(c, 1, ((torch.arange(n, device=self.device) / n).sqrt() * (n - 1)).long()[None].expand(rows, -1))
        return 10 ** (c / 20)

    def band(self, rows, n):
        f = torch.linspace(0, 8000, n, device=self.device)[None]
        x = self.u(rows, 4)
        low = torch.where(x[:, :1] < 0.12, torch.full_like(x[:, :1], 300), torch.where(x[:, :1] < 0.5, 40 + 300 * x[:, 1:2] ** 2, torch.full_like(x[:, :1], 5)))
        high = torch.where(x[:, :1] < 0.12, torch.full_like(x[:, :1], 3400), torch.where(x[:, 2:3] < 0.35, 3000 + 5000 * x[:, 3:4], torch.full_like(x[:, :1], 9000)))
        return 1 / torch.sqrt(1 + (low / f.clamp(min=1)) ** 8) / torch.sqrt(1 + (f / high) ** 16)

    def batch(self, size, split="train", clean=False, snr=None, table=None):
        ids, start, crop, long, speed, gain, cls, digits, main, sounds = table or self.draw(size, split)
        dev = self.device
        t = lambda a, d=torch.float32: torch.tensor(a, device=dev, dtype=d)
        x, hot, mainhot = torch.zeros(size, N, device=dev), torch.zeros(size, FRAMES, dtype=torch.bool, device=dev), torch.zeros(size, FRAMES, dtype=torch.bool, device=dev)
        for k in range(SLOTS):
            on = np.flatnonzero(ids[:, k] >= 0)
            if not len(on):
                continue
            o = t(on, torch.long)
            y = self.s.take(t(ids[on, k], torch.long), t(start[on, k]), t(crop[on, k]), t(long[on, k]), t(speed[on, k]), N)
            e = y.view(len(on), FRAMES, HOP).pow(2).mean(2)
            h = (e > t(self.s.edge[ids[on, k]])[:, None]).float()
            h = -F.max_pool1d(-F.max_pool1d(h[:, None], 15, 1, 7), 15, 1, 7)[:, 0] > 0.5  # closes gaps under 150 ms
            x[o] += y * t(gain[on, k])[:, None]
            hot[o] |= h
            mainhot[o] |= h & t(main[on, k], torch.bool)[:, None]
        # room and the speaker's own tone
        n = N + 6400
        if not clean:
            stress = self.u(size, 1) * 5 * torch.randn(size, 31, device=dev, generator=self.g)  # dB, a knot each 120 ms
            x = x * 10 ** (F.interpolate(stress[:, None], size=N, mode="linear", align_corners=True)[:, 0] / 20)
            L = 6400
            tau = 0.08 * (8 ** self.u(size, 1)) / 6.9
            tail = torch.randn(size, L, device=dev, generator=self.g) * torch.exp(-torch.arange(L, device=dev) / RATE / tau)
            tail[:, :20] = 0
            wet = (10 ** (-(self.u(size, 1) * 22 - 2) / 20)) * (self.u(size, 1) < 0.7)
            rir = tail / tail.pow(2).sum(1, keepdim=True).sqrt() * wet
            rir[:, 0] = 1
            spec = torch.fft.rfft(x, n) * torch.fft.rfft(rir, n) * self.curve(size, 7, n // 2 + 1)
            x = torch.fft.irfft(spec, n)[:, :N]
        loud = hot.float().repeat_interleave(HOP, 1)
        level = ((x ** 2 * loud).sum(1) / loud.sum(1).clamp(min=1)).sqrt()
        spoken = level > 0
        x = x / level.clamp(min=1e-6)[:, None]
        # noise
        talky = torch.zeros(size, dtype=torch.bool, device=dev)
        if snr is None or snr < 90:
            for second in (False, True):
                some = torch.arange(size, device=dev) if not second else torch.nonzero(self.u(size) < 0.3)[:, 0]
                y, talk = self.noise_row(split, len(some), snr is None)
                db = self.u(len(some), 1) * 28 - 3 if snr is None else torch.full((size, 1), float(snr), device=dev)
                if snr is None:
                    db = torch.where(talk[:, None], db.clamp(min=8) + 3, db)
                    db = db + 60 * (self.u(len(some), 1) < (0 if second else 0.12))
                elif second:
                    break
                if not clean:
                    spec = torch.fft.rfft(y) * self.curve(len(some), 8, N // 2 + 1)
                    y = torch.fft.irfft(spec, N)
                    y = y / y.pow(2).mean(1, keepdim=True).sqrt().clamp(min=1e-4)
                x[some] += y * 10 ** (-db / 20)
                talky[some] |= talk & (db[:, 0] < 40)
        # microphone: band, level, clipping, own noise
        if not clean:
            x = torch.fft.irfft(torch.fft.rfft(x) * self.band(size, N // 2 + 1) * self.curve(size, 4, N // 2 + 1), N)
            out = 10 ** (-(6 + 34 * self.u(size, 1)) / 20)
            x = x * out
            drive = torch.where(self.u(size, 1) < 0.12, 1 + 6 * self.u(size, 1), torch.ones_like(out))
            x = (x * drive).clamp(-1, 1)
            x = x + torch.randn(x.shape, device=dev, generator=self.g) * 10 ** (-(62 + 28 * self.u(size, 1)) / 20)
        else:
            x = (x * 0.06).clamp(-1, 1) + torch.randn(x.shape, device=dev, generator=self.g) / 32768
        return x, hot, mainhot, t(cls, torch.long), digits, talky, sounds

    def features(self, x, train=True, bend=None):
        size = len(x)
        if not train:
            return self.front(x, endless=self.endless)
        warp = (8 + torch.randn(size, device=self.device, generator=self.g) * 3).round().long().clamp(0, 16)
        f = self.front(x, warp, self.u(size) < 0.5, self.endless, bend)
        for _ in range(2):  # masks over time and frequency
            w, at = self.u(size, 1) * 14, self.u(size, 1) * FRAMES
            i = torch.arange(FRAMES, device=self.device)[None]
            f = f * ~((i >= at) & (i < at + w) & (self.u(size, 1) < 0.5))[:, :, None]
            w, at = self.u(size, 1) * 6, self.u(size, 1) * BANDS
            i = torch.arange(BANDS, device=self.device)[None]
            f = f * ~((i >= at) & (i < at + w) & (self.u(size, 1) < 0.5))[:, None, :]
        return f

    def spans(self, mainhot, train=True):
        """The pooled frames (20 ms) of the utterance, its ends as unsure as the ears will have them."""
        i = torch.arange(FRAMES, device=self.device)[None]
        any_ = mainhot.any(1)
        first = torch.where(mainhot, i, torch.full_like(i, FRAMES)).amin(1)
        last = torch.where(mainhot, i, torch.full_like(i, -1)).amax(1)
        size = len(mainhot)
        rand = (60 + self.u(size) * 150).long()
        first = torch.where(any_, first, rand)
        last = torch.where(any_, last, rand + (20 + self.u(size) * 90).long())
        lo, hi = (-16 + 22 * self.u(size), 11 + 23 * self.u(size)) if train else (torch.full_like(self.u(size), -6), torch.full_like(self.u(size), 24))
        first, last = first + lo, last + hi
        first = torch.maximum(first, last - 250)
        j = (2 * torch.arange(FRAMES // 2, device=self.device) + 2)[None]
        m = (j > first[:, None]) & (j <= last[:, None])
        m[:, -1] |= ~m.any(1)
        return m

    def activity(self, hot):
        """Target of the activity head at 20 ms steps, DELAY frames late."""
        return F.pad(hot.float(), (DELAY, 0))[:, 1:FRAMES:2]

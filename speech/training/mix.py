"""Builds training examples on the graphics card: speech in rooms, with noise."""
import math
import numpy as np
import torch
import torch.nn.functional as F
import phrases as P
from phones import sounds_of

RATE, HOP, WIN, FFT, BANDS = 16000, 160, 400, 512, 40
FRAMES = 360                 # 3.6 s an example
N = FRAMES * HOP
MEMORY = 150                 # frames the running mean remembers
FLOOR = 1e-6                 # energy added before the logarithm
SCALE = 0.4
DELAY = 8                    # frames the activity head may look back on
SLOTS = 4                    # utterances an example may hold
NOCUT = {"stop listening", "start listening", "helping", "parts", "part list", "no", "zero", "oh", "point", "hold the job", "other job", "finish job"}


def mel_bank(warp=1.0):
    """BANDS triangles of equal mel width (O'Shaughnessy 1987: 2595 log10(1+f/700)) from 60 to 7600 Hz."""
    mel = lambda f: 2595 * math.log10(1 + f / 700)
    edges = [700 * (10 ** ((mel(60) + (mel(7600) - mel(60)) * i / (BANDS + 1)) / 2595) - 1) * warp for i in range(BANDS + 2)]
    f = np.arange(FFT // 2 + 1) * RATE / FFT
    bank = np.zeros((FFT // 2 + 1, BANDS), np.float32)
    for b in range(BANDS):
        lo, mid, hi = edges[b : b + 3]
        bank[:, b] = np.maximum(0, np.minimum((f - lo) / (mid - lo), (hi - f) / (hi - mid)))
    return bank


def mean_matrix(frames, started):
    """The running mean as a matrix: cumulative for MEMORY frames, exponential after.
    With started, the mean has MEMORY frames behind it: the weight of those comes second."""
    m, seed = np.zeros((frames, frames), np.float32), np.ones(frames, np.float32)
    row, s = np.zeros(frames, np.float32), 1.0
    for t in range(frames):
        a = 1 / MEMORY if started else max(1 / (t + 1), 1 / MEMORY)
        row = row * (1 - a)
        row[t] += a
        s *= 1 - a
        m[t], seed[t] = row, s
    return m, seed


def endless_matrix(frames):
    """The running mean of a stream that repeats itself for ever."""
    a = 1 / MEMORY
    t = np.arange(frames)
    return (a * (1 - a) ** ((t[:, None] - t[None]) % frames) / (1 - (1 - a) ** frames)).astype(np.float32)


class Front(torch.nn.Module):
    """int16-scaled sound in [-1,1] to normalised log-mel frames, as mel.go does."""

    def __init__(self, frames=FRAMES):
        super().__init__()
        self.warps = [0.84 + 0.02 * i for i in range(17)]
        self.register_buffer("banks", torch.tensor(np.stack([mel_bank(w) for w in self.warps])))
        self.register_buffer("plain", torch.tensor(mel_bank()))
        self.register_buffer("window", torch.hann_window(WIN, periodic=False))
        for name, started in (("cold", False), ("warm", True)):
            m, s = mean_matrix(frames, started)
            self.register_buffer(name, torch.tensor(m))
            self.register_buffer(name + "_seed", torch.tensor(s))
        self.register_buffer("endless", torch.tensor(endless_matrix(frames)))

    def forward(self, x, warp=None, warm=None, endless=False, bend=None):
        before = x[:, HOP - WIN :] if endless else torch.zeros_like(x[:, HOP - WIN :])
        x = torch.cat([before, x], 1).unfold(1, WIN, HOP) * self.window
        power = torch.fft.rfft(x, n=FFT).abs() ** 2
        e = power @ self.plain if warp is None else torch.bmm(power, self.banks[warp])
        e = torch.log(e + FLOOR)
        if bend is not None:
            e = bend(e)
        mean = (self.endless if endless else self.cold) @ e
        if warm is not None and not endless:
            seed = e[:, :25].mean(1, keepdim=True)
            mean = torch.where(warm[:, None, None], self.warm @ e + self.warm_seed[:, None] * seed, mean)
        return (e - mean) * SCALE


def unulaw(u):
    y = u.astype(np.float32) / 127.5 - 1
    return np.sign(y) * (256 ** np.abs(y) - 1) / 255


class Bend:
    """Speakers differ by more than one factor: bends the bands and the pace of frames (B, frames, BANDS), each along a
    smooth random curve, and sharpens or flattens the peaks. mask bends what is known of each frame in the same way."""

    def __init__(self, size, frames, device, g):
        n = lambda *s: torch.randn(*s, device=device, generator=g)
        some = (torch.rand(size, 1, device=device, generator=g) < 0.75).float()
        curve = lambda knots, to: F.interpolate(knots[:, None], size=to, mode="linear", align_corners=True)[:, 0]
        self.band = (torch.arange(BANDS, device=device)[None] + curve(n(size, 5) * 0.8 * some, BANDS)).clamp(0, BANDS - 1)
        pace = torch.exp(curve(n(size, 13) * 0.3 * some, frames)).cumsum(1)
        self.time = ((pace - pace[:, :1]) / (pace[:, -1:] - pace[:, :1]) * (frames - 1)).clamp(0, frames - 1)
        self.contrast = torch.exp(n(size, 1, 1) * 0.18 * some[..., None])

    @staticmethod
    def along(e, at, dim):
        i = at.floor().long().clamp(max=e.shape[dim] - 2)
        w = at - i
        if dim == 1:
            i, w = i[:, :, None].expand(-1, -1, e.shape[2]), w[:, :, None]
        else:
            i, w = i[:, None].expand(-1, e.shape[1], -1), w[:, None]
        return torch.gather(e, dim, i) * (1 - w) + torch.gather(e, dim, i + 1) * w

    def __call__(self, e):
        e = self.along(self.along(e, self.band, 2), self.time, 1)
        smooth = F.avg_pool1d(F.pad(e, (5, 5), mode="replicate"), 11, 1)
        return smooth + self.contrast * (e - smooth)

    def mask(self, m):
        return torch.gather(m, 1, self.time.round().long())


class Shelf:
    """All clips in one flat tensor, with what is known of each."""

    def __init__(self, files, device, sounds=True):
        pcm, length, label, split, engine, text = [], [], [], [], [], []
        for f in files:
            z = np.load(f)
            pcm.append(z["pcm"]); length.append(z["length"]); label += list(z["label"]); split += list(z["split"]); engine += list(z["engine"])
            text += list(z["text"]) if "text" in z else [P.spoken_text(l) for l in z["label"]]
        flat, length = np.concatenate(pcm), np.concatenate(length)
        self.label, self.split, self.engine = label, np.array(split), np.array(engine)
        sounds = sounds_of(t for t in text if t) if sounds else {}
        self.sounds = [sounds.get(t) for t in text]
        at = np.concatenate([[0], np.cumsum(length)[:-1]])
        self.level, self.edge, self.long = np.zeros(len(at), np.float32), np.zeros(len(at), np.float32), length
        table = unulaw(np.arange(256))
        for i in range(len(at)):  # active level and the energy that counts as speech
            e = table[flat[at[i] : at[i] + length[i]]] ** 2
            e = e[: len(e) // HOP * HOP].reshape(-1, HOP).mean(1) + 1e-9
            real = self.engine[i] in ("real", "digit8k")
            top = np.sort(e)[-max(1, len(e) // 20)]
            edge = top * 10 ** -3.2
            if real:
                edge = max(top * 10 ** -2.8, min(8 * np.percentile(e, 8), top * 10 ** -1.3))
            self.edge[i], self.level[i] = edge, math.sqrt(e[e > edge].mean())
        self.device = device
        self.flat = torch.tensor(flat, device=device)
        self.table = torch.tensor(table, device=device)
        self.at = torch.tensor(at, device=device)
        self.cls = np.array([P.CLASSES.index(l) if l in P.CLASSES else P.CLASSES.index(P.OTHER) for l in label])
        self.digits = [[P.DIGITS.index(d) for d in l[1:].split()] if l[0] == "#" else [P.DIGITS.index(l)] if l in P.NUMBERS else None for l in label]

    def pool(self, split, want, engines=None):
        ok = [i for i in range(len(self.label)) if self.split[i] == split and want(self.label[i]) and (engines is None or self.engine[i] in engines)]
        return np.array(ok, int)

    def take(self, ids, start, crop, long, speed, n):
        """Rows of n samples: clip ids, resampled by speed, from crop for long source samples, at start."""
        t = torch.arange(n, device=self.device)[None] - start[:, None]
        p = t * speed[:, None]
        ok = (t >= 0) & (p < long[:, None] - 1)
        p = torch.where(ok, p + crop[:, None], torch.zeros_like(p))
        i = p.long()
        w = p - i
        j = self.at[ids][:, None] + i
        a, b = self.table[self.flat[j].long()], self.table[self.flat[(j + 1).clamp(max=len(self.flat) - 1)].long()]
        return torch.where(ok, a + (b - a) * w, torch.zeros_like(a))


def machine_noise(rows, seconds, device, g):
    """Noise of the trade by formula: impact wrench, ratchet, compressor, grinder, music, coloured noise."""
    n = int(seconds * RATE)
    t = torch.arange(n, device=device) / RATE
    u = lambda *s: torch.rand(*s, device=device, generator=g)
    out = []
    for r in range(rows):
        white = torch.randn(n, device=device, generator=g)
        kind = r % 7
        f = torch.fft.rfftfreq(n, 1 / RATE, device=device) if hasattr(torch.fft, "rfftfreq") else None
        shape = lambda x, gain: torch.fft.irfft(torch.fft.rfft(x) * gain, n)
        if kind in (0, 1):  # blows (impact wrench) or clicks (ratchet)
            rate = 14 + 18 * u(1).item() if kind == 0 else 6 + 16 * u(1).item()
            gate = (torch.sin(2 * math.pi * t * (0.2 + 0.8 * u(1).item()) + 6 * u(1).item()) > -0.3 + 0.6 * u(1).item()).float()
            k = ((t * rate + 0.06 * torch.sin(3 * t)) % 1.0) / rate
            env = torch.exp(-k / (0.004 + 0.02 * u(1).item() if kind == 0 else 0.001 + 0.004 * u(1).item()))
            ring = sum(torch.sin(2 * math.pi * (300 + 5000 * u(1).item()) * k) * u(1).item() for _ in range(4))
            x = gate * env * (white * 0.6 + ring) + 0.02 * white
        elif kind == 2:  # compressor: hum, strokes, hiss
            base = 24 + 35 * u(1).item()
            x = sum(torch.sin(2 * math.pi * base * h * t + 6 * u(1).item()) * u(1).item() / h ** 0.7 for h in range(1, 24))
            x = x * (1 + 0.5 * torch.sin(2 * math.pi * base / 2 * t)) + white * (0.1 + 0.9 * u(1).item()) * (1 + 0.7 * torch.sin(2 * math.pi * base / 2 * t))
        elif kind == 3:  # grinder: a whine that bends, hissing
            whine = 180 + 700 * u(1).item()
            ph = 2 * math.pi * torch.cumsum(whine * (1 + 0.1 * torch.sin(2 * math.pi * (0.2 + u(1).item()) * t)), 0) / RATE
            x = sum(torch.sin(ph * h) * u(1).item() for h in range(1, 9)) + shape(white, (f / 4000).clamp(0, 1)) * (1 + 3 * u(1).item())
        elif kind == 4:  # something like music: chords of harmonics, a beat
            x = torch.zeros_like(t)
            step = 0.15 + 0.35 * u(1).item()
            note = (t / step).long()
            for _ in range(3):
                pitch = 110 * 2 ** (torch.randint(0, 30, (int(note.max()) + 1,), device=device, generator=g).float() / 12)
                ph = 2 * math.pi * torch.cumsum(pitch[note], 0) / RATE
                x = x + sum(torch.sin(ph * h) / h ** (0.6 + u(1).item()) for h in range(1, 7)) * torch.exp(-(t % step) * (1 + 6 * u(1).item()))
            x = x + white * 0.8 * torch.exp(-(t % (2 * step)) * 25)
        else:  # coloured
            x = shape(white, (f + 20) ** (-(0.2 + 1.1 * u(1).item())) * (1 + torch.exp(-((f - 300 - 3000 * u(1).item()) / 300) ** 2) * 4 * u(1).item()))
            x = x * (1 + (0.8 * u(1).item()) * torch.sin(2 * math.pi * (0.1 + 3 * u(1).item()) * t))
        out.append(x / x.pow(2).mean().sqrt() * 0.05)
    return torch.stack(out)

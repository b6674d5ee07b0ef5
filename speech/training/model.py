"""The network: causal convolutions over frames, pooled over an utterance.

Every convolution looks back only; what "look ahead" there is comes from judging
frame t DELAY frames later. net.go runs the same form, one step a 20 ms.
"""
import torch
from torch import nn
import torch.nn.functional as F
import phrases as P
from phones import SOUNDS

WIDTH = 256
STEM = [(32, 5), (64, 3), (64, 3)]  # channels, bands under the kernel
DILATIONS = [1, 1, 2, 2, 3, 3, 4, 4, 4, 1]
HIDDEN = 160


def past(x, n, dim):
    """x with n steps of time before it: zeros as at the start of a stream, or
    its own end, so that the network cannot tell how long it has listened."""
    before = x.narrow(dim, x.shape[dim] - n, n)
    return torch.cat([before if Net.endless else torch.zeros_like(before), x], dim)


class Stem(nn.Module):
    def __init__(self):
        super().__init__()
        a, b, c = (s[0] for s in STEM)
        self.a = nn.Conv2d(1, a, (3, 5), stride=(1, 2), padding=(0, 2), bias=False)
        self.b1 = nn.Conv2d(a, a, 3, stride=2, padding=(0, 1), groups=a, bias=False)
        self.b2 = nn.Conv2d(a, b, 1, bias=False)
        self.c1 = nn.Conv2d(b, b, 3, stride=(1, 2), padding=(0, 1), groups=b, bias=False)
        self.c2 = nn.Conv2d(b, c, 1, bias=False)
        self.d = nn.Conv1d(c * 5, WIDTH, 1, bias=False)
        self.na, self.nb1, self.nb2, self.nc1, self.nc2 = (nn.BatchNorm2d(n) for n in (a, a, b, b, c))
        self.nd = nn.BatchNorm1d(WIDTH)

    def forward(self, x):  # (B, T, 40)
        x = x[:, None]
        x = F.relu(self.na(self.a(past(x, 2, 2))))
        x = self.nb1(self.b1(past(x, 1, 2)))
        x = F.relu(self.nb2(self.b2(x)))
        x = self.nc1(self.c1(past(x, 2, 2)))
        x = F.relu(self.nc2(self.c2(x)))
        x = x.permute(0, 1, 3, 2).flatten(1, 2)  # (B, channel*5+band, T/2)
        return F.relu(self.nd(self.d(x)))


class Block(nn.Module):
    shifted = False  # the depthwise taps as five products: train.py times both ways

    def __init__(self, dilation):
        super().__init__()
        self.dilation = dilation
        self.depth = nn.Conv1d(WIDTH, WIDTH, 5, dilation=dilation, groups=WIDTH, bias=False)
        self.point = nn.Conv1d(WIDTH, WIDTH, 1, bias=False)
        self.n1, self.n2 = nn.BatchNorm1d(WIDTH), nn.BatchNorm1d(WIDTH)

    def forward(self, x):
        y = past(x, 4 * self.dilation, 2)
        if Block.shifted:
            n, w = x.shape[2], self.depth.weight.to(x.dtype)
            y = sum(y[:, :, k * self.dilation : k * self.dilation + n] * w[:, 0, k : k + 1] for k in range(5))
        else:
            y = self.depth(y)
        y = self.n1(y)
        return x + F.relu(self.n2(self.point(y)))


class Net(nn.Module):
    endless = False  # see past

    def __init__(self):
        super().__init__()
        self.stem = Stem()
        self.blocks = nn.ModuleList(Block(d) for d in DILATIONS)
        self.activity = nn.Linear(WIDTH, 1)
        self.digit = nn.Linear(WIDTH, len(P.DIGITS))
        self.sound = nn.Linear(WIDTH, len(SOUNDS))  # training only: it is not exported
        self.drop = nn.Dropout(0.2)
        self.hidden = nn.Linear(2 * WIDTH, HIDDEN)
        self.phrase = nn.Linear(HIDDEN, len(P.CLASSES))

    def encode(self, x):
        h = self.stem(x)
        for b in self.blocks:
            h = b(h)
        return h  # (B, WIDTH, T/2)

    def pool(self, h, span):
        """span: (B, T/2) mask of the utterance."""
        m = span[:, None].to(h.dtype)
        mean = (h * m).sum(2) / m.sum(2).clamp(min=1)
        top = (h - (1 - m) * 1e4).amax(2)
        return self.phrase(F.relu(self.hidden(self.drop(torch.cat([mean, top], 1)))))

    def forward(self, x, span):
        h = self.encode(x)
        f = h.transpose(1, 2)
        return self.pool(h, span), self.activity(f)[..., 0], self.digit(f), self.sound(f)


def fold(conv, norm):
    """Weights and bias of a convolution and the batch norm after it, as one."""
    k = norm.weight / torch.sqrt(norm.running_var + norm.eps)
    return conv.weight * k.view(-1, *[1] * (conv.weight.dim() - 1)), norm.bias - norm.running_mean * k


def folded(net):
    """Name to tensor, in the order net.go reads them."""
    out, s = {}, net.stem

    def put(name, w, b):
        out[name + ".w"], out[name + ".b"] = w.detach().float().cpu().squeeze(), b.detach().float().cpu()

    for name, c, n in (("a", s.a, s.na), ("b1", s.b1, s.nb1), ("b2", s.b2, s.nb2), ("c1", s.c1, s.nc1), ("c2", s.c2, s.nc2), ("d", s.d, s.nd)):
        put("stem." + name, *fold(c, n))
    for i, b in enumerate(net.blocks):
        put("block%d.depth" % i, *fold(b.depth, b.n1))
        put("block%d.point" % i, *fold(b.point, b.n2))
    for name in ("activity", "digit", "hidden", "phrase"):
        m = getattr(net, name)
        put(name, m.weight.view(m.weight.shape[0], -1) if name != "activity" else m.weight, m.bias)
    return out


def run_folded(w, x, span):
    """The folded network in plain steps: what net.go must reproduce. x (T, 40), span (T/2) mask."""
    x = x[None, None]
    x = F.relu(F.conv2d(F.pad(x, (2, 2, 2, 0)), w["stem.a.w"].view(-1, 1, 3, 5), w["stem.a.b"], stride=(1, 2)))
    g = x.shape[1]
    x = F.conv2d(F.pad(x, (1, 1, 1, 0)), w["stem.b1.w"].view(g, 1, 3, 3), w["stem.b1.b"], stride=2, groups=g)
    x = F.relu(F.conv2d(x, w["stem.b2.w"][..., None, None], w["stem.b2.b"]))
    g = x.shape[1]
    x = F.conv2d(F.pad(x, (1, 1, 2, 0)), w["stem.c1.w"].view(g, 1, 3, 3), w["stem.c1.b"], stride=(1, 2), groups=g)
    x = F.relu(F.conv2d(x, w["stem.c2.w"][..., None, None], w["stem.c2.b"]))
    h = F.relu(F.conv1d(x.permute(0, 1, 3, 2).flatten(1, 2), w["stem.d.w"][..., None], w["stem.d.b"]))
    for i, d in enumerate(DILATIONS):
        y = F.conv1d(F.pad(h, (4 * d, 0)), w["block%d.depth.w" % i][:, None], w["block%d.depth.b" % i], dilation=d, groups=h.shape[1])
        h = h + F.relu(F.conv1d(y, w["block%d.point.w" % i][..., None], w["block%d.point.b" % i]))
    f = h[0].T
    m = span.bool()
    pooled = torch.cat([f[m].mean(0), f[m].amax(0)])
    logits = w["phrase.w"] @ F.relu(w["hidden.w"] @ pooled + w["hidden.b"]) + w["phrase.b"]
    return logits, f @ w["activity.w"].view(-1) + w["activity.b"], f @ w["digit.w"].T + w["digit.b"]

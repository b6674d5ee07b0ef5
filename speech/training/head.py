"""Refits the heads on far more other words, and on more that is said shortly before, than the whole network was trained
on; no graphics card is needed.

  python3 head.py OUT_DIR ears.bin|mean.pt CLIPS.npz... [--minutes 15] [--pooled MORE.pt...] [--activity]

The trunk stays. Examples are made as in training, with more of what is no phrase. The activity head learns while they are
made; they are pooled once, and then the last two layers go on from where they are, held near it.
"""
import argparse, copy, json, math, os, time
import numpy as np
import torch
import torch.nn.functional as F
import phrases as P
from mix import *
from model import *
from examples import Examples
from train import write_weights, write_vectors

KINDS = [(0.42, 0.0, 0.60), (0.46, 0.60, 0.66), (0.86, 0.66, 0.83), (0.90, 0.83, 0.90), (0.97, 0.90, 0.96), (1.0, 0.96, 1.0)]


def kinds(u):
    """Two fifths phrases, two fifths other words: see Examples.draw for the ranges."""
    before = 0.0
    for upto, a, b in KINDS:
        if u <= upto:
            return a + (u - before) / (upto - before) * (b - a)
        before = upto


def unfolded(path):
    """A network with the weights of ears.bin: its norms do nothing but add."""
    net, w = Net(), {}
    raw = open(path, "rb").read()
    n = int.from_bytes(raw[8:12], "little")
    head, body = json.loads(raw[12 : 12 + n]), np.frombuffer(raw[12 + n :], "<f2").astype(np.float32)
    assert head["classes"] == P.CLASSES, "the file's classes are not those of phrases.py"
    for t in head["tensors"]:
        w[t["name"]] = torch.tensor(body[t["at"] : t["at"] + int(np.prod(t["shape"]))])

    def put(name, conv, norm):
        conv.weight.data = w[name + ".w"].view_as(conv.weight)
        norm.weight.data.fill_(math.sqrt(1 + norm.eps))
        norm.bias.data = w[name + ".b"]

    s = net.stem
    for name, c, n in (("a", s.a, s.na), ("b1", s.b1, s.nb1), ("b2", s.b2, s.nb2), ("c1", s.c1, s.nc1), ("c2", s.c2, s.nc2), ("d", s.d, s.nd)):
        put("stem." + name, c, n)
    for i, b in enumerate(net.blocks):
        put("block%d.depth" % i, b.depth, b.n1)
        put("block%d.point" % i, b.point, b.n2)
    for name in ("activity", "digit", "hidden", "phrase"):
        m = getattr(net, name)
        m.weight.data, m.bias.data = w[name + ".w"].view_as(m.weight), w[name + ".b"]
    return net


def pooled(net, ex, seconds, size):
    """Pooled features and classes of examples, for so long; the activity head learns by the way."""
    rows, classes, start, k = [], [], time.time(), 0
    opt = torch.optim.Adam(net.activity.parameters(), lr=3e-3)
    while time.time() - start < seconds:
        Net.endless = ex.endless = k % 4 == 3
        k += 1
        with torch.no_grad():
            x, hot, mainhot, cls, _, talky, _ = ex.batch(size)
            h = net.encode(ex.features(x))
            m = ex.spans(mainhot)[:, None].float()
            rows.append(torch.cat([(h * m).sum(2) / m.sum(2).clamp(min=1), (h - (1 - m) * 1e4).amax(2)], 1).half())
            classes.append(cls)
        act = ex.activity(hot)
        w = torch.where(talky[:, None] & (act < 0.5), torch.full_like(act, 0.4), torch.ones_like(act))
        w[:, :15] = 0.1
        z = net.activity(h.transpose(1, 2))[..., 0]
        loss = (F.binary_cross_entropy_with_logits(z, act, reduction="none") * w).mean()
        for g in opt.param_groups:
            g["lr"] = 3e-3 * max(0.03, 1 - (time.time() - start) / seconds)
        opt.zero_grad(); loss.backward(); opt.step()
        if k % 50 == 1:
            print("%d examples in %.0f s: activity %.4f, speech found %.3f, false %.4f" % (k * size, time.time() - start, loss.item(),
                  (z[act > 0.5] > 0).float().mean().item(), (z[act < 0.5] > 0).float().mean().item()), flush=True)
    return torch.cat(rows).float(), torch.cat(classes)


def refit(net, rows, classes, epochs=14, near=3e-4):
    """Goes on with the last two layers; near holds them by where they began."""
    head = [net.hidden, net.phrase]
    began = [[p.clone() for p in m.parameters()] for m in copy.deepcopy(head)]
    opt = torch.optim.Adam([p for m in head for p in m.parameters()], lr=6e-4)
    test = torch.arange(len(rows)) % 12 == 0
    own, own_cls = rows[~test], classes[~test]
    for e in range(epochs):
        for g in opt.param_groups:
            g["lr"] = 6e-4 * 0.5 * (1 + np.cos(np.pi * e / epochs))
        for i in torch.randperm(len(own)).split(256):
            r = F.dropout(own[i], 0.15)
            loss = F.cross_entropy(net.phrase(F.relu(net.hidden(r))), own_cls[i], label_smoothing=0.01)
            loss = loss + near * sum((p - q).pow(2).sum() for m, b in zip(head, began) for p, q in zip(m.parameters(), b))
            opt.zero_grad(); loss.backward(); opt.step()
        with torch.no_grad():
            p = net.phrase(F.relu(net.hidden(rows[test])))
            other = classes[test] == P.CLASSES.index(P.OTHER)
            best = p.argmax(1)
            print("epoch %d: loss %.3f, phrases right %.3f, others taken for a phrase %.4f" % (e, F.cross_entropy(p, classes[test]).item(),
                  (best == classes[test])[~other].float().mean().item(), (best[other] < len(P.LABELS)).float().mean().item()), flush=True)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("base")
    ap.add_argument("clips", nargs="+")
    ap.add_argument("--pooled", nargs="*", default=[], help="pooled.pt of other runs from the same weights")
    ap.add_argument("--minutes", type=float, default=15)
    ap.add_argument("--seed", type=int, default=5)
    ap.add_argument("--activity", action="store_true", help="leave the phrase head as it is")
    a = ap.parse_args()
    torch.manual_seed(a.seed)
    if a.base.endswith(".bin"):
        net = unfolded(a.base)
    else:
        net = Net()
        net.load_state_dict(torch.load(a.base, map_location="cpu"))
    net.eval()
    ex = Examples(Shelf(a.clips, "cpu", sounds=False), Front(), "cpu", a.seed)
    ex.kinds, ex.several = kinds, 0.3
    os.makedirs(a.out, exist_ok=True)
    rows, classes = pooled(net, ex, 60 * a.minutes, 64)
    torch.save((rows.half(), classes), a.out + "/pooled.pt")
    for f in a.pooled:
        more = torch.load(f)
        rows, classes = torch.cat([rows, more[0].float()]), torch.cat([classes, more[1]])
    if not a.activity:
        refit(net, rows, classes)
    torch.save(net.state_dict(), a.out + "/mean.pt")
    w = folded(net)
    write_weights(a.out + "/ears.bin", w, {})
    write_vectors(a.out + "/vectors.bin", w, ex)


if __name__ == "__main__":
    main()

"""Refits the phrase head on far more other words than the whole network was trained on; no graphics card is needed.

  python3 head.py OUT_DIR mean.pt CLIPS.npz... [--minutes 15]

The trunk stays. Examples are made as in training, with more of what is no phrase, and pooled once; then the last two
layers go on from where they are, held near it.
"""
import argparse, copy, os, time
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


@torch.no_grad()
def pooled(net, ex, seconds, size):
    """Pooled features and classes of examples, for so long."""
    rows, classes, start, k = [], [], time.time(), 0
    while time.time() - start < seconds:
        Net.endless = ex.endless = k % 4 > 0
        k += 1
        x, hot, mainhot, cls, *_ = ex.batch(size)
        h = net.encode(ex.features(x))
        m = ex.spans(mainhot)[:, None].float()
        rows.append(torch.cat([(h * m).sum(2) / m.sum(2).clamp(min=1), (h - (1 - m) * 1e4).amax(2)], 1).half())
        classes.append(cls)
        if k % 50 == 0:
            print("%d examples in %.0f s" % (k * size, time.time() - start), flush=True)
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
    ap.add_argument("--minutes", type=float, default=15)
    ap.add_argument("--seed", type=int, default=5)
    a = ap.parse_args()
    torch.manual_seed(a.seed)
    net = Net()
    net.load_state_dict(torch.load(a.base, map_location="cpu"))
    net.eval()
    ex = Examples(Shelf(a.clips, "cpu", sounds=False), Front(), "cpu", a.seed)
    ex.kinds = kinds
    os.makedirs(a.out, exist_ok=True)
    rows, classes = pooled(net, ex, 60 * a.minutes, 64)
    torch.save((rows.half(), classes), a.out + "/pooled.pt")
    refit(net, rows, classes)
    torch.save(net.state_dict(), a.out + "/mean.pt")
    w = folded(net)
    write_weights(a.out + "/ears.bin", w, {})
    write_vectors(a.out + "/vectors.bin", w, ex)


if __name__ == "__main__":
    main()

"""Refits the heads on far more other words, and on more that is said shortly before, than the whole network was trained
on; no graphics card is needed.

  python3 head.py OUT_DIR ears.bin|mean.pt CLIPS.npz... [--minutes 15] [--pooled MORE.pt...] [--activity | --later]

The trunk stays. Examples are made as in training, with more of what is no phrase. The activity head learns while they are
made; they are pooled once, and then the last two layers go on from where they are, held near it.

With --later, ears.bin may know fewer phrases than phrases.py: the others get rows of their own in the last layer, and
hidden units of their own before it. All that was there stays as it is, bit by bit. The examples made are of those phrases and
of what is said near them; what is told apart from them comes with --pooled, from runs over the same trunk.
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


def later_kinds(u):
    """Two thirds phrases, the rest other words."""
    return u / 0.66 * 0.60 if u < 0.66 else 0.66 + (u - 0.66) / 0.34 * 0.17


def unfolded(path):
    """A network with the weights of ears.bin: its norms do nothing but add. And the names of its classes."""
    net, w = Net(), {}
    raw = open(path, "rb").read()
    n = int.from_bytes(raw[8:12], "little")
    head, body = json.loads(raw[12 : 12 + n]), np.frombuffer(raw[12 + n :], "<f2").astype(np.float32)
    for t in head["tensors"]:
        w[t["name"]] = torch.tensor(body[t["at"] : t["at"] + int(np.prod(t["shape"]))])
    units, known = len(w["hidden.b"]), head["classes"]
    net.hidden, net.phrase = torch.nn.Linear(2 * WIDTH, units), torch.nn.Linear(units, len(known))

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
    return net, known


def widen(net, known, units):
    """Rows for the classes that the network does not know yet, and hidden units that only they see."""
    hidden, phrase = torch.nn.Linear(2 * WIDTH, net.hidden.out_features + units), torch.nn.Linear(net.hidden.out_features + units, len(P.CLASSES))
    rows = [P.CLASSES.index(c) for c in known]
    with torch.no_grad():
        hidden.weight[: -units], hidden.bias[: -units] = net.hidden.weight, net.hidden.bias
        phrase.weight[rows, -units:] = 0
        phrase.weight[rows, : -units], phrase.bias[rows] = net.phrase.weight, net.phrase.bias
        fresh = [i for i in range(len(P.CLASSES)) if i not in rows]
        phrase.bias[fresh] = -6  # unlikely until learnt
    net.hidden, net.phrase = hidden, phrase
    return fresh


def pooled(net, ex, seconds, size, activity=True, spans=1):
    """Pooled features and classes of examples, each over some placings of its ends, for so long; the activity head learns by the way where it may."""
    rows, classes, start, k = [], [], time.time(), 0
    opt = torch.optim.Adam(net.activity.parameters(), lr=3e-3)
    while time.time() - start < seconds:
        Net.endless = ex.endless = k % 4 == 3
        k += 1
        with torch.no_grad():
            x, hot, mainhot, cls, _, talky, _ = ex.batch(size)
            h = net.encode(ex.features(x))
            for _ in range(spans):
                m = ex.spans(mainhot)[:, None].float()
                rows.append(torch.cat([(h * m).sum(2) / m.sum(2).clamp(min=1), (h - (1 - m) * 1e4).amax(2)], 1).half())
                classes.append(cls)
        if not activity:
            if k % 50 == 1:
                print("%d examples in %.0f s" % (k * size, time.time() - start), flush=True)
            continue
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


def add(net, rows, classes, fresh, units, margin, epochs=30):
    """Learns the fresh rows and the last hidden units; nothing else moves. margin is taken off the fresh biases in the end."""
    old = torch.arange(len(P.CLASSES))
    old = old[~torch.isin(old, torch.tensor(fresh))]
    began = copy.deepcopy(net)
    test = torch.arange(len(rows)) // 192 % 12 == 0  # whole batches: the placings of an example stay together
    with torch.no_grad():
        before = F.relu(F.linear(rows, net.hidden.weight[:-units], net.hidden.bias[:-units]))
        known = F.linear(before, net.phrase.weight[old, :-units], net.phrase.bias[old])
    w1, b1 = (p[-units:].clone().requires_grad_() for p in (net.hidden.weight.data, net.hidden.bias.data))
    w2, b2 = (p[fresh].clone().requires_grad_() for p in (net.phrase.weight.data, net.phrase.bias.data))
    opt = torch.optim.AdamW([w1, b1, w2, b2], lr=2e-3, weight_decay=0.02)
    own = torch.arange(len(rows))[~test]

    def logits(i, drop=0.0):
        r = F.dropout(rows[i], drop)
        h = torch.cat([F.dropout(before[i], drop), F.relu(F.linear(r, w1, b1))], 1)
        z = torch.empty(len(i), len(P.CLASSES))
        z[:, old] = known[i]
        z[:, fresh] = F.linear(h, w2, b2)
        return z

    for e in range(epochs):
        for g in opt.param_groups:
            g["lr"] = 2e-3 * 0.5 * (1 + np.cos(np.pi * e / epochs))
        for i in own[torch.randperm(len(own))].split(256):
            loss = F.cross_entropy(logits(i, 0.15), classes[i])
            opt.zero_grad(); loss.backward(); opt.step()
        if e % 5 == 4:
            with torch.no_grad():
                i = torch.arange(len(rows))[test]
                p, c = logits(i).softmax(1), classes[i]
                new = torch.isin(c, torch.tensor(fresh))
                taken = p[:, fresh].amax(1)
                print("epoch %d: new phrases right %.3f, with 0.5 and more %.3f; others taken for a new one with 0.35 %.4f, with 0.65 %.4f" % (e,
                      (p.argmax(1) == c)[new].float().mean(), ((p.argmax(1) == c) & (taken > 0.5))[new].float().mean(),
                      (taken > 0.35)[~new].float().mean(), (taken > 0.65)[~new].float().mean()), flush=True)
    with torch.no_grad():
        net.hidden.weight[-units:], net.hidden.bias[-units:], net.phrase.weight[fresh], net.phrase.bias[fresh] = w1, b1, w2, b2 - margin
        assert torch.equal(net.phrase.weight[old], began.phrase.weight[old]) and torch.equal(net.hidden.weight[:-units], began.hidden.weight[:-units])


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("base")
    ap.add_argument("clips", nargs="+")
    ap.add_argument("--pooled", nargs="*", default=[], help="pooled.pt of other runs from the same weights; all there is with --minutes 0")
    ap.add_argument("--minutes", type=float, default=15)
    ap.add_argument("--seed", type=int, default=5)
    ap.add_argument("--activity", action="store_true", help="leave the phrase head as it is")
    ap.add_argument("--later", action="store_true", help="add the phrases that the network does not know yet, and leave the rest as it is")
    ap.add_argument("--phrases", help="with --later: make examples of these of them alone, with | between them")
    ap.add_argument("--units", type=int, default=96, help="hidden units for those")
    ap.add_argument("--margin", type=float, default=1.5, help="how much less likely the new phrases are made, so that the old ones stay as they were")
    ap.add_argument("--threads", type=int, default=os.cpu_count())
    a = ap.parse_args()
    torch.manual_seed(a.seed)
    torch.set_num_threads(a.threads)
    known = P.CLASSES
    if a.base.endswith(".bin"):
        net, known = unfolded(a.base)
    else:
        net = Net()
        net.load_state_dict(torch.load(a.base, map_location="cpu"))
    net.eval()
    ex = Examples(Shelf(a.clips, "cpu", sounds=False), Front(), "cpu", a.seed)
    ex.kinds, ex.several = kinds, 0.3
    assert a.later or known == P.CLASSES, "the file's classes are not those of phrases.py: see --later"
    if a.later:
        ex.labels, ex.kinds, ex.several = a.phrases.split("|") if a.phrases else [l for l in P.LABELS if l not in known], later_kinds, 0.2
        assert not set(ex.labels) - set(P.LABELS), "no such phrase: " + str(set(ex.labels) - set(P.LABELS))
    os.makedirs(a.out, exist_ok=True)
    rows, classes = torch.zeros(0, 2 * WIDTH), torch.zeros(0, dtype=torch.long)
    if a.minutes > 0:
        rows, classes = pooled(net, ex, 60 * a.minutes, 64, not a.later, 3 if a.later else 1)
        torch.save((rows.half(), classes, P.CLASSES), a.out + "/pooled.pt")
    for f in a.pooled:
        more, cls, *names = torch.load(f)
        now = torch.tensor([P.CLASSES.index(c) for c in (names[0] if names else known)])
        rows, classes = torch.cat([rows, more.float()]), torch.cat([classes, now[cls]])
    if a.later:
        add(net, rows, classes, widen(net, known, a.units), a.units, a.margin)
    elif not a.activity:
        refit(net, rows, classes)
    torch.save(net.state_dict(), a.out + "/mean.pt")
    w = folded(net)
    write_weights(a.out + "/ears.bin", w, {})
    write_vectors(a.out + "/vectors.bin", w, ex)


if __name__ == "__main__":
    main()

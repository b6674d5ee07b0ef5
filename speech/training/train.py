"""Trains the ears' network.

  python3 train.py OUT_DIR --seconds 480 CLIPS.npz...

Writes ears.bin (the weights the program embeds), vectors.bin (what they must
answer, for the tests) and metrics.json. Time decides how far it gets: the
learning rate falls along a cosine to zero at the last second.
"""
import argparse, copy, json, math, multiprocessing, os, struct, time
import numpy as np
import torch
import torch.nn.functional as F
import phrases as P
from mix import *
from model import *
from examples import Examples


def ctc(logit, digits, weight_empty=0.15):
    keep = [b for b, d in enumerate(digits) if d is not None]
    if not keep:
        return logit.new_zeros(())
    lp = logit[keep].float().log_softmax(-1).transpose(0, 1)
    n = torch.tensor([len(digits[b]) for b in keep])
    target = torch.tensor([d for b in keep for d in digits[b]], dtype=torch.long)
    loss = F.ctc_loss(lp, target.to(logit.device), torch.full((len(keep),), lp.shape[0], dtype=torch.long), n, reduction="none", zero_infinity=True)
    w = torch.where(n > 0, torch.ones(len(n)), torch.full((len(n),), weight_empty)).to(loss.device)
    return (loss * w / n.clamp(min=1).to(loss.device)).mean()


def merged(logit):
    """Probabilities over LABELS and the rest as one."""
    p = logit.float().softmax(-1)
    n = len(P.LABELS)
    return torch.cat([p[:, :n], p[:, n:].sum(1, keepdim=True)], 1)


@torch.no_grad()
def measure(net, ex, split, kind, snr, clean, limit=1500):
    """Forced accuracy, and accepted right and wrong at 0.5, on phrases of held-out voices."""
    rng = np.random.default_rng(7)
    ids = []
    for c in P.LABELS:
        groups = ex.by[split, c, "synth"] if kind == "synth" else [ex.by[split, c, "real"]]
        for g in groups:
            ids += list(g)
    ids = np.array(ids)
    rng.shuffle(ids)
    ids = ids[:limit]
    right = accept = wrong = 0
    conf = []
    for k in range(0, len(ids), 250):
        part = ids[k : k + 250]
        n = len(part)
        z = lambda v, d=np.int64: np.full((n, SLOTS), v, d)
        table = [z(-1), z(0), z(0), z(0), z(1.0, float), z(1.0, float), ex.s.cls[part], [None] * n, z(True, bool)]
        table[0][:, 0], table[3][:, 0], table[5][:, 0] = part, ex.s.long[part], 1 / ex.s.level[part]
        table[1][:, 0] = np.minimum(16000, N - 5600 - ex.s.long[part])
        x, hot, mainhot, cls, _, _ = ex.batch(n, split, clean, snr, table)
        p = merged(net(ex.features(x, False), ex.spans(mainhot, False))[0])
        top = p[:, : len(P.LABELS)].argmax(1)
        v = p.gather(1, top[:, None])[:, 0]
        right += (top == cls).sum().item()
        accept += ((top == cls) & (v >= 0.5)).sum().item()
        wrong += ((top != cls) & (v >= 0.5)).sum().item()
        conf += list(p.gather(1, cls[:, None])[:, 0].cpu().numpy())
    n = len(ids)
    return {"clips": n, "forced": right / n, "accepted": accept / n, "wrong": wrong / n, "score": [float(q) for q in np.percentile(conf, [5, 10, 25, 50])]}


@torch.no_grad()
def confusions(net, ex, split, count=12):
    out = {}
    for c in P.LABELS:
        got = {}
        ids = np.concatenate([np.zeros(0, int), *ex.by[split, c, "synth"]])[:40]
        if not len(ids):
            continue
        n = len(ids)
        z = lambda v, d=np.int64: np.full((n, SLOTS), v, d)
        table = [z(-1), z(0), z(0), z(0), z(1.0, float), z(1.0, float), ex.s.cls[ids], [None] * n, z(True, bool)]
        table[0][:, 0], table[3][:, 0], table[5][:, 0] = ids, ex.s.long[ids], 1 / ex.s.level[ids]
        table[1][:, 0] = np.minimum(16000, N - 5600 - ex.s.long[ids])
        x, hot, mainhot, cls, _, _ = ex.batch(n, split, False, 8, table)
        top = merged(net(ex.features(x, False), ex.spans(mainhot, False))[0]).argmax(1).cpu().numpy()
        for k in top:
            name = P.CLASSES[k]
            if name != c:
                got[name] = got.get(name, 0) + 1
        if got:
            out[c] = [n, got]
    return out


def write_weights(path, w, extra):
    head = {"labels": P.LABELS, "classes": P.CLASSES, "digits": P.DIGITS, "width": WIDTH, "dilations": DILATIONS, "delay": DELAY, "tensors": [], **extra}
    body, at = b"", 0
    for name, v in w.items():
        a = v.numpy().astype("<f2")
        head["tensors"].append({"name": name, "shape": list(a.shape), "at": at})
        body += a.tobytes()
        at += a.size
    j = json.dumps(head).encode()
    with open(path, "wb") as f:
        f.write(b"EARS1\0\0\0" + struct.pack("<I", len(j)) + j + body)


def write_vectors(path, w, ex):
    """Two seconds of speech in noise: samples, features, and every answer of the rounded weights."""
    w = {k: v.half().float() for k, v in w.items()}
    clip = ex.by["train", "previous step", "synth"][0][:1]  # a synthetic voice: no recording leaves with the vectors
    one = torch.ones(1, device=ex.device)
    x = ex.s.take(torch.tensor(clip, device=ex.device), 11000 * one, 0 * one, float(ex.s.long[clip[0]]) * one, one, 200 * HOP)[0].cpu()
    x = x * 0.1 / x.abs().max() * (1 + 1.0) + torch.randn(200 * HOP, generator=torch.Generator().manual_seed(1)) * 0.004
    pcm = (x * 32767).round().clamp(-32768, 32767)
    front = Front(200)
    f = front((pcm / 32768)[None])[0]
    span = torch.zeros(100)
    span[30:85] = 1
    logits, act, dig = run_folded(w, f, span)
    with open(path, "wb") as out:
        out.write(struct.pack("<4i", len(pcm), 200, 30, 85))
        out.write(pcm.numpy().astype("<i2").tobytes())
        for v in (f, act, dig, logits):
            out.write(struct.pack("<i", v.numel()) + v.numpy().astype("<f4").tobytes())


def quickest(net, ex, size):
    """Times both forms of the depthwise taps, and the making of a batch, and keeps the quicker form."""
    f = torch.randn(size, FRAMES, BANDS, device=ex.device)
    span = torch.ones(size, FRAMES // 2, device=ex.device)
    took = {}
    for shifted in (False, True):
        Block.shifted = shifted
        for k in range(12):
            if k == 4:
                torch.cuda.synchronize()
                t = time.time()
            with torch.autocast("cuda", dtype=torch.bfloat16):
                (net(f, span)[0].sum() + net(f, span)[1].sum()).backward()
        torch.cuda.synchronize()
        took[shifted] = (time.time() - t) / 16
        net.zero_grad()
    Block.shifted = took[True] < took[False]
    for k in range(6):
        if k == 2:
            torch.cuda.synchronize()
            t = time.time()
        with torch.no_grad():
            ex.features(ex.batch(size)[0])
    torch.cuda.synchronize()
    print("a pass: grouped %.1f ms, shifted %.1f ms; a batch drawn and made %.1f ms" % (1e3 * took[False], 1e3 * took[True], 250 * (time.time() - t)), flush=True)


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("clips", nargs="+")
    ap.add_argument("--seconds", type=float, default=480)
    ap.add_argument("--batch", type=int, default=512)
    ap.add_argument("--lr", type=float, default=2.5e-3)
    ap.add_argument("--from", dest="base", help="mean.pt of an earlier run to go on from")
    ap.add_argument("--seed", type=int, default=1)
    a = ap.parse_args()
    dev = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(a.seed)
    began = time.time()
    shelf = Shelf(a.clips, dev, None)
    front = Front().to(dev)
    ex = Examples(shelf, front, dev, a.seed)
    print("clips", len(shelf.long), "ready after %.0f s" % (time.time() - began), flush=True)
    net = Net().to(dev)
    if a.base:
        net.load_state_dict(torch.load(a.base, map_location=dev))
    mean = copy.deepcopy(net).eval()
    decay = [p for p in net.parameters() if p.dim() > 1]
    rest = [p for p in net.parameters() if p.dim() <= 1]
    opt = torch.optim.AdamW([{"params": decay, "weight_decay": 0.03}, {"params": rest, "weight_decay": 0}], lr=a.lr)
    if dev == "cuda":
        torch.backends.cudnn.benchmark = True
        torch.backends.cudnn.allow_tf32 = True

    fork = multiprocessing.get_context("fork")
    drawn = fork.Queue(24)

    def drawer(seed):  # touches no card
        ex.rng = np.random.default_rng(seed)
        while True:
            drawn.put(ex.draw(a.batch))

    for k in range(min(8, os.cpu_count())):
        fork.Process(target=drawer, args=(100 * a.seed + k,), daemon=True).start()
    start, step, log = time.time(), 0, []
    while True:
        done = (time.time() - start) / a.seconds
        if done >= 1:
            break
        lr = a.lr * min(1, (step + 1) / 300) * 0.5 * (1 + math.cos(math.pi * done))
        for g in opt.param_groups:
            g["lr"] = lr
        net.train()
        Net.endless, ex.endless = step % 6 > 0, step % 6 > 1
        with torch.no_grad():
            x, hot, mainhot, cls, digits, talky = ex.batch(a.batch, table=drawn.get())
            f = ex.features(x)
            span, act = ex.spans(mainhot), ex.activity(hot)
        with torch.autocast(dev, dtype=torch.bfloat16):
            phrase, active, digit = net(f, span)
        w = torch.where(talky[:, None] & (act < 0.5), torch.full_like(act, 0.4), torch.ones_like(act))
        w[:, :15] = 0.1
        l1 = F.cross_entropy(phrase.float(), cls, label_smoothing=0.03)
        l2 = (F.binary_cross_entropy_with_logits(active.float(), act, reduction="none") * w).mean()
        l3 = ctc(digit, digits)
        loss = l1 + 1.0 * l2 + 0.15 * l3
        opt.zero_grad(set_to_none=True)
        loss.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        opt.step()
        with torch.no_grad():
            k = min(0.999, (1 + step) / (20 + step))
            for m, p in zip(mean.state_dict().values(), net.state_dict().values()):
                if m.dtype.is_floating_point:
                    m.lerp_(p, 1 - k)
        step += 1
        if step % 100 == 0:
            log.append([step, time.time() - start, l1.item(), l2.item(), l3.item()])
            if step % 500 == 0 or step == 100:
                print("step %d at %.0f s: phrase %.3f activity %.3f digits %.3f" % tuple(log[-1]), flush=True)
    mean.eval()
    os.makedirs(a.out, exist_ok=True)
    w = folded(mean)
    write_weights(a.out + "/ears.bin", w, {"steps": step})
    write_vectors(a.out + "/vectors.bin", w, ex)
    torch.save(mean.state_dict(), a.out + "/mean.pt")
    Net.endless = ex.endless = True
    out = {"steps": step, "log": log[::5]}
    for kind in ("synth", "real"):
        for name, snr, clean in (("clean", 99, True), ("room", 99, False), ("20", 20, False), ("10", 10, False), ("5", 5, False), ("0", 0, False)):
            out[kind + " " + name] = r = measure(mean, ex, "held", kind, snr, clean)
            print(kind, name, json.dumps({k: v if isinstance(v, (int, list)) else round(v, 3) for k, v in r.items()}), flush=True)
    out["confusions"] = confusions(mean, ex, "held")
    print(json.dumps(out["confusions"]))
    json.dump(out, open(a.out + "/metrics.json", "w"), indent=1)


if __name__ == "__main__":
    main()

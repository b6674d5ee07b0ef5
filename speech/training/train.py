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


REST = 0.12  # weight of the chance of no phrase: Rest in ears.go


def score(logit, among):
    """Chances of the classes among, weighed as ears.go does."""
    p = logit.float().softmax(-1)
    other = P.CLASSES.index(P.OTHER)
    p = p / (1 - (1 - REST) * p[:, other : other + 1])
    return p[:, among]


@torch.no_grad()
def judged(net, ex, ids, among, snr, clean):
    """Row by row: the best class among some, its score, and the class that was said."""
    out = []
    for k in range(0, len(ids), 250):
        part = ids[k : k + 250]
        n = len(part)
        z = lambda v, d=np.int64: np.full((n, SLOTS), v, d)
        table = [z(-1), z(0), z(0), z(0), z(1.0, float), z(1.0, float), ex.s.cls[part], [None] * n, z(True, bool), [None] * n]
        table[0][:, 0], table[3][:, 0], table[5][:, 0] = part, ex.s.long[part], 1 / ex.s.level[part]
        table[1][:, 0] = np.minimum(16000, N - 5600 - ex.s.long[part])
        x, hot, mainhot, cls, *_ = ex.batch(n, "held", clean, snr, table)
        p, best = score(net(ex.features(x, False), ex.spans(mainhot, False))[0], among).max(1)
        out += list(zip(np.array(among)[best.cpu().numpy()], p.cpu().numpy(), ex.s.cls[part]))
    return out


def measure(net, ex, ids, among, snr, clean):
    """Forced accuracy, and accepted right and wrong from a few scores up."""
    rows = judged(net, ex, ids, among, snr, clean)
    n = max(1, len(rows))
    share = lambda ok: round(sum(ok(*r) for r in rows) / n, 3)
    out = {"clips": len(rows), "forced": share(lambda b, p, c: b == c)}
    for t in (0.3, 0.5, 0.7, 0.85):
        out["%g" % t] = [share(lambda b, p, c: b == c and p >= t), share(lambda b, p, c: b != c and p >= t)]
    return out


def sets(ex):
    """What measures: name, clips, the classes they are told apart from."""
    rng = np.random.default_rng(7)
    phrases = [P.LABELS.index(l) for l in P.COMMANDS + P.REASONS + P.LATER]
    numbers = [P.LABELS.index(n) for n in P.NUMBERS]
    spare = [P.CLASSES.index("~" + w) for w in P.SPARE]

    def pool(classes, splits, engines):
        names = {P.CLASSES[c] for c in classes}
        ids = np.concatenate([ex.s.pool(s, lambda l: l in names, engines) for s in splits])
        rng.shuffle(ids)
        return ids[:1500]

    real, seen = ("real", "digit8k"), ("train", "held") if ex.standin else ("held",)
    yield "phrases, synthetic", pool(phrases, ["held"], ("espeak",)), phrases
    yield "phrases, awb", pool(phrases, ["held"], ("flite",)), phrases
    yield "numbers and words, synthetic", pool(numbers + spare, ["held"], ("espeak", "flite")), numbers + spare
    yield "words, people", pool(spare + numbers, seen, ("real",)), numbers + spare
    yield "digits, people at 8 kHz", pool(numbers, seen, ("digit8k",)), numbers + spare


LEVELS = (("clean", 99, True), ("room", 99, False), ("20", 20, False), ("10", 10, False), ("5", 5, False), ("0", 0, False))


def confusions(net, ex, snr=5):
    """Phrases of held-out voices: said, then heard how often."""
    _, ids, among = next(sets(ex))
    out = {}
    for best, _, said in judged(net, ex, ids, among, snr, False):
        row = out.setdefault(P.CLASSES[said], {})
        row[P.CLASSES[best]] = row.get(P.CLASSES[best], 0) + 1
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
    """Times both forms of the depthwise taps, compiled and not, and the making of a batch."""
    f = torch.randn(size, FRAMES, BANDS, device=ex.device)
    span = torch.ones(size, FRAMES // 2, device=ex.device)

    def timed(what, call, n=12):
        try:
            for k in range(n):
                if k == n // 3:
                    torch.cuda.synchronize()
                    t = time.time()
                call()
            torch.cuda.synchronize()
            print("%s: %.1f ms" % (what, 1e3 * (time.time() - t) / (n - n // 3)), flush=True)
        except Exception as e:
            print(what, "failed:", str(e)[:300], flush=True)

    def step(model):
        with torch.autocast("cuda", dtype=torch.bfloat16):
            sum(o.float().sum() for o in model(f, span)).backward()
        net.zero_grad()

    for shifted in (False, True):
        Block.shifted = shifted
        timed("a pass, shifted %s" % shifted, lambda: step(net))
        eager, net.encode = net.encode, torch.compile(net.encode)
        timed("a pass, shifted %s, compiled" % shifted, lambda: step(net))
        net.encode = eager
    table = ex.draw(size)
    with torch.no_grad():
        timed("a batch drawn", lambda: ex.draw(size), 6)
        timed("a batch made", lambda: ex.batch(size, table=table))
        x = ex.batch(size, table=table)[0]
        timed("features", lambda: ex.features(x, bend=Bend(size, FRAMES, ex.device, ex.g)))


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("clips", nargs="+")
    ap.add_argument("--seconds", type=float, default=480)
    ap.add_argument("--batch", type=int, default=512)
    ap.add_argument("--lr", type=float, default=2.5e-3)
    ap.add_argument("--from", dest="base", help="mean.pt of an earlier run to go on from")
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--standin", action="store_true", help="learn from synthesisers alone, to see how that carries over to people")
    ap.add_argument("--plain", action="store_true", help="without bending bands and pace")
    ap.add_argument("--sounds", type=float, default=0.3, help="weight of the task of finding the sounds")
    ap.add_argument("--human", action="store_true", help="voices built from recordings count for more")
    ap.add_argument("--compile", action="store_true")
    ap.add_argument("--shifted", action="store_true", help="the depthwise taps as products")
    ap.add_argument("--time", action="store_true", help="time the parts and stop")
    ap.add_argument("--drawers", type=int, default=8)
    a = ap.parse_args()
    dev = "cuda" if torch.cuda.is_available() else "cpu"
    torch.manual_seed(a.seed)
    began = time.time()
    shelf = Shelf(a.clips, dev, a.sounds > 0)
    front = Front().to(dev)
    ex = Examples(shelf, front, dev, a.seed, a.standin, a.human)
    print("clips", len(shelf.long), "ready after %.0f s" % (time.time() - began), flush=True)
    net = Net().to(dev)
    Block.shifted = a.shifted
    if a.base:
        net.load_state_dict(torch.load(a.base, map_location=dev))
    if a.time:
        return quickest(net, ex, a.batch)
    mean = copy.deepcopy(net).eval()
    decay = [p for p in net.parameters() if p.dim() > 1]
    rest = [p for p in net.parameters() if p.dim() <= 1]
    opt = torch.optim.AdamW([{"params": decay, "weight_decay": 0.03}, {"params": rest, "weight_decay": 0}], lr=a.lr)
    if dev == "cuda":
        torch.backends.cudnn.benchmark = True
        torch.backends.cudnn.allow_tf32 = True

    if a.compile:  # not the pooling: compiled, its maximum gets no finite gradient in 16 bits
        net.encode = torch.compile(net.encode)
    fork = multiprocessing.get_context("fork")
    drawn = fork.Queue(24)

    def drawer(seed):  # touches no card
        ex.rng = np.random.default_rng(seed)
        while True:
            drawn.put(ex.draw(a.batch))

    for k in range(a.drawers):
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
        Net.endless = ex.endless = step % 3 == 2
        with torch.no_grad():
            x, hot, mainhot, cls, digits, talky, sounds = ex.batch(a.batch, table=drawn.get())
            bend = None
            if not a.plain:
                bend = Bend(a.batch, FRAMES, dev, ex.g)
                hot, mainhot = bend.mask(hot), bend.mask(mainhot)
            f = ex.features(x, bend=bend)
            span, act = ex.spans(mainhot), ex.activity(hot)
        with torch.autocast(dev, dtype=torch.bfloat16):
            phrase, active, digit, sound = net(f, span)
        w = torch.where(talky[:, None] & (act < 0.5), torch.full_like(act, 0.4), torch.ones_like(act))
        w[:, :15] = 0.1
        l1 = F.cross_entropy(phrase.float(), cls, label_smoothing=0.03)
        l2 = (F.binary_cross_entropy_with_logits(active.float(), act, reduction="none") * w).mean()
        l3 = ctc(digit, digits)
        l4 = ctc(sound, sounds) if a.sounds else l3.new_zeros(())
        loss = l1 + 1.0 * l2 + 0.15 * l3 + a.sounds * l4
        opt.zero_grad(set_to_none=True)
        loss.backward()
        size = torch.nn.utils.clip_grad_norm_(net.parameters(), 2.0)
        if step < 5 and not torch.isfinite(size):
            raise SystemExit("gradients are not finite at step %d" % step)
        opt.step()
        with torch.no_grad():
            k = min(0.999, (1 + step) / (20 + step))
            for m, p in zip(mean.state_dict().values(), net.state_dict().values()):
                if m.dtype.is_floating_point:
                    m.lerp_(p, 1 - k)
        step += 1
        if step % 100 == 0:
            log.append([step, time.time() - start, l1.item(), l2.item(), l3.item(), l4.item()])
            if step % 500 == 0 or step == 100:
                print("step %d at %.0f s: phrase %.3f activity %.3f digits %.3f sounds %.3f" % tuple(log[-1]), flush=True)
    mean.eval()
    os.makedirs(a.out, exist_ok=True)
    w = folded(mean)
    write_weights(a.out + "/ears.bin", w, {"steps": step})
    write_vectors(a.out + "/vectors.bin", w, ex)
    torch.save(mean.state_dict(), a.out + "/mean.pt")
    Net.endless = ex.endless = True
    out = {"steps": step, "log": log[::5]}
    for name, ids, among in sets(ex):
        for level, snr, clean in LEVELS:
            out[name + ", " + level] = m = measure(mean, ex, ids, among, snr, clean)
            print(name, level, json.dumps(m), flush=True)
    out["confusions"] = confusions(mean, ex)
    json.dump(out, open(a.out + "/metrics.json", "w"), indent=1)


if __name__ == "__main__":
    main()

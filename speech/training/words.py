"""Speaks many other words, far more than phrases.py lists, and the phrases again, for head.py.

  python3 words.py OUT.npz TEXT_FILE... [--words 5000] [--each 70]

The text files lend their words; homophones of the phrases are left out.
"""
import argparse, collections, os, random, re
from concurrent.futures import ThreadPoolExecutor
import numpy as np
import phrases as P
from phones import sounds_of
from synth import ACCENTS, VARIANTS, espeak, flite, trim, ulaw

SPEAK = {"espeak": espeak, "flite": flite}


def others(files, count, rng):
    """Words and short runs of words that sound like no phrase."""
    text = " ".join(open(f, errors="replace").read() for f in files)
    seen = collections.Counter(re.findall(r"\b[a-z]{2,12}\b", text))
    single = [w for w, n in seen.items() if n >= 2]
    rng.shuffle(single)
    runs = re.findall(r"\b[a-z]{2,9}(?: [a-z']{1,9}){1,3}\b", text)
    rng.shuffle(runs)
    texts = single[: int(count * 0.75)] + runs[: count - int(count * 0.75)]
    sounds = sounds_of(texts + P.LABELS + P.SPARE)
    taken = {tuple(sounds[l]) for l in P.LABELS + P.SPARE}
    return [t for t in texts if tuple(sounds[t]) not in taken]


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("texts", nargs="+")
    ap.add_argument("--words", type=int, default=5000)
    ap.add_argument("--each", type=int, default=70, help="clips of each phrase")
    a = ap.parse_args()
    rng = random.Random(11)
    say = [(P.OTHER, t) for t in others(a.texts, a.words, rng)]
    for l in P.LABELS + P.SPARE:
        for k in range(a.each if l in P.LABELS else a.each // 3):
            say.append((l if l in P.LABELS else "~" + l, rng.choice(P.SPOKEN.get(l, [l]))))
    jobs = []
    for label, text in say:
        if rng.random() < 0.35:
            v = rng.choice(["kal16", "rms", "slt"])
            jobs.append((label, text, "flite", (v, rng.uniform(0.7, 1.5), rng.randint(80, 170) if v != "slt" else rng.randint(130, 250))))
            continue
        while True:
            v = rng.choice(ACCENTS), rng.choice(VARIANTS)
            if P.voice_split(*v) == "train":
                break
        jobs.append((label, text, "espeak", (*v, rng.randint(115, 235), rng.randint(15, 85), 0)))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        sounds = list(pool.map(lambda j: trim(SPEAK[j[2]](j[1], *j[3])), jobs))
    keep = [(j, x) for j, x in zip(jobs, sounds) if x is not None and len(x) < 48000]
    print("spoken", len(keep), "clips of", len(jobs))
    np.savez(a.out, pcm=np.concatenate([ulaw(x) for _, x in keep]), length=np.array([len(x) for _, x in keep]), label=np.array([j[0] for j, _ in keep]),
             text=np.array([j[1] for j, _ in keep]), split=np.array(["train"] * len(keep)), engine=np.array([j[2] for j, _ in keep]))


if __name__ == "__main__":
    main()

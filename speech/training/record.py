"""Packs the recorded sound (see README.md) the way synth.py packs the synthetic.

  python3 record.py SPEECH_DATA OUT.npz [POCKETSPHINX_TEST_DATA]

Splits: "held" is speaker6 of the digits, words whose number leaves 4 when divided by
5, every sixth clip of talk and noise; "final" is speaker3, words that leave 1, every
sixth clip from the third; "judge" is pocketsphinx-testdata.
"""
import glob, os, re, subprocess, sys
import numpy as np
import phrases as P
from synth import RATE, ulaw, run


def sox(path, *form):
    return np.frombuffer(run(["sox", *form, path, "-t", "raw", "-r", "16000", "-e", "signed", "-b", "16", "-c", "1", "-", "dither", "-S"]), "<i2")


def clips(root):
    for f in sorted(glob.glob(root + "/words/*/*.flac")):
        w, n = f.split("/")[-2], int(re.sub(r"\D", "", os.path.basename(f)))
        yield (w if w in P.LABELS else "~" + w), f, {4: "held", 1: "final"}.get(n % 5, "train")
    for f in sorted(glob.glob(root + "/digits/*.flac")):
        d, who, _ = os.path.basename(f).split("_")
        yield P.NUMBERS[int(d) + (int(d) > 0)], f, {"speaker6": "held", "speaker3": "final"}.get(who, "train")
    for kind in ("talk", "noise"):
        for i, f in enumerate(sorted(glob.glob(root + "/%s/*.flac" % kind))):
            yield "=" + kind, f, {5: "held", 2: "final"}.get(i % 6, "train")


def main():
    root, out = sys.argv[1], sys.argv[2]
    rows = [(c, sox(f), s, "digit8k" if "/digits/" in f else "real") for c, f, s in clips(root)]
    if len(sys.argv) > 3:
        for f in sorted(glob.glob(sys.argv[3] + "/**/*.wav", recursive=True)):
            rows.append(("=judge", sox(f), "judge", "real"))
        for f in sorted(glob.glob(sys.argv[3] + "/**/*.raw", recursive=True)):
            rows.append(("=judge", sox(f, "-t", "raw", "-r", "16000", "-e", "signed", "-b", "16", "-c", "1"), "judge", "real"))
    for k in sorted(set((r[0][0] if r[0][0] in "=~" else "+", r[2]) for r in rows)):
        print(k, sum(len(r[1]) for r in rows if (r[0][0] if r[0][0] in "=~" else "+", r[2]) == k) / RATE, "s")
    np.savez(out, pcm=np.concatenate([ulaw(r[1]) for r in rows]), length=np.array([len(r[1]) for r in rows]),
             label=np.array([r[0] for r in rows]), split=np.array([r[2] for r in rows]), engine=np.array([r[3] for r in rows]))


if __name__ == "__main__":
    main()

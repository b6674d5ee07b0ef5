"""Packs the recorded sound (see README.md) the way synth.py packs the synthetic.

  python3 record.py SPEECH_DATA OUT.npz [POCKETSPHINX_TEST_DATA]

Splits: "held" is the last speaker of the digits, the last fifth of the words by
number, every sixth clip of talk and noise; "judge" is pocketsphinx-testdata.
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
        last = max(int(re.sub(r"\D", "", os.path.basename(g))) for g in glob.glob(os.path.dirname(f) + "/*.flac"))
        yield (w if w in P.LABELS else "~" + w), f, "held" if n > last - 2 - (last > 11) else "train"
    for f in sorted(glob.glob(root + "/digits/*.flac")):
        d, who, _ = os.path.basename(f).split("_")
        yield P.NUMBERS[int(d) + (int(d) > 0)], f, "held" if who == "speaker6" else "train"
    for kind in ("talk", "noise"):
        for i, f in enumerate(sorted(glob.glob(root + "/%s/*.flac" % kind))):
            yield "=" + kind, f, "held" if i % 6 == 5 else "train"


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

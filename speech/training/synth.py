"""Speaks the phrases with every free synthesiser at hand and keeps the sound.

  python3 synth.py OUT.npz [--scale 1.0] [--engines espeak,flite,festival,tube] [--only LATER]

Writes one array of 8-bit mu-law samples at 16 kHz with offsets, labels and
splits: "train", or "held" and "final" for the voices that only measure, with the text. Programs are found
on PATH; ESPEAK and FLITE name others, ESPEAK_PATH the folder of espeak's data.
"""
import argparse, os, random, subprocess, sys, tempfile, wave
from concurrent.futures import ThreadPoolExecutor
import numpy as np
import phrases as P

RATE = 16000
ESPEAK = os.environ.get("ESPEAK", "espeak-ng")
FLITE = os.environ.get("FLITE", "flite")
ACCENTS = ["en", "en-us", "en-gb-scotland", "en-gb-x-gbclan", "en-gb-x-rp", "en-gb-x-gbcwmd", "en-029", "en-us-nyc"]
VARIANTS = """adam Alex Alicia Andrea Andy Annie antonio aunty belinda benjamin boris caleb david Denis Diogo ed edward edward2 Gene Gene2 gustave
Henrique Hugo iven iven2 iven3 iven4 Jacky john kaukovalta Lee linda marcelo Marco Mario max Michael michel miguel Mike Mr Nguyen pablo paul pedro quincy
RicishayMax RicishayMax2 RicishayMax3 rob robert steph steph2 steph3 Storm Tweaky zac anika f1 f2 f3 f4 f5 grandma grandpa klatt klatt2 klatt3 klatt4
m1 m2 m3 m4 m5 m6 m7 m8 norbert sandro shelby travis victor croak whisper""".split()


def ulaw(x):
    x = np.clip(x.astype(np.float64) / 32768, -1, 1)
    y = np.sign(x) * np.log1p(255 * np.abs(x)) / np.log(256)
    return np.round((y + 1) * 127.5).astype(np.uint8)


def resample(x, rate):
    if rate == RATE or len(x) < 8:
        return x
    n = int(len(x) * RATE / rate)
    spec = np.fft.rfft(x.astype(np.float64))
    keep = n // 2 + 1
    out = np.zeros(keep, complex)
    out[: min(keep, len(spec))] = spec[: min(keep, len(spec))]
    return np.clip(np.fft.irfft(out, n) * (n / len(x)), -32768, 32767)


def pcm_of(path_or_bytes):
    """Samples at 16 kHz of a WAV file, whatever length its header claims."""
    data = path_or_bytes if isinstance(path_or_bytes, bytes) else open(path_or_bytes, "rb").read()
    rate = int.from_bytes(data[24:28], "little")
    at = data.find(b"data") + 8
    raw = data[at:]
    return resample(np.frombuffer(raw[: len(raw) // 2 * 2], "<i2"), rate)


def trim(x):
    """Cuts the silence off both ends, leaving 30 ms."""
    e = np.abs(x).astype(np.float32)
    if len(e) < 800 or e.max() < 50:
        return None
    loud = np.flatnonzero(e > e.max() * 0.012)
    a, b = max(0, loud[0] - 480), min(len(x), loud[-1] + 480)
    return x[a:b]


def run(cmd, text=None):
    return subprocess.run(cmd, input=text, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=30).stdout


def espeak(text, accent, variant, speed, pitch, gap):
    cmd = [ESPEAK, "--stdout", "-v", accent + "+" + variant, "-s", str(speed), "-p", str(pitch), "-g", str(gap), "-a", "90"]
    if os.environ.get("ESPEAK_PATH"):
        cmd.append("--path=" + os.environ["ESPEAK_PATH"])
    return pcm_of(run(cmd + [text]))


def flite(text, voice, stretch, pitch):
    with tempfile.NamedTemporaryFile(suffix=".wav", dir="/dev/shm") as f:
        run([FLITE, "-voice", voice, "--setf", "duration_stretch=%.2f" % stretch, "--setf", "int_f0_target_mean=%d" % pitch, "-t", text, "-o", f.name])
        return pcm_of(f.name)


def festival(text, voice, stretch):
    with tempfile.NamedTemporaryFile(suffix=".wav", dir="/dev/shm") as f:
        run(["text2wave", "-eval", "(voice_%s)" % voice, "-eval", "(Parameter.set 'Duration_Stretch %.2f)" % stretch, "-o", f.name], text.encode())
        return pcm_of(f.name)


def tube(jobs):
    """The articulatory synthesiser gnuspeech, through tube.mjs, in one child."""
    with tempfile.TemporaryDirectory(dir="/dev/shm") as d:
        lines = "".join("%s\t%s\t%d\t%.2f\t%.2f\t%.2f\n" % (os.path.join(d, "%d.wav" % i), j[0], *j[1:]) for i, j in enumerate(jobs))
        subprocess.run(["node", os.path.join(os.path.dirname(os.path.abspath(__file__)), "tube.mjs")], input=lines.encode(), stderr=subprocess.DEVNULL, stdout=subprocess.DEVNULL)
        out = []
        for i in range(len(jobs)):
            try:
                out.append(pcm_of(os.path.join(d, "%d.wav" % i)))
            except (OSError, ValueError):
                out.append(None)
        return out


def texts_of(rng, scale):
    """(class, text, weight) of everything to be said."""
    out = []
    for c in P.LABELS:
        for t in P.SPOKEN.get(c, [c]):
            out.append((c, t, 1.0 / len(P.SPOKEN.get(c, [c]))))
    for w in P.SPARE:
        out.append(("~" + w, w, 0.8))
    taken = set(P.LABELS) | set(P.SPARE) | {"to", "for", "too", "know"}
    rest = []
    for w, weight in [(P.HALVES, 0.30), (P.ALIKE, 0.11), (P.WORDS, 0.06), (P.SENTENCES, 0.12)]:
        rest += [(t, weight) for t in w if t not in taken]
    words = P.WORDS + P.ALIKE + [w for p in P.LABELS for w in p.split()]
    for _ in range(700):
        rest.append((" ".join(rng.choice(words) for _ in range(rng.randint(2, 6))), 0.012))
    for _ in range(700):  # a phrase inside other talk is no command
        p, w = rng.choice(P.LABELS), [rng.choice(P.WORDS) for _ in range(rng.randint(1, 3))]
        w.insert(rng.randint(0, len(w)), p)
        rest.append((" ".join(w), 0.012))
    out += [(P.OTHER, t, w) for t, w in rest]
    return out


def digits_of(rng):
    n = rng.choice([2, 2, 2, 3, 3, 4, 4, 5])
    d = [rng.choice(P.NUMBERS[:11]) for _ in range(n)]
    if n > 2 and rng.random() < 0.5:
        d[rng.randint(1, n - 2)] = "point"
    if rng.random() < 0.1:
        d[0] = "minus"
    return d


def plan(rng, scale, engines):
    """The list of (class, text, split, engine, arguments)."""
    jobs = []

    def times(n):
        n *= scale
        return int(n) + (rng.random() < n - int(n))

    def voice(split):
        while True:
            a, v = rng.choice(ACCENTS), rng.choice(VARIANTS)
            if P.voice_split(a, v) == split:
                return a, v

    def add(cls, text, n_espeak, n_held, n_flite, n_awb, n_fest, n_tube):
        if "espeak" in engines:
            for split, n in (("train", n_espeak), ("held", n_held)):
                for _ in range(times(n)):
                    a, v = voice(split)
                    jobs.append((cls, text, split, "espeak", (a, v, rng.randint(115, 235), rng.randint(15, 85), rng.choice([0, 0, 1, 3]))))
        if "flite" in engines:
            for v in ("kal16", "rms", "slt"):
                for _ in range(times(n_flite / 3)):
                    jobs.append((cls, text, "train", "flite", (v, rng.uniform(0.7, 1.5), rng.randint(80, 170) if v != "slt" else rng.randint(130, 250))))
            for _ in range(times(n_awb)):
                jobs.append((cls, text, "held", "flite", ("awb", rng.uniform(0.8, 1.3), rng.randint(100, 150))))
        if "festival" in engines:
            for v, split in (("kal_diphone", "train"), ("ked_diphone", "final")):
                for _ in range(times(n_fest / 2)):
                    jobs.append((cls, text, split, "festival", (v, rng.uniform(0.75, 1.35))))
        if "tube" in engines:
            for _ in range(times(n_tube)):
                jobs.append((cls, text, "train", "tube", (rng.choice([0, 0, 1, 1, 2]), rng.uniform(-1.6, 1.6), rng.uniform(-5, 4), rng.uniform(0.75, 1.35))))

    for cls, text, w in texts_of(rng, scale):
        held = 24 if cls in P.LABELS or cls[1:] in P.SPARE else 3 if cls == P.OTHER else 0
        add(cls, text, 230 * w, held * min(1, w * 2), 72 * w, 5 * min(1, w) * (cls in P.LABELS), 8 * w, 24 * w)
    for _ in range(900):
        d = digits_of(rng)
        add("#" + " ".join(d), " ".join(d), 1.4, 0.06, 0.8, 0, 0.05, 0.2)
    return jobs


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("--scale", type=float, default=1.0)
    ap.add_argument("--engines", default="espeak,flite,festival,tube")
    ap.add_argument("--seed", type=int, default=1)
    ap.add_argument("--only", help="these classes or texts alone, with | between them, or LATER")
    ap.add_argument("--jobs", type=int, default=os.cpu_count())
    a = ap.parse_args()
    jobs = plan(random.Random(a.seed), a.scale, a.engines.split(","))
    if a.only:
        only = P.LATER if a.only == "LATER" else a.only.split("|")
        jobs = [j for j in jobs if j[0] in only or j[1] in only]

    def one(j):
        try:
            return trim({"espeak": espeak, "flite": flite, "festival": festival}[j[3]](j[1], *j[4]))
        except Exception as e:
            print("synth:", j, e, file=sys.stderr)

    tubes = [j for j in jobs if j[3] == "tube"]
    jobs = [j for j in jobs if j[3] != "tube"]
    with ThreadPoolExecutor(a.jobs) as pool:
        parts = [tubes[i :: a.jobs] for i in range(a.jobs)]
        spoken = pool.map(lambda p: tube([(j[1], *j[4]) for j in p]) if p else [], parts)
        sounds = list(pool.map(one, jobs, chunksize=1))
        for p, s in zip(parts, spoken):
            jobs += p
            sounds += [x if x is None else trim(x) for x in s]
    keep = [(j, x) for j, x in zip(jobs, sounds) if x is not None and len(x) < 6 * RATE]
    print("spoken", len(keep), "of", len(jobs), "clips,", sum(len(x) for _, x in keep) / RATE, "s")
    np.savez(a.out, pcm=np.concatenate([ulaw(x) for _, x in keep]), length=np.array([len(x) for _, x in keep]),
             label=np.array([j[0] for j, _ in keep]), text=np.array([j[1] for j, _ in keep]), split=np.array([j[2] for j, _ in keep]), engine=np.array([j[3] for j, _ in keep]))


if __name__ == "__main__":
    main()

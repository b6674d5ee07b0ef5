"""Long sound that holds no command, to count false accepts in. None of it is used in training.

  python3 beds.py talk OUT_DIR HOURS TEXT_FILE...       conversations of held-out voices, reading sentences of the files
  python3 beds.py hardtalk ...                           the same with pieces of phrases and sound-alikes said alone
  python3 beds.py noise OUT_DIR HOURS SPEECH_DATA/noise  a shop: the recordings kept out of training, engines, hammers, air, in rooms

Files are ten minutes long, 16 kHz. A sentence that is a command, whole, is left out. Rooms are made by the image-source
method (Allen and Berkley, JASA 65, 1979), which training does not use.
"""
import os, random, re, subprocess, sys, wave
from concurrent.futures import ThreadPoolExecutor
import numpy as np
import phrases as P
from synth import RATE, VARIANTS, espeak, flite, trim, run

BLOCK = 600 * RATE


def save(path, x):
    with wave.open(path, "wb") as w:
        w.setnchannels(1); w.setsampwidth(2); w.setframerate(RATE)
        w.writeframes(np.clip(x, -32768, 32767).astype("<i2").tobytes())


def room(rng, seconds=0.35):
    """Impulse response of a box with six like walls, source and microphone inside it."""
    size = rng.uniform([4, 4, 2.6], [12, 15, 5])
    at, ear = rng.uniform(0.15, 0.85, 3) * size, rng.uniform(0.15, 0.85, 3) * size
    gain = rng.uniform(0.55, 0.88)
    out, n = np.zeros(int(seconds * RATE)), 6
    k = np.stack(np.meshgrid(*[np.arange(-n, n + 1)] * 3, indexing="ij"), -1).reshape(-1, 3)
    for flip in np.ndindex(2, 2, 2):
        f = np.array(flip)
        d = np.linalg.norm((1 - 2 * f) * at + 2 * k * size - ear, axis=1)
        bounces = np.abs(k - f).sum(1) + np.abs(k).sum(1)
        i = (d / 343 * RATE).astype(int)
        ok = i < len(out)
        np.add.at(out, i[ok], gain ** bounces[ok] / d[ok])
    return out / np.abs(out).max()


def wet(x, rng):
    h = room(rng)
    n = 1 << (len(x) + len(h)).bit_length()
    return np.fft.irfft(np.fft.rfft(x, n) * np.fft.rfft(h, n), n)[: len(x)]


def sentences(files):
    out = []
    for f in files:
        text = re.sub(r"[^A-Za-z0-9 .,;:!?'\n%-]", " ", open(f, errors="replace").read())
        for s in re.split(r"(?<=[.!?])\s+|\n%\n", text):
            s = re.sub(r"\s+", " ", s).strip()
            plain = re.sub(r"[^a-z' ]", "", s.lower()).strip()
            if 2 < len(s) < 220 and plain not in P.LABELS and re.search("[a-z]", s):
                out.append(s)
    return out


def talk(out, hours, files, hard):
    lines = sentences(files)
    if hard:  # one line in ten or so is a piece of a phrase or sounds like one
        lines += [h for h in P.HALVES + P.ALIKE if h not in P.LABELS] * max(1, len(lines) // 4000)
    voices = [(P.ESPEAK_HELD_ACCENT, v) for v in VARIANTS if v != "whisper"] + [(a, v) for a in ("en-us", "en", "en-gb-x-rp", "en-029", P.ESPEAK_FINAL_ACCENT) for v in P.ESPEAK_HELD_VARIANTS + P.ESPEAK_FINAL_VARIANTS] + ["awb"] * 12

    def block(i):
        r, rng = random.Random(i), np.random.default_rng(i)
        people = r.sample(voices, 3)
        habits = [(r.randint(120, 210), r.randint(20, 80), r.uniform(0.3, 1)) for _ in people]
        x, at = rng.normal(0, 8, BLOCK), 0
        while at < BLOCK - 12 * RATE:
            k = r.randrange(3)
            v, (speed, pitch, level) = people[k], habits[k]
            y = trim(flite(r.choice(lines), "awb", 170 / speed, 80 + pitch) if v == "awb" else espeak(r.choice(lines), *v, speed, pitch, 0))
            if y is None:
                continue
            y = y[: BLOCK - at] * (4000 * level / np.sqrt(np.mean(y ** 2)))
            x[at : at + len(y)] += y
            at += len(y) + int(RATE * r.choice([-0.3, 0.05, 0.2, 0.4, 0.8, 1.5, 3]))
        x = wet(x, rng)
        save("%s/talk%03d.wav" % (out, i), x / np.sqrt(np.mean(x ** 2)) * 1500)

    with ThreadPoolExecutor(os.cpu_count()) as pool:
        list(pool.map(block, range(int(hours * 6))))


def engine(rng, n):
    """A petrol engine idling and being revved: a pulse train with its own resonance."""
    t = np.arange(n) / RATE
    rate = 25 + 60 * np.clip(np.interp(t, np.sort(rng.uniform(0, t[-1], 40)), rng.random(40) ** 3), 0, 1)
    phase = np.cumsum(rate) / RATE
    pulse = np.exp(-(phase % 1) * rng.uniform(4, 14)) * (1 + 0.3 * np.sin(np.pi * phase)) - 0.2
    return pulse + rng.normal(0, 0.15, n) * (0.3 + pulse.clip(0))


def strikes(rng, n):
    """A hammer, dropped tools, a tyre iron: ringing strikes at odd times."""
    x = np.zeros(n)
    at = rng.uniform(0, 3) * RATE
    while at < n - RATE:
        k = np.arange(RATE) / RATE
        ring = sum(rng.random() * np.sin(2 * np.pi * rng.uniform(200, 6000) * k) * np.exp(-k * rng.uniform(8, 90)) for _ in range(6))
        x[int(at) : int(at) + RATE] += ring * rng.uniform(0.2, 1)
        at += rng.choice([0.18, 0.4, 0.6, 2, 6]) * rng.uniform(0.7, 1.5) * RATE
    return x


def air(rng, n):
    """Blow gun and leaks: bursts of hiss."""
    gate = np.repeat(rng.random(n // 1600 + 1) < 0.5, 1600)[:n] * np.repeat(rng.random(n // 32000 + 1) < 0.4, 32000)[:n]
    white = rng.normal(0, 1, n)
    return (white - 0.7 * np.concatenate([[0], white[:-1]])) * (0.05 + np.convolve(gate, np.ones(400) / 400, "same"))


def noise(out, hours, folder):
    from record import sox
    import glob
    kept = [sox(f) for i, f in enumerate(sorted(glob.glob(folder + "/*.flac"))) if i % 6 == 5]
    for i in range(int(hours * 6)):
        rng = np.random.default_rng(1000 + i)
        x = np.zeros(BLOCK)
        at = 0
        while at < BLOCK:
            y = kept[rng.integers(len(kept))].astype(float)
            y = y[: BLOCK - at] / (np.sqrt(np.mean(y ** 2)) + 1)
            x[at : at + len(y)] += y
            at += len(y)
        for make in (engine, strikes, air):
            y = make(rng, BLOCK)
            x += y / np.sqrt(np.mean(y ** 2)) * rng.choice([0, 0.3, 1, 2])
        x = wet(x, rng)
        save("%s/noise%03d.wav" % (out, i), x / np.sqrt(np.mean(x ** 2)) * 1800)


if __name__ == "__main__":
    os.makedirs(sys.argv[2], exist_ok=True)
    if sys.argv[1] in ("talk", "hardtalk"):
        talk(sys.argv[2], float(sys.argv[3]), sys.argv[4:], sys.argv[1] == "hardtalk")
    else:
        noise(sys.argv[2], float(sys.argv[3]), sys.argv[4])

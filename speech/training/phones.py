"""The sounds of a text, for the training's third task: which sound is said when.

Transcriptions are espeak-ng's for American English, without stress and length:
every accent is asked to find the same sounds, so the network learns words by
their sounds rather than by the voices that said them.
"""
import os, re, subprocess
from concurrent.futures import ThreadPoolExecutor

# Blank first. Two letters of a diphthong count as one sound.
SOUNDS = "_ p b t d k ɡ f v θ ð s z ʃ ʒ h tʃ dʒ m n ŋ l ɹ w j i ɪ eɪ ɛ æ ɑ ɔ oʊ ʊ u ʌ ə ɚ aɪ aʊ ɔɪ".split()
SAME = {"ɐ": "ə", "ᵻ": "ɪ", "ɾ": "t", "ʔ": "t", "əl": "ə l", "ɜ": "ɚ", "r": "ɹ", "e": "ɛ", "o": "oʊ", "a": "æ", "ɒ": "ɑ", "iə": "i ə",
        "aɪɚ": "aɪ ɚ", "aɪə": "aɪ ə", "ɛɹ": "ɛ ɹ", "ɑɹ": "ɑ ɹ", "ɔɹ": "ɔ ɹ", "oɹ": "ɔ ɹ", "ɪɹ": "ɪ ɹ", "ʊɹ": "ʊ ɹ", "n̩": "ə n", "x": "k", "ɬ": "l", "ɫ": "l"}


def one(text):
    cmd = [os.environ.get("ESPEAK", "espeak-ng"), "-q", "--ipa", "--sep=_", "-v", "en-us"]
    if os.environ.get("ESPEAK_PATH"):
        cmd.append("--path=" + os.environ["ESPEAK_PATH"])
    out = subprocess.run(cmd + [text], stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, timeout=30).stdout.decode()
    sounds = []
    for s in re.split(r"[_\s]+", re.sub(r"[ˈˌː‿]", "", out)):
        sounds += SAME.get(s, s).split()
    return [SOUNDS.index(s) for s in sounds if s in SOUNDS[1:]], [s for s in sounds if s and s not in SOUNDS]


def sounds_of(texts, jobs=os.cpu_count()):
    """Text to the indexes of its sounds."""
    texts = sorted(set(texts))
    with ThreadPoolExecutor(jobs) as pool:
        return {t: s for t, (s, _) in zip(texts, pool.map(one, texts))}


if __name__ == "__main__":
    import collections, phrases as P
    unknown = collections.Counter()
    for t in P.LABELS + P.SPARE + P.HALVES + P.ALIKE + P.WORDS + P.SENTENCES:
        s, u = one(t)
        unknown.update(u)
    print("sounds without a place:", dict(unknown))
    for t in P.LABELS[:14]:
        print(t, " ".join(SOUNDS[i] for i in one(t)[0]))

"""Speaks the later phrases with voices kept out of training, for stepcaller hearing-test.

  python3 clips.py OUT_DIR

OUT_DIR/held holds voices that thresholds may be chosen with, OUT_DIR/final those that judge in the end: a folder for each phrase,
a WAV file for each voice. Needs espeak-ng, flite and festival with the voice cmu_us_slt_arctic_hts.
"""
import os, random, sys
import phrases as P
from beds import save
from synth import espeak, festival, flite, trim

FINAL = [("en-us", "AnxiousAndy"), ("en-gb-x-rp", "Mr serious"), ("en", "announcer"), ("en-us", "klatt5"), ("en-us-nyc", "whisperf"),
         ("en-us", "f5"), ("en-gb-x-rp", "m8"), ("en-gb-x-gbcwmd", "m3")]
HELD = [("en-us", "f3"), ("en-gb-x-rp", "m5"), ("en-029", "f3"), ("en-gb-scotland", "adam"), ("en-gb-scotland", "m1")]


def main():
    r = random.Random(7)
    for phrase in P.LATER:
        for kind, voices in (("final", FINAL), ("held", HELD)):
            folder = os.path.join(sys.argv[1], kind, phrase.replace(" ", "_"))
            os.makedirs(folder, exist_ok=True)
            spoken = {a + v: espeak(phrase, a, v, r.randint(130, 200), r.randint(30, 70), 0) for a, v in voices}
            if kind == "final":
                spoken["slt_hts"] = festival(phrase, "cmu_us_slt_arctic_hts", r.uniform(0.85, 1.15))
            else:
                spoken["awb"] = flite(phrase, "awb", 1.0, 120)
            for name, sound in spoken.items():
                save("%s/%s.wav" % (folder, name.replace(" ", "_")), trim(sound))


if __name__ == "__main__":
    main()

"""Blends two trainings that began from the same weights, and writes what train.py writes.

  python3 blend.py OUT_DIR A/mean.pt B/mean.pt CLIPS.npz... [--share 0.65]

The mean of the weights of two such networks hears better than either, at the price of one (Wortsman and others,
"Model soups", ICML 2022). One of ours learnt from recorded words and digits too, the other from synthesisers alone.
"""
import argparse, os
import torch
from mix import *
from model import *
from examples import Examples
from train import write_weights, write_vectors


def blend(a, b, share):
    return {k: share * a[k] + (1 - share) * b[k] if a[k].dtype.is_floating_point else a[k] for k in a}


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("out")
    ap.add_argument("first")
    ap.add_argument("second")
    ap.add_argument("clips", nargs="+", help="with at least one synthetic 'previous step', for the test vectors")
    ap.add_argument("--share", type=float, default=0.65, help="of the first")
    a = ap.parse_args()
    net = Net()
    net.load_state_dict(blend(*(torch.load(f, map_location="cpu") for f in (a.first, a.second)), a.share))
    os.makedirs(a.out, exist_ok=True)
    torch.save(net.state_dict(), a.out + "/mean.pt")
    w = folded(net.eval())
    write_weights(a.out + "/ears.bin", w, {"share": a.share})
    write_vectors(a.out + "/vectors.bin", w, Examples(Shelf(a.clips, "cpu", sounds=False), Front(), "cpu"))


if __name__ == "__main__":
    main()

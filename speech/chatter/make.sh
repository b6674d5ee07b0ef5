#!/bin/sh
# Makes chatter.flac and chatter.txt: short utterances that are no phrase of the ears, from other.txt, then every phrase
# that they were trained on, twice. Each line of chatter.txt is a first sample, the first sample after it, and what was said,
# with "~" before what is no phrase. Voices of espeak-ng and flite; needs sox.
#
#   speech/chatter/make.sh PHRASES    a file with a phrase a line, as `stepcaller words` knows them
set -eu
cd "$(dirname "$0")"
work=$(mktemp -d)
trap 'rm -r "$work"' EXIT
n=0
at=0
: >chatter.txt
say() { # voice number, text
	case $(($1 % 9)) in
	0) espeak-ng -w "$work/a.wav" -v en-us+m1 -s 150 -- "$2" ;;
	1) flite -voice slt -t "$2" -o "$work/a.wav" ;;
	2) espeak-ng -w "$work/a.wav" -v en-gb+f1 -s 165 -- "$2" ;;
	3) flite -voice rms -t "$2" -o "$work/a.wav" ;;
	4) espeak-ng -w "$work/a.wav" -v en-gb-x-rp+m7 -s 140 -p 35 -- "$2" ;;
	5) espeak-ng -w "$work/a.wav" -v en-us+f4 -s 175 -p 60 -- "$2" ;;
	6) flite -voice kal16 --setf duration_stretch=0.9 -t "$2" -o "$work/a.wav" ;;
	7) espeak-ng -w "$work/a.wav" -v en-gb+m2 -s 155 -p 45 -- "$2" ;;
	8) espeak-ng -w "$work/a.wav" -v en-gb-x-gbcwmd+m4 -s 150 -- "$2" ;;
	esac
	n=$((n + 1))
	sox -V1 -D "$work/a.wav" -r 16000 -c 1 -b 16 "$work/b.wav" silence 1 0.005 0.5% reverse silence 1 0.005 0.5% reverse gain -n -30
	sox "$work/b.wav" "$work/$(printf %04d $n).wav" pad 0.1 0.1
	whole=$(soxi -s "$work/$(printf %04d $n).wav")
	echo "$((at + 1600)) $((at + whole - 1600)) $3$2" >>chatter.txt
	at=$((at + whole))
}
i=0
while read -r text; do
	say $i "$text" "~"
	i=$((i + 1))
done <other.txt
while read -r text; do
	say $i "$text" ""
	say $((i + 4)) "$text" ""
	i=$((i + 1))
done <"$1"
sox "$work"/0*.wav -b 16 -C 8 chatter.flac

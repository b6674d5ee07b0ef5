#!/bin/sh
# Makes technician.flac from technician.txt: festival's voice cmu_us_slt_arctic_hts over a faint hum and hiss.
# Needs Debian's festival, festvox-us-slt-hts, flite and sox. Nobody needs to run it again: the track is committed.
set -eu
cd "$(dirname "$0")"
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
n=0
grep -v '^#' technician.txt | while IFS="$(printf '\t')" read -r at words; do
	n=$((n + 1))
	case $words in
	"tools back") # the first voice swallows the end of it; flite has the same speaker
		flite -voice slt --setf duration_stretch=1.15 -t "$words" -o "$work/raw.wav" ;;
	*)
		echo "$words" | tr -d '[]' | text2wave -eval '(voice_cmu_us_slt_arctic_hts)' -eval "(Parameter.set 'Duration_Stretch 1.15)" -o "$work/raw.wav" ;;
	esac
	# Cut the silence before and behind, so that the speech begins at the second that the label gives.
	sox "$work/raw.wav" -r 16000 -b 16 -c 1 "$work/cut.wav" norm -1 silence 1 0.002 1% reverse silence 1 0.002 0.1% reverse norm -14
	sox "$work/cut.wav" "$work/$(printf %03d $n).wav" pad "$at" 0
done
sox -R -n -r 16000 -b 16 -c 1 "$work/room.wav" synth 541 pinknoise vol -76dB
sox -R -n -r 16000 -b 16 -c 1 "$work/hum.wav" synth 541 sine 100 vol -78dB
sox -R -m -v 1 "$work/room.wav" -v 1 "$work/hum.wav" $(for f in "$work"/0*.wav; do echo "-v 1 $f"; done) -b 16 -C 8 technician.flac

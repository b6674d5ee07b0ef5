// Package testdata holds what ships inside the program: the track of a technician at work, for machines without a microphone.
package testdata

import _ "embed"

// Technician is a FLAC file, mono at 16 kHz: a synthetic voice doing the bundled job valve-cover. The waits are shortened.
//
//go:embed technician.flac
var Technician []byte

// TechnicianLabels tells what is said on the track: a line each with the second at which the speech begins, a tab, and the
// words; in brackets what is no command.
//
//go:embed technician.txt
var TechnicianLabels string

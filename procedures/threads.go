package procedures

import (
	"regexp"
	"strconv"
	"strings"
)

const (
	// thread is a metric thread: its diameter, then its pitch and length, or its pitch
	// after a hyphen.
	thread = `M(\d{1,2}(?:\.\d)?)((?:` + by + `\d+(?:\.\d+)?)+|-[0-3]\.\d{1,2})?`
	// class is a property class of bolts and screws (ISO 898-1).
	class = `4\.[68]|5\.[68]|6\.8|8\.8|9\.8|10\.9|12\.9`
)

// sayThread is a metric thread with pitch, length, and class or tolerance:
// "M 6 by 1 point zero".
func sayThread(p phrase) (string, bool) {
	said := "M " + sayDecimal(p.part[1])
	for _, size := range anyFigure.FindAllString(p.part[2], -1) {
		said += " by " + sayDecimal(size)
	}
	switch {
	case p.part[3] != "" && unitNext.MatchString(p.rest): // M8 8.8 N·m
		return "", false
	case p.part[3] != "":
		said += ", class " + sayDecimal(p.part[3])
	case p.part[4] != "":
		said += ", " + spellOut(p.part[4])
	}
	return said, !startsInWord(p.rest)
}

var (
	anyFigure = regexp.MustCompile(figure)
	unitNext  = regexp.MustCompile(`^ ?` + unitPattern)
)

// sayInchThread is a thread by its size in inches, or its number, and the threads
// in an inch: "one quarter 20".
func sayInchThread(p phrase) (string, bool) {
	size, count := p.part[1], p.part[2]
	if strings.HasPrefix(p.rest, "/") || strings.HasPrefix(p.rest, ".") || unitNext.MatchString(p.rest) {
		return "", false
	}
	if number, numbered := strings.CutPrefix(size, "#"); numbered {
		return "number " + sayWhole(number) + " " + sayWhole(count), true
	}
	said, usual := sayInches(size)
	return said + " " + sayWhole(count), usual && (len(count) == 2 || unified.MatchString(p.rest))
}

// unified finds that a thread is of the inch series that ASME B1.1 names.
var unified = regexp.MustCompile(`^ UN`)

// sayPipeThread is a pipe thread: "G one half".
func sayPipeThread(p phrase) (string, bool) {
	said, usual := sayInches(p.part[2] + "/" + p.part[3])
	return spell(p.part[1]) + " " + said, usual
}

// sayInches is a written common fraction.
func sayInches(text string) (string, bool) {
	top, bottom, _ := strings.Cut(text, "/")
	n, _ := strconv.Atoi(top)
	d, _ := strconv.Atoi(bottom)
	return fractionWords(n, d)
}

// sayFractionTo is the lower end of a range of fractions: "one quarter to".
func sayFractionTo(p phrase) (string, bool) {
	said, usual := sayInches(p.part[1] + "/" + p.part[2])
	return said + " to ", usual && fractionNext.MatchString(p.rest)
}

var fractionNext = regexp.MustCompile(`^` + fraction)

// saySizes is what is measured in three directions or more: "20 by 35 by 7
// millimetres".
func saySizes(p phrase) (string, bool) {
	sizes := anyFigure.FindAllString(p.part[1], -1)
	for i, size := range sizes {
		sizes[i] = sayDecimal(size)
	}
	said := strings.Join(sizes, " by ")
	if p.part[2] == "" {
		return said, !startsInWord(p.rest)
	}
	measure, ok := sayMeasure(p.part[2], false, p.rest)
	return said + " " + measure, ok
}

// sayTyre is the size of a tyre with its load and speed: "205 55 R 16, 91, V".
func sayTyre(p phrase) (string, bool) {
	said := p.part[1] + " " + p.part[2] + " R " + p.part[3]
	if p.part[4] != "" {
		said += ", " + p.part[4] + ", " + p.part[5]
	}
	return said, true
}

// sayArc is an angle in degrees, minutes and seconds.
func sayArc(p phrase) (string, bool) {
	said := []string{}
	for i, unit := range []string{"degree", "minute", "second"} {
		n, err := strconv.Atoi(p.part[i+1])
		if err != nil {
			break
		}
		if n == 0 {
			said = append(said, "zero "+unit+"s")
			continue
		}
		said = append(said, counted(n, unit))
	}
	return strings.Join(said, " "), len(said) > 1
}

package procedures

import (
	"slices"
	"strings"
)

// openItem is something that is not yet put right at this point of the import.
type openItem struct {
	key   string // of the list it stands in: off, plug
	text  string // as it stands there
	step  int    // index of the step
	count int    // how many there still are, 0 where nobody counted
}

// undoing lists what each key of a step puts right.
var undoing = map[string][]string{
	"back": {"off"}, "connect": {"disconnect"}, "tight": {"by_hand", "loosen", "off"}, "shut": {"open"}, "fill": {"drain"},
	"out": {"plug", "stuff"}, "clear": {"support"},
}

// temporaryKeys are the lists of what must not stay in.
var temporaryKeys = []string{"plug", "stuff", "support", "by_hand"}

// fastenerKeys are the stages in the life of a fastener.
var fastenerKeys = []string{"loosen", "off", "by_hand"}

// stepList is the list of a step that a key names.
func stepList(s *Step, key string) *[]string {
	for _, list := range []struct {
		key  string
		list *[]string
	}{
		{"off", &s.Off}, {"disconnect", &s.Disconnect}, {"loosen", &s.Loosen}, {"by_hand", &s.ByHand}, {"open", &s.Open}, {"plug", &s.Plug},
		{"stuff", &s.Stuff}, {"drain", &s.Drain}, {"support", &s.Support}, {"back", &s.Back}, {"connect", &s.Connect}, {"tight", &s.Tight},
		{"shut", &s.Shut}, {"out", &s.Out}, {"fill", &s.Fill}, {"clear", &s.Clear},
	} {
		if list.key == key {
			return list.list
		}
	}
	return nil
}

// enter puts one thing under a key of the step, or says why it is not sure.
func (d *deeds) enter(s *DraftStep, index int, key, verb, name string) {
	isNew := strings.Contains(strings.ToLower(s.Say), "new "+strings.ToLower(strings.TrimLeft(name, "0123456789 ")))
	switch key {
	case "off", "loosen":
		if at, _ := d.find(name, "support", "plug", "stuff"); at >= 0 && key == "off" { // it was there only for the work
			key = "out"
			if d.open[at].key == "support" {
				key = "clear"
			}
			d.undo(s, key, name)
			return
		}
		if verb == "undo" {
			s.doubt("%q: slackened, or taken out?", "undo "+name)
		}
		d.leave(s, index, key, name)
	case "renew":
		s.part(name)
	case "replace":
		s.doubt("%q: renewed, or put back?", "replace "+name)
	case "by_hand":
		d.leave(s, index, key, name)
	case "disconnect", "open", "plug", "stuff", "drain":
		d.leave(s, index, key, name)
	case "back":
		if at, _ := d.find(name, "off"); at < 0 {
			if at, _ := d.find(name, "disconnect"); at >= 0 {
				key = "connect"
			}
		}
		if at, several := d.find(name, undoing[key]...); at < 0 && !several && isNew {
			s.part(name)
			return
		}
		d.undo(s, key, name)
	case "tight":
		if at, several := d.find(name, undoing[key]...); at < 0 && !several && verb == "retighten" {
			s.doubt("%q: give the first torque of it `again`", verb+" "+name)
			return
		}
		d.undo(s, key, name)
	case "connect", "shut", "fill":
		d.undo(s, key, name)
	case "support":
		d.leave(s, index, key, name)
	}
}

// leave enters what the step leaves to be undone. A fastener that was loose and now
// comes off keeps its name.
func (d *deeds) leave(s *DraftStep, index int, key, name string) {
	count, bare := splitCount(name)
	if slices.Contains(fastenerKeys, key) {
		if at, _ := d.find(name, fastenerKeys...); at >= 0 && d.open[at].key != key {
			was := d.open[at]
			if count == 0 || count == was.count {
				_, bare = splitCount(was.text)
				name, count = was.text, was.count
			}
			if itemKey(bare) == itemKey(was.text) {
				d.open = slices.Delete(d.open, at, at+1)
				if was.step == index && key == "off" { // slackened and taken out in one step
					list := stepList(&s.Step, was.key)
					*list = slices.DeleteFunc(*list, func(t string) bool { return t == was.text })
				}
			}
		}
	}
	list := stepList(&s.Step, key)
	if len(*list) >= maxFound || slices.ContainsFunc(*list, func(t string) bool { return itemKey(t) == itemKey(name) }) {
		return
	}
	for i := range d.open {
		if o := &d.open[i]; o.key == key && itemKey(o.text) == itemKey(name) {
			s.doubt("%q a second time, and not put right in between", name)
			return
		}
	}
	*list = append(*list, name)
	d.open = append(d.open, openItem{key, name, index, count})
}

// undo enters what the step puts right, if it was left so.
func (d *deeds) undo(s *DraftStep, key, name string) {
	at, several := d.find(name, undoing[key]...)
	count, bare := splitCount(name)
	switch {
	case several:
		s.doubt("%q: which of them?", name)
		return
	case at < 0:
		s.doubt("%q under `%s`: no step before says that it was %s", name, key, strings.Join(undoing[key], " or "))
		return
	}
	o := &d.open[at]
	if count > 0 && o.count > 0 && (count > o.count || count < o.count && slices.Contains(temporaryKeys, o.key)) {
		s.doubt("%q here, but %q before", name, o.text)
		return
	}
	_, known := splitCount(o.text)
	if !allWithin(strings.Fields(itemKey(known)), strings.Fields(itemKey(bare))) {
		s.doubt("%q is taken to be %q", bare, known)
	}
	list := stepList(&s.Step, key)
	if len(*list) >= maxFound {
		return
	}
	if count > 0 {
		known = name[:len(name)-len(bare)] + known
	}
	*list = append(*list, known)
	if o.count -= count; count == 0 || o.count <= 0 {
		d.open = slices.Delete(d.open, at, at+1)
	}
}

// counted is how many there are of a fastener that is not yet tight, 0 where that
// is not known.
func (d *deeds) counted(name string) int {
	at, _ := d.find(name, fastenerKeys...)
	if at < 0 || d.open[at].count > maxFasteners {
		return 0
	}
	return d.open[at].count
}

// find is the open item of these keys that a name means: the same name, or else
// the only one whose name has the same last word and no other words besides, or the
// only one of those with the same count. It is -1 where there is none; several says
// that more than one would do.
func (d *deeds) find(name string, keys ...string) (at int, several bool) {
	count, _ := splitCount(name)
	want := strings.Fields(itemKey(name))
	var like, counted []int
	for i, o := range d.open {
		if !slices.Contains(keys, o.key) {
			continue
		}
		have := strings.Fields(itemKey(o.text))
		if slices.Equal(have, want) {
			return i, false
		}
		if len(want) == 0 || len(have) == 0 || have[len(have)-1] != want[len(want)-1] || !allWithin(want, have) && !allWithin(have, want) {
			continue
		}
		like = append(like, i)
		if count > 0 && o.count == count {
			counted = append(counted, i)
		}
	}
	switch {
	case len(like) == 1:
		return like[0], false
	case len(counted) == 1:
		return counted[0], false
	}
	return -1, len(like) > 1
}

// allWithin reports whether all of the words stand in the others.
func allWithin(words, others []string) bool {
	for _, w := range words {
		if !slices.Contains(others, w) {
			return false
		}
	}
	return true
}

// finish takes out of the draft what may not be left in and is never said to come
// out again.
func (d *deeds) finish(steps []DraftStep) {
	for _, o := range d.open {
		s := &steps[o.step]
		if slices.Contains(temporaryKeys, o.key) {
			list := stepList(&s.Step, o.key)
			*list = slices.DeleteFunc(*list, func(t string) bool { return t == o.text })
			s.doubt("%q is left `%s`: no later step undoes it, so the entry is not made", o.text, o.key)
		}
	}
}

package procedures

import (
	"fmt"

	"github.com/goccy/go-yaml/token"
)

// What the YAML parser is given at most: its time grows with the square of each.
const (
	maxDepth = 20  // brackets within brackets
	maxKeys  = 500 // in one mapping
	maxEmpty = 200 // values of the file with nothing in them
)

// layout follows the tokens of a file.
type layout struct {
	blocks []block // mappings around the token, by their column
	flows  []flow  // brackets around the token
	empty  int
}

// block is a mapping with a key on each line.
type block struct{ column, keys int }

// flow is a mapping or list in brackets.
type flow struct {
	mapping bool
	colon   bool // since the last comma
}

// readable reports a file whose layout would keep the parser busy for long.
func (r *reader) readable(tokens token.Tokens) bool {
	var l layout
	var before *token.Token
	for i, t := range tokens {
		if t.Type == token.CommentType {
			continue
		}
		l.follow(before, t, after(tokens[i+1:]))
		before = t
		at := place{max(1, t.Position.Line), max(1, t.Position.Column)}
		switch {
		case t.Type == token.MappingKeyType:
			r.report("", at, Error, "a value that begins with \"?\"", "Put the text in double quotes")
			return false
		case len(l.flows) > maxDepth:
			r.report("", at, Error, fmt.Sprintf("brackets more than %d deep", maxDepth), "Close the brackets, or write lists with one entry a line")
			return false
		case len(l.blocks) > 0 && l.blocks[len(l.blocks)-1].keys > maxKeys:
			r.report("", at, Error, fmt.Sprintf("more than %d keys beside each other", maxKeys), "Begin each entry of a list with a hyphen")
			return false
		case l.empty > maxEmpty:
			r.report("", at, Error, fmt.Sprintf("more than %d empty values in the file", maxEmpty), "Fill them in, or delete their keys and hyphens")
			return false
		}
	}
	return true
}

// after is the first token that is no comment, nil where there is none.
func after(tokens token.Tokens) *token.Token {
	for _, t := range tokens {
		if t.Type != token.CommentType {
			return t
		}
	}
	return nil
}

// follow takes one token, with those before and after it.
func (l *layout) follow(before, t, next *token.Token) {
	inFlow := len(l.flows) > 0
	switch t.Type {
	case token.SequenceStartType, token.MappingStartType:
		l.flows = append(l.flows, flow{mapping: t.Type == token.MappingStartType})
	case token.CollectEntryType, token.SequenceEndType, token.MappingEndType:
		if !inFlow {
			return
		}
		top := &l.flows[len(l.flows)-1]
		if top.mapping && !top.colon {
			l.empty++
		}
		top.colon = false
		if t.Type != token.CollectEntryType {
			l.flows = l.flows[:len(l.flows)-1]
		}
	case token.SequenceEntryType:
		l.leave(t.Position.Column)
		l.count(t.Position.Column, t, next, false)
	case token.MappingValueType:
		switch {
		case inFlow:
			l.flows[len(l.flows)-1].colon = true
			l.count(0, t, next, true)
		case before != nil:
			column := before.Position.Column
			l.leave(column)
			if n := len(l.blocks); n == 0 || l.blocks[n-1].column < column {
				l.blocks = append(l.blocks, block{column: column})
			}
			l.blocks[len(l.blocks)-1].keys++
			l.count(column, t, next, true)
		}
	}
}

// leave ends the mappings that stand further right.
func (l *layout) leave(column int) {
	for n := len(l.blocks); n > 0 && l.blocks[n-1].column > column; n-- {
		l.blocks = l.blocks[:n-1]
	}
}

// count counts a hyphen or a key at this column that has nothing after it.
func (l *layout) count(column int, t, next *token.Token, isKey bool) {
	switch {
	case next == nil:
		l.empty++
	case len(l.flows) > 0:
		if next.Type == token.CollectEntryType || next.Type == token.MappingEndType || next.Type == token.SequenceEndType {
			l.empty++
		}
	case next.Position.Line > t.Position.Line && next.Position.Column <= column:
		if !isKey || next.Type != token.SequenceEntryType || next.Position.Column < column {
			l.empty++
		}
	}
}

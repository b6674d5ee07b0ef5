package pages_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"text/template/parse"
	"time"

	"stepcaller/narrator"
	"stepcaller/narrator/labour"
	"stepcaller/procedures"
	"stepcaller/procedures/tongue"
)

// TestEveryTextIsInEveryLanguage collects the texts of replies, pages and commands, and holds each bundled language to them: none is
// missing and none is there that nothing says.
func TestEveryTextIsInEveryLanguage(t *testing.T) {
	keys := map[string]string{}
	for _, dir := range []string{"..", ".", "../../cmd/stepcaller"} {
		codeKeys(t, dir, keys)
	}
	templateKeys(t, "html", keys)
	storedKeys(keys)
	if len(keys) < 150 {
		t.Fatalf("only %d texts were collected", len(keys))
	}
	for _, name := range tongue.Bundled()[1:] {
		language, err := tongue.Named(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range slices.Sorted(maps.Keys(keys)) {
			if !language.Has(text) {
				t.Errorf("%s.yaml lacks %q of %s", name, text, keys[text])
			}
		}
		for _, text := range language.Texts() {
			if keys[text] == "" {
				t.Errorf("%s.yaml has %q, which nothing says any more", name, text)
			}
		}
	}
}

// TestTheCollectorFindsAText plants one of every kind that it must find, and some that are none.
func TestTheCollectorFindsAText(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{
		"code.go": `package planted
const replyOne = "one"
const other, named = "not a text", "named"
func colourText(c int) (string, deed) {
	switch "not this either" { case "nor this": return "two", deed{text: "three"} }
	return other, deed{}
}
func (d *decision) f() { d.reply("four %d", 4); d.words.F(named); w.N(2, "five", "six %d" + "!", "no text"); fmt.Sprint("none") }
`,
		"code_test.go": "package planted\nconst replyTest = \"in a test\"\n",
		"page.html":    `{{define "x"}}{{if .}}{{t "seven %d" .N}}{{else}}{{range .}}{{n 2 "no text" "eight" (t "nine")}}{{end}}{{end}}{{with t "ten"}}{{.}}{{end}}{{end}}text`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	keys := map[string]string{}
	codeKeys(t, dir, keys)
	templateKeys(t, dir, keys)
	got := slices.Sorted(maps.Keys(keys))
	want := []string{"eight", "four %d", "named", "nine", "one", "seven %d", "six %d!", "ten", "three", "two"}
	if !slices.Equal(got, want) {
		t.Errorf("found %q, want %q", got, want)
	}
}

// storedKeys adds what is kept in English and translated only where it is said or shown: tables, and names that the journal stores.
func storedKeys(keys map[string]string) {
	add := func(where string, texts ...string) {
		for _, text := range texts {
			if keys[text] == "" {
				keys[text] = where
			}
		}
	}
	for _, c := range procedures.StandardCautions() {
		add("the cautions", c.Say)
	}
	for _, f := range narrator.Fields() {
		add("the fields", f.Title, f.Of)
	}
	for _, k := range procedures.ItemKinds() {
		add("the states", k.State)
	}
	for _, o := range procedures.Orders() {
		add("the orders", string(o))
	}
	for _, r := range append(procedures.DefaultReasons(), procedures.Help) {
		add("the reasons", string(r))
	}
	add("the reasons", labour.Unstated, "handover")
	add("the approvers", narrator.DefaultSettings().Approvers...)
	add("the kinds of a job", narrator.JobKinds()...)
	add("the states of a finding", "noted", "asked", "approved", "declined")
	add("the moments of a reading", "before", "after")
	for _, j := range []procedures.Judgement{procedures.Inside, procedures.Below, procedures.Above, procedures.WornOut} {
		add("the judgements", string(j))
	}
	for _, p := range []narrator.Part{narrator.PartStep, narrator.PartOff, narrator.PartOn, narrator.PartTorque, narrator.PartReading} {
		add("the parts of dictation", string(p))
	}
	for i := range 7 {
		add("the weekdays", time.Weekday(i).String())
	}
	for i := range 12 {
		add("the months", time.Month(i+1).String())
	}
}

// codeKeys collects the texts of the Go files of a folder: what F, N and reply are given, the constants that begin with reply, and what a
// function returns whose name ends in Text or Texts. Of N it is the text for many: that is the key.
func codeKeys(t *testing.T, dir string, keys map[string]string) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		t.Fatal(err)
	}
	constants := map[string]string{}
	var parsed []*ast.File
	places := token.NewFileSet()
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(places, name, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		parsed = append(parsed, file)
		ast.Inspect(file, func(n ast.Node) bool {
			if spec, ok := n.(*ast.ValueSpec); ok {
				for i, value := range spec.Values {
					if text, ok := literal(value, nil); ok && i < len(spec.Names) {
						constants[spec.Names[i].Name] = text
					}
				}
			}
			return true
		})
	}
	for _, file := range parsed {
		where := filepath.Base(places.Position(file.Pos()).Filename)
		add := func(e ast.Expr) {
			if text, ok := literal(e, constants); ok && text != "" {
				keys[text] = where
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.ValueSpec:
				for i, name := range n.Names {
					if strings.HasPrefix(name.Name, "reply") && i < len(n.Values) {
						add(n.Values[i])
					}
				}
			case *ast.CallExpr:
				switch called := n.Fun.(type) {
				case *ast.SelectorExpr:
					switch {
					case called.Sel.Name == "F" || called.Sel.Name == "reply":
						add(n.Args[0])
					case called.Sel.Name == "N" && len(n.Args) > 2:
						add(n.Args[2])
					}
				}
			case *ast.FuncDecl:
				if strings.HasSuffix(n.Name.Name, "Text") || strings.HasSuffix(n.Name.Name, "Texts") {
					returnedKeys(n, add)
				}
			}
			return true
		})
	}
}

// returnedKeys adds what a function returns, alone or as fields of a struct.
func returnedKeys(f *ast.FuncDecl, add func(ast.Expr)) {
	ast.Inspect(f, func(n ast.Node) bool {
		r, ok := n.(*ast.ReturnStmt)
		if !ok {
			return true
		}
		for _, result := range r.Results {
			made, ok := result.(*ast.CompositeLit)
			if !ok {
				if lit, ok := result.(*ast.BasicLit); ok {
					add(lit)
				}
				continue
			}
			for _, field := range made.Elts {
				if pair, ok := field.(*ast.KeyValueExpr); ok {
					field = pair.Value
				}
				add(field)
			}
		}
		return false
	})
}

// literal is the text that an expression of string literals and constants stands for.
func literal(e ast.Expr, constants map[string]string) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(e.Value)
		return text, err == nil && e.Kind == token.STRING
	case *ast.Ident:
		text, ok := constants[e.Name]
		return text, ok
	case *ast.BinaryExpr:
		a, ok := literal(e.X, constants)
		b, ok2 := literal(e.Y, constants)
		return a + b, ok && ok2 && e.Op == token.ADD
	}
	return "", false
}

// templateKeys collects what t and n are given in the pages of a folder. Of n it is the text for many.
func templateKeys(t *testing.T, dir string, keys map[string]string) {
	t.Helper()
	err := filepath.WalkDir(dir, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".html") {
			return err
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		page := parse.New(path)
		page.Mode = parse.SkipFuncCheck
		trees := map[string]*parse.Tree{}
		if _, err := page.Parse(string(data), "", "", trees); err != nil {
			return err
		}
		for _, tree := range trees {
			nodeKeys(tree.Root, filepath.Base(path), keys)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func nodeKeys(n parse.Node, where string, keys map[string]string) {
	branch := func(b *parse.BranchNode) {
		nodeKeys(b.Pipe, where, keys)
		nodeKeys(b.List, where, keys)
		if b.ElseList != nil {
			nodeKeys(b.ElseList, where, keys)
		}
	}
	switch n := n.(type) {
	case *parse.ListNode:
		for _, child := range n.Nodes {
			nodeKeys(child, where, keys)
		}
	case *parse.ActionNode:
		nodeKeys(n.Pipe, where, keys)
	case *parse.TemplateNode:
		if n.Pipe != nil {
			nodeKeys(n.Pipe, where, keys)
		}
	case *parse.IfNode:
		branch(&n.BranchNode)
	case *parse.RangeNode:
		branch(&n.BranchNode)
	case *parse.WithNode:
		branch(&n.BranchNode)
	case *parse.PipeNode:
		for _, command := range n.Cmds {
			nodeKeys(command, where, keys)
		}
	case *parse.CommandNode:
		for _, arg := range n.Args {
			nodeKeys(arg, where, keys)
		}
		if f, ok := n.Args[0].(*parse.IdentifierNode); ok {
			if at, known := map[string]int{"t": 1, "n": 3}[f.Ident]; known && len(n.Args) > at {
				if text, ok := n.Args[at].(*parse.StringNode); ok {
					keys[text.Text] = where
				}
			}
		}
	}
}

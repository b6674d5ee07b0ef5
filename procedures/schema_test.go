package procedures_test

import (
	"bytes"
	"encoding/json"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"pgregory.net/rapid"

	"stepcaller/procedures"
)

var update = flag.Bool("update", false, "write procedure.schema.json anew")

const schemaFile = "procedure.schema.json"

func TestSchemaFile(t *testing.T) {
	want := procedures.Schema()
	if *update {
		if err := os.WriteFile(schemaFile, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s is stale; run go generate ./procedures", schemaFile)
	}
}

// compileSchema hands the published schema to an independent validator.
func compileSchema(t *testing.T) *jsonschema.Schema {
	t.Helper()
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(procedures.Schema()))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(schemaFile, doc); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile(schemaFile)
	if err != nil {
		t.Fatal(err)
	}
	return schema
}

func TestSchema_acceptsBundled(t *testing.T) {
	schema := compileSchema(t)
	files, err := filepath.Glob("library/*.yaml")
	if err != nil || len(files) < 3 {
		t.Fatalf("bundled files %v, error %v", files, err)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		text, err := yaml.YAMLToJSON(data)
		if err != nil {
			t.Fatal(err)
		}
		if err := validate(schema, text); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
}

func validate(schema *jsonschema.Schema, text []byte) error {
	value, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	return schema.Validate(value)
}

// TestSchema_agreesWithLoad spoils one value of a good file and asks both.
func TestSchema_agreesWithLoad(t *testing.T) {
	schema := compileSchema(t)
	refused := 0
	rapid.Check(t, func(t *rapid.T) {
		text := spoiled(t)
		_, mistakes := procedures.Load("x.yaml", text)
		err := validate(schema, text)
		if procedures.Refused(mistakes) != (err != nil) {
			t.Fatalf("%s\nLoad says %v\nthe schema says %v", text, mistakes, err)
		}
		if err != nil {
			refused++
		}
	})
	if refused == 0 {
		t.Error("no spoiled file was refused")
	}
}

// spoiled is a good file, as JSON, in which one value is replaced, added or taken
// away.
func spoiled(t *rapid.T) []byte {
	tightening := map[string]any{"fastener": "bolt", "count": 4, "value": "10 N·m", "angle": 90, "order": "star"}
	step := map[string]any{"id": "one", "say": "Do it", "title": "It", "minutes": 2.5,
		"tools": []any{"spanner"}, "cautions": "Hot", "torque": []any{tightening}}
	operation := map[string]any{"code": "A", "title": "B", "hours": 1.5}
	root := map[string]any{"stepcaller": 1, "draft": rapid.Bool().Draw(t, "draft"), "id": "job", "title": "Job", "machine": "Car", "book": []any{operation},
		"tools": []any{}, "parts": "none", "cautions": []any{"Hot"}, "steps": []any{step}}

	part := rapid.SampledFrom([]map[string]any{root, step, operation, tightening}).Draw(t, "part")
	keys := slices.Sorted(maps.Keys(part))
	key := rapid.SampledFrom(append(keys, "colour")).Draw(t, "key")
	values := []any{nil, true, 0, 1, 2, 5000, -1, 0.5, 0.125, 1e7, "", " ", "text", "a b", "star", "12", "10 Nm", "10", "0 Nm",
		"7 lb-ft", "7 furlongs", "1.5 in-lb.", "-3 N·m", []any{}, []any{"a"}, []any{""}, []any{nil}, []any{[]any{}}, []any{3},
		map[string]any{}, []any{map[string]any{}}}
	if i := rapid.IntRange(-1, len(values)-1).Draw(t, "value"); i < 0 {
		delete(part, key)
	} else {
		part[key] = values[i]
	}
	text, err := json.Marshal(root)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

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
	for range 20 {
		if !bytes.Equal(procedures.Schema(), want) {
			t.Fatal("the schema is another each time")
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

// TestSchema_agreesWithLoad spoils one value of a good file and asks both. They
// must agree, but for what only Load can see: names that lead nowhere, and limits
// and lists that do not fit others. There the schema may be the milder one.
func TestSchema_agreesWithLoad(t *testing.T) {
	schema := compileSchema(t)
	refused, accepted := 0, 0
	rapid.Check(t, func(t *rapid.T) {
		for range 6 {
			text, between := spoiled(t)
			_, mistakes := procedures.Load("x.yaml", text)
			err := validate(schema, text)
			load := procedures.Refused(mistakes)
			if load != (err != nil) && (err != nil || !between) {
				t.Fatalf("%s\nLoad says %v\nthe schema says %v", text, mistakes, err)
			}
			if load {
				refused++
			} else {
				accepted++
			}
		}
	})
	if refused == 0 || accepted == 0 {
		t.Errorf("%d spoiled files refused, %d accepted", refused, accepted)
	}
}

// betweenValues are the keys whose value Load compares with others.
var betweenValues = []string{"operations", "await", "level", "only_if", "unless", "positions", "lengths", "count",
	"min", "max", "wear", "back", "connect", "tight", "shut", "out", "fill", "clear", "by_hand", "plug", "stuff", "support",
	"stages", "angle"}

// goodFile is a file with a mapping of every sort, and the list of those mappings.
func goodFile(draft bool) (root map[string]any, parts []map[string]any) {
	mapping := func(m map[string]any) map[string]any {
		parts = append(parts, m)
		return m
	}
	step := func(id string) map[string]any {
		return mapping(map[string]any{"id": id, "say": "Do it", "title": "It", "minutes": 2.5, "tools": []any{"spanner"},
			"parts":    []any{"hose", mapping(map[string]any{"name": "pump", "number": "P-1", "core": true})},
			"cautions": []any{"Hot", mapping(map[string]any{"use": "battery"}), mapping(map[string]any{"use": "airbag", "wait": 5}), mapping(map[string]any{"say": "Held", "answer": "spring held"})},
			"figures":  []any{"a.svg", mapping(map[string]any{"file": "b.png", "caption": "It"})},
			"timers":   []any{mapping(map[string]any{"name": "glue " + id, "minutes": 3, "from": "end", "say": "Dry"})},
			"readings": []any{mapping(map[string]any{"name": "gap", "unit": "mm", "min": 1, "max": 2.5, "positions": []any{"left"}, "difference": false, "when": "before"})},
			"torque": []any{mapping(map[string]any{"fastener": "bolt", "count": 4, "value": "10 N·m", "order": "star", "stages": []any{"snug", "full"},
				"condition": "dry", "new": true, "thread": "left", "again": "after heat", "low": "drain plug"})},
			"loosening":     []any{mapping(map[string]any{"fastener": "bolt", "count": 4, "order": "star", "thread": "right"})},
			"starts_engine": false, "road_test": false, "only_if": []any{"hard"}, "unless": "Is it late?", "operations": "A",
			"off": "cover", "open": "tap"})
	}
	each := mapping(map[string]any{"side": []any{"left", "right"}})
	group := mapping(map[string]any{"each": each, "steps": []any{step("{side}-two")}})
	group["steps"].([]any)[0].(map[string]any)["timers"].([]any)[0].(map[string]any)["name"] = "glue {side}"
	root = mapping(map[string]any{"stepcaller": 2, "draft": draft, "id": "job", "title": "Job", "machine": "Car",
		"book":  []any{mapping(map[string]any{"code": "A", "title": "B", "hours": 1.5, "diagnosis": false})},
		"tools": []any{}, "parts": "none", "cautions": []any{"Hot"},
		"fluids":  []any{mapping(map[string]any{"name": "oil", "spec": "5W-30", "capacity": "4 l"})},
		"choices": []any{mapping(map[string]any{"id": "hard", "ask": "Is it hard?", "approval": true})},
		"covers":  []any{mapping(map[string]any{"part": "tray", "hides": []any{"filter"}})},
		"steps":   []any{step("one"), group}})
	return root, parts
}

// spoiled is a good file, as JSON, in which one value is replaced, added or taken
// away. It is true where Load may see more in it than the schema.
func spoiled(t *rapid.T) (text []byte, between bool) {
	root, parts := goodFile(rapid.Bool().Draw(t, "draft"))
	part := rapid.SampledFrom(parts).Draw(t, "part")
	keys := slices.Sorted(maps.Keys(part))
	key := rapid.SampledFrom(append(keys, "colour", "wear", "angle", "level", "await", "operations")).Draw(t, "key")
	values := []any{nil, true, false, 0, 1, 2, 5000, -1, 0.5, 0.125, 0.00001, 1e7, "", " ", "text", "a b", "star", "12", "10 Nm", "10", "0 Nm",
		"7 lb-ft", "7 furlongs", "1.5 in-lb.", "-3 N·m", "half", "90°", "721°", "90 deg", "Is it?", "dry", "left", "before", "begin", "after road test",
		"spark plug", "battery", "airbag", "stands set", "yes", "a.svg", "../a.svg", "a/b.png", "/a.png", "1 to 4", "1 to", "a: b",
		[]any{}, []any{"a"}, []any{""}, []any{nil}, []any{[]any{}}, []any{3}, []any{"full", "90°"}, []any{"a", "b"},
		map[string]any{}, []any{map[string]any{}}, map[string]any{"use": "battery"}, map[string]any{"use": "battery", "wait": 5},
		map[string]any{"use": "airbag"}, []any{map[string]any{"use": "airbag", "wait": 5}}, map[string]any{"use": "airbag", "wait": 0},
		map[string]any{"say": "Hot", "answer": "pedal firm"}, map[string]any{"file": "a.png"}, map[string]any{"name": "a", "core": true},
		map[string]any{"side": "1 to 3"}, map[string]any{"side": "left"}, map[string]any{"Side": []any{"a"}}, map[string]any{"a": "1 to 2", "b": "1 to 2"}}
	if i := rapid.IntRange(-1, len(values)-1).Draw(t, "value"); i < 0 {
		delete(part, key)
	} else {
		part[key] = values[i]
	}
	text, err := json.Marshal(root)
	if err != nil {
		t.Fatal(err)
	}
	// Names that others refer to, and those that groups must tell apart.
	names := []string{"id", "name", "code", "choices", "fluids", "book", "timers", "each", "side", "covers", "part"}
	return text, slices.Contains(betweenValues, key) || slices.Contains(names, key)
}

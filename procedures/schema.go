package procedures

import (
	"encoding/json"
	"fmt"
	"strings"
)

//go:generate go test -run TestSchemaFile -update .

// shape is a JSON Schema.
type shape map[string]any

// Schema is the JSON Schema (draft 2020-12) of the procedure file, for editors
// and other programs. It describes single values; what only shows between values,
// such as ids that meet twice, is left to Load.
func Schema() []byte {
	s := mappingShape(procedureKeys())
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "Procedure"
	s["description"] = "A repair procedure, read aloud one step at a time."
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		panic("procedures: schema: " + err.Error()) // maps of strings and numbers always marshal
	}
	return append(text, '\n')
}

func mappingShape[T any](keys []key[T]) shape {
	properties := shape{}
	names := []string{}
	for _, k := range keys {
		described := shape{"description": k.doc}
		for name, value := range k.shape {
			described[name] = value
		}
		properties[k.name] = described
		if k.need == required {
			names = append(names, k.name)
		}
	}
	return shape{"type": "object", "properties": properties, "required": names, "additionalProperties": false}
}

func listShape[T any](keys []key[T]) shape {
	return shape{"type": "array", "minItems": 1, "items": mappingShape(keys)}
}

func textShape() shape {
	return shape{"type": []string{"string", "number"}, "pattern": `\S`, "maxLength": maxText}
}

func textsShape() shape {
	one := textShape()
	return shape{"anyOf": []shape{one, {"type": "array", "items": one}}}
}

func idShape() shape {
	return shape{"anyOf": []shape{
		{"type": "string", "pattern": idText},
		{"type": "number", "minimum": 0},
	}}
}

func hoursShape() shape {
	return shape{"type": "number", "minimum": 0, "maximum": maxHours, "multipleOf": 0.01}
}

func minutesShape() shape {
	return shape{"type": "number", "minimum": 0, "maximum": maxMinutes}
}

func countShape(least, most int) shape {
	return shape{"type": "integer", "minimum": least, "maximum": most}
}

func formatShape() shape { return countShape(1, FormatVersion) }

func torqueShape() shape {
	var units []string
	for _, u := range TorqueUnits() {
		units = append(units, u.pattern())
	}
	return shape{
		"type":    "string",
		"pattern": fmt.Sprintf(`^\s*%s\s*(?:%s)\.?\s*$`, torqueNumber, strings.Join(units, "|")),
		"not":     shape{"pattern": `^\s*0+(?:\.0+)?\s*[^0-9.]`},
	}
}

func orderShape() shape { return shape{"enum": orderNames()} }

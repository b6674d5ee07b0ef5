package procedures

import (
	"encoding/json"
	"fmt"
	"maps"
	"reflect"
	"strings"
)

//go:generate go test -run TestSchemaFile -update .

// shape is a JSON Schema.
type shape map[string]any

// Schema is the JSON Schema (draft 2020-12) of the procedure file, for editors
// and other programs. It describes single values; what only shows between values,
// such as ids that meet twice, is left to Load.
func Schema() []byte {
	defs := shape{}
	s := define(mappingShape(procedureKeys()), defs).(shape)
	s["$defs"] = defs
	s["$schema"] = "https://json-schema.org/draft/2020-12/schema"
	s["title"] = "Procedure"
	s["description"] = "A repair procedure, read aloud one step at a time."
	text, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		panic("procedures: schema: " + err.Error()) // maps of strings and numbers always marshal
	}
	return append(text, '\n')
}

// nameKey names a shape that stands in many places: the schema holds it once.
const nameKey = "$name"

// define moves the shapes that have a name into defs and leaves references to
// them, each with its own description.
func define(s any, defs shape) any {
	switch s := s.(type) {
	case shape:
		m := shape{}
		for key, value := range s {
			m[key] = define(value, defs)
		}
		name, named := m[nameKey].(string)
		if !named {
			return m
		}
		ref := shape{"$ref": "#/$defs/" + name}
		if description, ok := m["description"]; ok {
			ref["description"] = description
		}
		delete(m, nameKey)
		delete(m, "description")
		defs[name] = m
		return ref
	case []shape:
		all := make([]shape, len(s))
		for i := range s {
			all[i] = define(s[i], defs).(shape)
		}
		return all
	default:
		return s
	}
}

func mappingShape[T any](keys []key[T]) shape {
	properties, names, later := shape{}, []string{}, []string{}
	for _, k := range keys {
		described := maps.Clone(k.shape)
		described["description"] = k.doc
		properties[k.name] = described
		switch k.need {
		case required:
			names = append(names, k.name)
		case reviewed:
			later = append(later, k.name)
		}
	}
	s := shape{"type": "object", "properties": properties, "required": names, "additionalProperties": false}
	if len(later) > 0 {
		s["if"] = shape{"properties": shape{"draft": shape{"const": true}}, "required": []string{"draft"}}
		s["else"] = shape{"required": later}
	}
	return s
}

// listShape is one value, or a list of them.
func listShape(one shape, least int) shape {
	list := shape{"type": "array", "maxItems": maxList, "items": one}
	if least > 0 {
		list["minItems"] = least
	}
	s := anyShape(fmt.Sprintf("list: %s", one["title"]), one, list)
	if name, named := one[nameKey].(string); named && least == 0 {
		s[nameKey] = "list-of-" + name
	}
	return s
}

func anyShape(title string, shapes ...shape) shape { return shape{"title": title, "anyOf": shapes} }

func textShape() shape {
	return shape{nameKey: "text", "title": "text", "type": []string{"string", "number"}, "pattern": `\S`, "maxLength": maxText}
}

func questionShape() shape {
	return shape{nameKey: "question", "title": "question", "type": "string", "pattern": `\?\s*$`, "maxLength": maxText}
}

func idShape() shape {
	return shape{nameKey: "id", "title": "id", "anyOf": []shape{
		{"type": "string", "pattern": idText},
		{"type": "number", "minimum": 0},
	}}
}

func countShape(least, most int) shape {
	return shape{"title": fmt.Sprintf("whole number, %d to %d", least, most), "type": "integer", "minimum": least, "maximum": most}
}

func namesShape(names []string) shape {
	return shape{"title": strings.Join(names, ", "), "enum": names}
}

func torqueShape() shape {
	return shape{nameKey: "torque", "title": "torque", "type": "string", "pattern": `^\s*` + torqueSpelling() + `\.?\s*$`, "not": shape{"pattern": `^\s*0+(?:\.0+)?\s*[^0-9.]`}}
}

// torqueSpelling matches a number with any unit of torque.
func torqueSpelling() string {
	var units []string
	for _, u := range TorqueUnits() {
		units = append(units, u.pattern())
	}
	return torqueNumber + `\s*(?:` + strings.Join(units, "|") + `)`
}

func eachShape() shape {
	value := shape{"type": []string{"string", "number"}, "pattern": eachText}
	return shape{
		"title": "a name with its values", "type": "object", "minProperties": 1, "maxProperties": 1,
		"propertyNames": shape{"pattern": nameText},
		"additionalProperties": shape{"anyOf": []shape{
			{"type": "string", "pattern": rangeText},
			{"type": "array", "minItems": 1, "maxItems": maxList, "items": value},
		}},
	}
}

// stepsShape is the list of steps and groups. Within a group every text may have
// {name} in it.
func stepsShape(keys []key[Step]) shape {
	list := func(entries ...shape) shape {
		return shape{"title": "list of steps and groups", "type": "array", "minItems": 1, "maxItems": maxSteps, "items": shape{"anyOf": entries}}
	}
	repeated := marked(mappingShape(keys)).(shape)
	repeated[nameKey] = "step-in-group"
	group := func(steps shape) shape { return mappingShape(groupKeys(value[node]{shape: steps})) }
	inner := group(list(repeated))
	return list(mappingShape(keys), group(list(repeated, inner)))
}

// marked is a shape in which any text may hold {name} in place of a value.
func marked(s any) any {
	switch s := s.(type) {
	case shape:
		m := shape{}
		for key, value := range s {
			if key == "not" {
				m[key] = value // what a text is not stays as it is
				continue
			}
			m[key] = marked(value)
		}
		pattern, isText := s["pattern"].(string)
		_, isName := s["enum"]
		if _, isMapping := s["properties"]; !isMapping && (isText && pattern != `\S` || isName) {
			either := shape{"anyOf": []shape{m, {"type": "string", "pattern": markText, "maxLength": maxText}}}
			for _, about := range []string{"title", "description"} {
				if text, ok := m[about]; ok {
					either[about] = text
				}
				delete(m, about)
			}
			delete(m, nameKey)
			m = either
		}
		if name, named := s[nameKey].(string); named && !reflect.DeepEqual(m, s) {
			m[nameKey] = name + "-in-group"
		}
		return m
	case []shape:
		all := make([]shape, len(s))
		for i := range s {
			all[i] = marked(s[i]).(shape)
		}
		return all
	default:
		return s
	}
}

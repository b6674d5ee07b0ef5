package courier

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// consent is which technicians agreed that the shop's other bays hear by their voices: shop-voices.json in a bay's data folder.
type consent struct {
	Agreed    []string `json:"agreed"`
	Withdrawn []string `json:"withdrawn,omitempty"` // and the shop not yet told
}

func consentFile(data string) string { return filepath.Join(data, "shop-voices.json") }

func readConsent(data string) (c consent, err error) {
	text, err := os.ReadFile(consentFile(data))
	if errors.Is(err, fs.ErrNotExist) {
		return consent{}, nil
	}
	if err == nil {
		err = json.Unmarshal(text, &c)
	}
	if err != nil {
		return consent{}, fmt.Errorf("read %s: %w; no voice is shared until it is put right", consentFile(data), err)
	}
	return c, nil
}

// person is how technicians are told apart: by their names, in small letters, with single spaces.
func person(technician string) (string, error) {
	name := strings.ToLower(strings.Join(strings.Fields(technician), " "))
	if name == "" || strings.ContainsAny(name, "/\x00") {
		return "", fmt.Errorf("voice of %q: whose? Give the technician's name", technician)
	}
	return name, nil
}

// Agree notes that a technician's voice may go to the shop and its other bays. Only that person may say so.
func Agree(data, technician string) error {
	return amend(data, technician, func(c *consent, name string) {
		c.Withdrawn = without(c.Withdrawn, name)
		c.Agreed = append(without(c.Agreed, name), name)
	})
}

// Withdraw notes that a technician's voice may no longer be shared: it is removed from the shop, and from the bays that have it from there, as soon
// as each reaches the shop. What was taught in this bay stays in it.
func Withdraw(data, technician string) error {
	return amend(data, technician, func(c *consent, name string) {
		c.Agreed = without(c.Agreed, name)
		c.Withdrawn = append(without(c.Withdrawn, name), name)
	})
}

// Agreed lists the technicians who agreed, by name.
func Agreed(data string) ([]string, error) {
	c, err := readConsent(data)
	slices.Sort(c.Agreed)
	return c.Agreed, err
}

func amend(data, technician string, how func(c *consent, name string)) error {
	name, err := person(technician)
	if err != nil {
		return err
	}
	c, err := readConsent(data)
	if err != nil {
		return err
	}
	how(&c, name)
	return writeJSON(consentFile(data), c)
}

func without(names []string, name string) []string {
	return slices.DeleteFunc(slices.Clone(names), func(n string) bool { return n == name })
}

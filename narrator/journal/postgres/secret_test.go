package postgres_test

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"testing"

	"stepcaller/narrator/journal/postgres"
)

// The worked example of RFC 7677, section 3: both proofs that were exchanged must follow from what we would have stored.
func TestVerifierByTheStandardsExample(t *testing.T) {
	salt, err := base64.StdEncoding.DecodeString("W22ZaJ0SNY7soEsUEjb6gQ==")
	must(t, err)
	got, err := postgres.VerifierOf("pencil", salt, 4096)
	must(t, err)
	stored, server, ok := strings.Cut(strings.TrimPrefix(got, "SCRAM-SHA-256$4096:W22ZaJ0SNY7soEsUEjb6gQ==$"), ":")
	if !ok {
		t.Fatal(got)
	}
	nonce := `r=rOprNGfwEbeRWgbNEkqO%hvYDpWUa2RaTCAfuxFIlj)hNlF$k0`
	exchange := "n=user,r=rOprNGfwEbeRWgbNEkqO," + nonce + ",s=W22ZaJ0SNY7soEsUEjb6gQ==,i=4096,c=biws," + nonce
	if signature := base64.StdEncoding.EncodeToString(sign(t, server, exchange)); signature != "6rriTRBi23WpRR/wtup+mMhUZUn/dB5nLTJRsjl95G4=" {
		t.Errorf("the server signs %s", signature)
	}
	key, err := base64.StdEncoding.DecodeString("dHzbZapWIk4jUhN+Ute9ytag9zjfMHgsqmmiz7AndVQ=")
	must(t, err)
	for i, b := range sign(t, stored, exchange) {
		key[i] ^= b
	}
	if sum := sha256.Sum256(key); base64.StdEncoding.EncodeToString(sum[:]) != stored {
		t.Error("the client's proof does not fit what is stored")
	}
}

func sign(t *testing.T, key, text string) []byte {
	t.Helper()
	raw, err := base64.StdEncoding.DecodeString(key)
	must(t, err)
	mac := hmac.New(sha256.New, raw)
	mac.Write([]byte(text))
	return mac.Sum(nil)
}

package postgres

import (
	"crypto/hmac"
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
)

// rounds is PostgreSQL's own default (scram_iterations).
const rounds = 4096

// verifier is what PostgreSQL stores of a password, so that the password itself is in no statement and no log of the server's: SCRAM-SHA-256, RFC 5802 and 7677.
func verifier(password string) (string, error) {
	salt := make([]byte, 16)
	_, _ = rand.Read(salt) // never fails
	return verifierOf(password, salt, rounds)
}

func verifierOf(password string, salt []byte, rounds int) (string, error) {
	salted, err := pbkdf2.Key(sha256.New, password, salt, rounds, sha256.Size)
	if err != nil {
		return "", err
	}
	client := sha256.Sum256(keyed(salted, "Client Key"))
	text := base64.StdEncoding.EncodeToString
	return fmt.Sprintf("SCRAM-SHA-256$%d:%s$%s:%s", rounds, text(salt), text(client[:]), text(keyed(salted, "Server Key"))), nil
}

func keyed(key []byte, text string) []byte {
	mac := hmac.New(sha256.New, key)
	_, _ = mac.Write([]byte(text)) // never fails
	return mac.Sum(nil)
}

// tokenSum is what is kept of a token.
func tokenSum(token string) []byte {
	sum := sha256.Sum256([]byte(token))
	return sum[:]
}

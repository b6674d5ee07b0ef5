package pgtest

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"time"
)

// issuer signs certificates.
type issuer struct {
	certificate *x509.Certificate
	key         *ecdsa.PrivateKey
}

// writeCertificates makes the files of a new issuer, of a server's certificate by it, and of another issuer that signed nothing.
func writeCertificates(dir string) error {
	ca, err := newIssuer(filepath.Join(dir, "ca.crt"))
	if err != nil {
		return err
	}
	if _, err := newIssuer(filepath.Join(dir, "stranger.crt")); err != nil {
		return err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	server := certificate("pgtest server")
	server.DNSNames = []string{"localhost", "shop.example"}
	server.IPAddresses = []net.IP{net.IPv4(127, 0, 0, 1)}
	server.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
	der, err := x509.CreateCertificate(rand.Reader, server, ca.certificate, &key.PublicKey, ca.key)
	if err != nil {
		return err
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	return errors.Join(err, writePEM(filepath.Join(dir, "server.crt"), "CERTIFICATE", der), writePEM(filepath.Join(dir, "server.key"), "PRIVATE KEY", secret))
}

// newIssuer makes an issuer and writes its certificate.
func newIssuer(path string) (issuer, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return issuer{}, err
	}
	c := certificate("pgtest issuer")
	c.IsCA, c.BasicConstraintsValid, c.KeyUsage = true, true, x509.KeyUsageCertSign
	der, err := x509.CreateCertificate(rand.Reader, c, c, &key.PublicKey, key)
	if err != nil {
		return issuer{}, err
	}
	made, err := x509.ParseCertificate(der)
	return issuer{made, key}, errors.Join(err, writePEM(path, "CERTIFICATE", der))
}

// certificate is what all of them have: valid for a day.
func certificate(name string) *x509.Certificate {
	serial, _ := rand.Int(rand.Reader, big.NewInt(1<<62)) // the reader never fails
	return &x509.Certificate{SerialNumber: serial, Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(24 * time.Hour)}
}

func writePEM(path, kind string, der []byte) error {
	return os.WriteFile(path, pem.EncodeToMemory(&pem.Block{Type: kind, Bytes: der}), 0o600)
}

package pgtest

import (
	"errors"
	"net"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"syscall"
)

// newestServer is the folder of the newest server that Debian's packages have installed, "" for none.
func newestServer() string {
	servers, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil {
		return ""
	}
	folder, newest := "", 0
	for _, path := range servers {
		bin := filepath.Dir(path)
		if version, err := strconv.Atoi(filepath.Base(filepath.Dir(bin))); err == nil && version > newest {
			folder, newest = bin, version
		}
	}
	return folder
}

// unprivileged is whom a server that refuses to be run by root is run by: nil for whoever runs the tests, where that is not root.
func unprivileged() (*syscall.Credential, error) {
	if os.Geteuid() != 0 {
		return nil, nil
	}
	who, err := user.Lookup("postgres")
	if err != nil {
		who, err = user.Lookup("nobody")
	}
	if err != nil {
		return nil, err
	}
	uid, err := strconv.ParseUint(who.Uid, 10, 32)
	gid, err2 := strconv.ParseUint(who.Gid, 10, 32)
	return &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}, errors.Join(err, err2)
}

// freePort is a port of loopback that nobody listens on.
func freePort() (int, error) {
	l, err := net.Listen("tcp4", "127.0.0.1:0")
	if err != nil {
		return 0, err
	}
	return l.Addr().(*net.TCPAddr).Port, l.Close()
}

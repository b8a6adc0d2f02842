package main

import (
	"archive/tar"
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// file is one of an archive.
type file struct {
	name string
	text []byte
	mode int64
}

func appendFile(files []file, name, from string, mode int64) ([]file, error) {
	text, err := os.ReadFile(from)
	return append(files, file{name, text, mode}), err
}

// writeArchive writes files without an owner, all with the same time.
func writeArchive(name string, files []file, made time.Time) error {
	var b bytes.Buffer
	archive := tar.NewWriter(&b)
	for _, f := range files {
		err := archive.WriteHeader(&tar.Header{Name: f.name, Mode: f.mode, Size: int64(len(f.text)), ModTime: made})
		if err != nil {
			return err
		}
		archive.Write(f.text) // into memory, which never fails
	}
	if err := archive.Close(); err != nil {
		return err
	}
	return os.WriteFile(name, packed(b.Bytes()), 0o644)
}

// packed returns a text packed by gzip, with neither a name nor a time.
func packed(text []byte) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestCompression)
	w.Write(text) // into memory, which never fails
	w.Close()
	return b.Bytes()
}

// writeSums writes the checksums of all that was made, for sha256sum -c.
func (r *release) writeSums() error {
	made, err := os.ReadDir(r.out)
	if err != nil {
		return err
	}
	var sums strings.Builder
	for _, f := range made {
		text, err := os.ReadFile(filepath.Join(r.out, f.Name()))
		if err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(text), f.Name())
	}
	return os.WriteFile(filepath.Join(r.out, "SHA256SUMS"), []byte(sums.String()), 0o644)
}

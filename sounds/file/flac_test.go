package file

import (
	"bytes"
	"crypto/md5"
	"math"
	"testing"
	"unicode/utf8"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/meta"
	"pgregory.net/rapid"
)

func md5Of(b []byte) [md5.Size]byte { return md5.Sum(b) }

// vorbisTitle returns the title in a stream's metadata, "" where there is none.
func vorbisTitle(s *flac.Stream) string {
	for _, b := range s.Blocks {
		if c, ok := b.Body.(*meta.VorbisComment); ok {
			for _, tag := range c.Tags {
				if tag[0] == "TITLE" {
					return tag[1]
				}
			}
		}
	}
	return ""
}

// list is a source of given samples.
type list []int16

func (l list) Len() int                 { return len(l) }
func (l list) Fill(dst []int16, at int) { copy(dst, l[at:]) }

// Whatever the samples are, another implementation reads them back.
func TestFLACOfAnySamples(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(r *rapid.T) {
		most := rapid.SampledFrom([]int16{0, 1, 3, 100, math.MaxInt16}).Draw(r, "most")
		l := list(rapid.SliceOfN(rapid.Int16Range(-most, most), 0, 100).Draw(r, "samples"))
		if rapid.Bool().Draw(r, "whole") { // frames, with partitions
			for len(l) > 0 && len(l) < 2*flacFrame {
				l = append(l, l...)
			}
		}
		p, err := Create(dir+"/a.flac", true)
		if err != nil {
			r.Fatal(err)
		}
		defer p.Discard()
		if err := writeFLAC(t.Context(), p, l, Options{Progress: func(int, int) {}}); err != nil {
			r.Fatal(err)
		}
		checkFLAC(t, read(t, p.file.Name()), l, "")
		if t.Failed() {
			r.Fatal("wrong file")
		}
	})
}

// Up to where UTF-8 goes the numbers of frames are coded as it does, but for
// the ones that are no characters; beyond, RFC 9639 goes on in the same way.
func TestCodedNumber(t *testing.T) {
	for n := 0; n <= utf8.MaxRune; n++ {
		if utf8.ValidRune(rune(n)) {
			if got, want := coded(n), utf8.AppendRune(nil, rune(n)); !bytes.Equal(got, want) {
				t.Fatalf("%d: % x, want % x", n, got, want)
			}
		}
	}
	for _, c := range []struct {
		n    int
		want []byte
	}{
		{0xD800, []byte{0xED, 0xA0, 0x80}},
		{1<<26 - 1, []byte{0xFB, 0xBF, 0xBF, 0xBF, 0xBF}},
		{1 << 26, []byte{0xFC, 0x84, 0x80, 0x80, 0x80, 0x80}},
		{1<<31 - 1, []byte{0xFD, 0xBF, 0xBF, 0xBF, 0xBF, 0xBF}},
	} {
		if got := coded(c.n); !bytes.Equal(got, c.want) {
			t.Errorf("%d: % x, want % x", c.n, got, c.want)
		}
	}
}

// What a CRC makes of the text "123456789" is how its kind is told: common
// practice, no source.
func TestCRC(t *testing.T) {
	digits := []byte("123456789")
	if c := crc8(digits); c != 0xF4 {
		t.Errorf("CRC-8 %#x, want 0xf4", c)
	}
	if c := crc16(digits); c != 0xFEE8 {
		t.Errorf("CRC-16 %#x, want 0xfee8", c)
	}
}

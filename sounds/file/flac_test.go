package file

import (
	"crypto/md5"
	"math"
	"testing"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/meta"
	"pgregory.net/rapid"

	"glidepace/sessions/safefile"
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
		p, err := safefile.Create(dir+"/a.flac", true)
		if err != nil {
			r.Fatal(err)
		}
		defer p.Discard()
		if err := writeFLAC(t.Context(), p, l, Options{Progress: func(int, int) {}}); err != nil {
			r.Fatal(err)
		}
		checkFLAC(t, read(t, p.Temporary()), l, "")
		if t.Failed() {
			r.Fatal("wrong file")
		}
	})
}

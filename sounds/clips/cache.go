package clips

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"

	"github.com/adrg/xdg"

	"glidepace/sessions/safefile"
	"glidepace/sounds/voice"
)

// processing stands for all that happens to a sound until it is a clip: with
// another number every clip is made anew.
const processing = 1

// cache keeps finished clips as WAV files in a folder, each named after what
// it is made of and how. Anyone may delete them at any time. None is deleted
// here: a new one comes only when a text, a recording or espeak-ng changes,
// and a whole voice is a few megabytes.
//
// A folder that cannot be written costs time and nothing else.
type cache struct{ folder string }

// defaultCache is glidepace/voice under the XDG cache folder ($XDG_CACHE_HOME
// as it is now, else the system's usual place).
func defaultCache() string {
	xdg.Reload() // the library reads the environment only once, at start
	return filepath.Join(xdg.CacheHome, "glidepace", "voice")
}

// path returns where the clip made of a source of some kind is kept.
func (c cache) path(kind string, source []byte) string {
	h := sha256.New()
	fmt.Fprintf(h, "%d %v %v %s\n", processing, voice.Loudness, voice.Ceiling, kind)
	h.Write(source)
	return filepath.Join(c.folder, fmt.Sprintf("%x.wav", h.Sum(nil)))
}

// get returns the clip at a path, nil where there is none or it is damaged.
func (c cache) get(path string) voice.Clip {
	file, err := readFile(path)
	frames := (len(file) - headerSize - trailerSize) / 2
	if err != nil || frames <= 0 || !bytes.HasPrefix(file, header(frames)) {
		return nil
	}
	data := file[headerSize : headerSize+2*frames]
	if !bytes.HasSuffix(file, trailer(data)) {
		return nil
	}
	clip := make(voice.Clip, frames)
	for i := range clip {
		clip[i] = int16(binary.LittleEndian.Uint16(data[2*i:]))
	}
	return clip
}

// put keeps a clip. The file gets its name when it is whole, so that another
// run never finds a part of it.
func (c cache) put(path string, clip voice.Clip) {
	if os.MkdirAll(c.folder, 0o700) != nil {
		return
	}
	file := header(len(clip))
	for _, x := range clip {
		file = binary.LittleEndian.AppendUint16(file, uint16(x))
	}
	safefile.Write(path, append(file, trailer(file[headerSize:])...))
}

const (
	headerSize  = 44
	trailerSize = 12
)

// header returns the start of a WAV file of one channel, 48 kHz and 16 bits.
func header(frames int) []byte {
	le := binary.LittleEndian
	h := le.AppendUint32([]byte("RIFF"), uint32(headerSize-8+2*frames+trailerSize))
	h = append(h, "WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00"...)
	h = le.AppendUint32(h, rate)
	h = le.AppendUint32(h, 2*rate)
	h = append(h, "\x02\x00\x10\x00data"...)
	return le.AppendUint32(h, uint32(2*frames))
}

// trailer returns a chunk with the checksum of data, which players skip: what a
// disk that fails makes of a clip is not to be heard.
func trailer(data []byte) []byte {
	return binary.LittleEndian.AppendUint32([]byte("crc \x04\x00\x00\x00"), crc32.ChecksumIEEE(data))
}

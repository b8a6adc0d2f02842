package clips

import (
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

// processing stands for everything that happens to a sound until it is a clip.
// With another number every clip is made anew.
const processing = 1

// cache keeps finished clips in a folder, each in a file named after what it is
// made of and how: a checksum, then the samples. Anyone may delete the files at
// any time. None is deleted here: a new one comes only when a text, a recording
// or espeak-ng changes, and a whole voice is a few megabytes.
//
// A folder that cannot be written costs time and nothing else.
type cache struct{ folder string }

// defaultCache is glidepace/voice under the XDG cache folder: $XDG_CACHE_HOME, or
// else the system's usual place.
func defaultCache() string {
	xdg.Reload() // the library reads the environment only once, at start
	return filepath.Join(xdg.CacheHome, "glidepace", "voice")
}

// path returns where the clip made of a source of some kind is kept.
func (c cache) path(kind string, source []byte) string {
	h := sha256.New()
	fmt.Fprintf(h, "%d %v %v %s\n", processing, voice.Loudness, voice.Ceiling, kind)
	h.Write(source)
	return filepath.Join(c.folder, fmt.Sprintf("%x.clip", h.Sum(nil)))
}

// get returns the clip at a path, nil where there is none or it is damaged: what
// a failing disk makes of a clip must not be heard.
func (c cache) get(path string) voice.Clip {
	file, err := readFile(path)
	if err != nil || len(file) <= crc32.Size {
		return nil
	}
	sum, data := binary.LittleEndian.Uint32(file), file[crc32.Size:]
	clip := make([]int16, len(data)/2)
	if _, err := binary.Decode(data, binary.LittleEndian, clip); err != nil || crc32.ChecksumIEEE(data) != sum {
		return nil
	}
	return clip
}

// frames returns how long the clip at a path is, 0 where there is none.
func (c cache) frames(path string) int {
	info, err := os.Stat(path)
	if err != nil || info.Size() <= crc32.Size {
		return 0
	}
	return int(min(info.Size(), largest)-crc32.Size) / 2
}

// put keeps a clip. The file gets its name when it is whole, so another run
// never finds a part of it.
func (c cache) put(path string, clip voice.Clip) {
	if os.MkdirAll(c.folder, 0o700) != nil {
		return
	}
	file, _ := binary.Append(make([]byte, crc32.Size), binary.LittleEndian, []int16(clip)) // never fails
	binary.LittleEndian.PutUint32(file, crc32.ChecksumIEEE(file[crc32.Size:]))
	safefile.Write(path, file)
}

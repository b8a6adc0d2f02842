package file

import (
	"bytes"
	"context"
	"crypto/md5"
	"encoding/binary"
	"io"
	"math/bits"

	"github.com/mewkiz/flac"
	"github.com/mewkiz/flac/meta"
)

const (
	flacFrame      = 4096 // samples a frame, but for the last
	partitionOrder = 3    // 8 partitions of a frame, each with its own parameter
	mostOrder      = 4    // of a fixed predictor
	mostParameter  = 14   // of Rice coding with 4 bits
)

// writeFLAC writes 16-bit FLAC (RFC 9639) with a title, the length and the
// MD5 of the samples.
func writeFLAC(ctx context.Context, p *Pending, s Source, o Options) error {
	info := &meta.StreamInfo{
		BlockSizeMin: flacFrame, BlockSizeMax: flacFrame,
		SampleRate: Rate, NChannels: 1, BitsPerSample: 16, NSamples: uint64(s.Len()),
	}
	comment := &meta.VorbisComment{Vendor: "glidepace"}
	if o.Title != "" {
		comment.Tags = append(comment.Tags, [2]string{"TITLE", o.Title})
	}
	// The encoder works the length out, but takes 0 for a block without body.
	blocks := []*meta.Block{{Header: meta.Header{Type: meta.TypeVorbisComment, Length: 1}, Body: comment}}
	metadata := func() error {
		var b bytes.Buffer
		if _, err := flac.NewEncoder(&b, info, blocks...); err != nil {
			return err
		}
		_, err := p.Write(b.Bytes())
		return err
	}
	if err := metadata(); err != nil {
		return err
	}
	sum := md5.New()
	err := inOrder(ctx, s, encodeFLAC, func(b *block) error {
		sum.Write(b.pcm)
		if _, err := p.Write(b.encoded); err != nil {
			return err
		}
		o.Progress(b.at+len(b.samples), s.Len())
		return nil
	})
	if err != nil {
		return err
	}
	// The MD5 comes before the samples: the metadata once more, of the same
	// size.
	sum.Sum(info.MD5sum[:0])
	if _, err := p.Seek(0, io.SeekStart); err != nil {
		return err
	}
	return metadata()
}

// encodeFLAC encodes the frames of a block.
func encodeFLAC(b *block) {
	w := bitWriter{buf: b.encoded[:0]}
	for i := 0; i < len(b.samples); i += flacFrame {
		w.frame(b.samples[i:min(i+flacFrame, len(b.samples))], (b.at+i)/flacFrame)
	}
	b.encoded = w.buf
}

// bitWriter writes numbers of bits, the highest first.
type bitWriter struct {
	buf  []byte
	last uint64 // the lowest n bits of it are not yet in buf
	n    uint   // under 32
}

// put writes the lowest n bits of v, up to 32, and no others may be set.
func (w *bitWriter) put(v uint64, n uint) {
	w.last = w.last<<n | v
	if w.n += n; w.n >= 32 {
		w.n -= 32
		w.buf = binary.BigEndian.AppendUint32(w.buf, uint32(w.last>>w.n))
	}
}

// align fills the last byte with zeros and brings all bits to buf.
func (w *bitWriter) align() {
	w.put(0, -w.n%8)
	for ; w.n > 0; w.n -= 8 {
		w.buf = append(w.buf, byte(w.last>>(w.n-8)))
	}
}

// frame writes a frame of one channel: RFC 9639, section 9.
func (w *bitWriter) frame(samples []int16, number int) {
	start := len(w.buf)
	w.put(0b11111111_11111000, 16)    // sync, frames of one size
	w.put(0b0111_1010, 8)             // size in 16 bits below, 48 kHz
	w.put(0b0000_1000, 8)             // one channel, 16 bits
	for _, c := range coded(number) { // UTF-8, as far as it goes
		w.put(uint64(c), 8)
	}
	w.put(uint64(len(samples)-1), 16)
	w.align()
	w.put(uint64(crc8(w.buf[start:])), 8)

	if constant(samples) {
		w.put(0b0_000000_0, 8)
		w.put(uint64(uint16(samples[0])), 16)
	} else {
		w.predicted(samples)
	}
	w.align()
	w.put(uint64(crc16(w.buf[start:])), 16)
	w.align()
}

// coded returns a frame's number in UTF-8, as if it were a character: up to
// 2^31.
func coded(number int) []byte {
	if number < 1<<7 {
		return []byte{byte(number)}
	}
	var c []byte
	for more := 1; ; more++ { // bytes of six bits after the first
		if uint64(number) < 1<<(6*more+6-more) {
			c = append(c, byte(0xFF)<<(7-more)|byte(number>>(6*more)))
			for i := more - 1; i >= 0; i-- {
				c = append(c, 0x80|byte(number>>(6*i))&0x3F)
			}
			return c
		}
	}
}

func constant(samples []int16) bool {
	for _, x := range samples {
		if x != samples[0] {
			return false
		}
	}
	return true
}

// predicted writes a subframe with a fixed predictor.
func (w *bitWriter) predicted(samples []int16) {
	order := bestOrder(samples)
	w.put(0b0_001000_0|uint64(order)<<1, 8)
	for _, x := range samples[:order] {
		w.put(uint64(uint16(x)), 16)
	}
	var all [flacFrame]uint32
	residuals := all[:len(samples)]
	predict(residuals, samples, order)

	partitions := uint(0)
	if len(samples) == flacFrame {
		partitions = partitionOrder
	}
	w.put(0, 2) // parameters of 4 bits
	w.put(uint64(partitions), 4)
	size := len(samples) >> partitions
	for i := 0; i < len(samples); i += size {
		w.rice(residuals[max(i, order) : i+size])
	}
}

// bestOrder returns the order of the fixed predictor with the smallest
// residuals: each order's are the differences of the one below it.
func bestOrder(samples []int16) int {
	if len(samples) <= mostOrder {
		return 0
	}
	var last [mostOrder]int32 // the residual of each order at the sample before
	var sum [mostOrder + 1]uint64
	for i, x := range samples {
		r0 := int32(x)
		r1 := r0 - last[0]
		r2 := r1 - last[1]
		r3 := r2 - last[2]
		r4 := r3 - last[3]
		last = [mostOrder]int32{r0, r1, r2, r3}
		if i >= mostOrder {
			sum[0] += uint64(max(r0, -r0))
			sum[1] += uint64(max(r1, -r1))
			sum[2] += uint64(max(r2, -r2))
			sum[3] += uint64(max(r3, -r3))
			sum[4] += uint64(max(r4, -r4))
		}
	}
	best := 0
	for order := range sum {
		if sum[order] < sum[best] {
			best = order
		}
	}
	return best
}

// predict writes the residuals from order on, folded: 0, −1, 1, −2 … are 0, 1,
// 2, 3 …
func predict(residuals []uint32, samples []int16, order int) {
	var last [mostOrder]int32
	for i, x := range samples {
		r := int32(x)
		for k := range order {
			r, last[k] = r-last[k], r
		}
		residuals[i] = uint32(r<<1 ^ r>>31)
	}
}

// rice writes a partition.
func (w *bitWriter) rice(residuals []uint32) {
	var sum uint64
	for _, r := range residuals {
		sum += uint64(r)
	}
	// Residuals are nearly geometrically distributed. The best 2^k then lies
	// between ln 2 of their mean and twice that; trying every k makes files
	// smaller by no more than 0.1 %.
	var k uint
	if n := uint64(len(residuals)); n > 0 {
		k = min(mostParameter, uint(bits.Len64(sum*11/(16*n))))
	}
	w.put(uint64(k), 4)
	for _, r := range residuals {
		zeros := uint(r >> k)
		for ; zeros > 31-mostParameter; zeros -= 16 {
			w.put(0, 16)
		}
		w.put(1<<k|uint64(r)&(1<<k-1), zeros+1+k)
	}
}

// crc8 has the polynomial x^8 + x^2 + x + 1.
func crc8(b []byte) (crc uint8) {
	for _, x := range b {
		crc = crc8Table[crc^x]
	}
	return crc
}

// crc16 has the polynomial x^16 + x^15 + x^2 + 1.
func crc16(b []byte) (crc uint16) {
	for _, x := range b {
		crc = crc<<8 ^ crc16Table[byte(crc>>8)^x]
	}
	return crc
}

var (
	crc8Table  [256]uint8
	crc16Table [256]uint16
)

func init() {
	for i := range 256 {
		c8, c16 := uint8(i), uint16(i)<<8
		for range 8 {
			c8 = c8<<1 ^ c8>>7*0x07
			c16 = c16<<1 ^ c16>>15*0x8005
		}
		crc8Table[i], crc16Table[i] = c8, c16
	}
}

package file

import (
	"context"
	"encoding/binary"
	"runtime"
	"sync"
)

const (
	blockFrames = 16 * flacFrame // 1.4 s
	mostWorkers = 4              // more would only wait for the writer
)

// block is a run of frames. Blocks are used again.
type block struct {
	at      int // its first frame
	samples []int16
	pcm     []byte // the samples, low byte first
}

func (b *block) fill(s Source, at int) {
	n := min(blockFrames, s.Len()-at)
	if b.samples == nil {
		b.samples, b.pcm = make([]int16, blockFrames), make([]byte, 2*blockFrames)
	}
	b.at, b.samples, b.pcm = at, b.samples[:n], b.pcm[:2*n]
	s.Fill(b.samples, at)
	for i, x := range b.samples {
		binary.LittleEndian.PutUint16(b.pcm[2*i:], uint16(x))
	}
}

// inOrder fills the blocks of s, several at a time, and calls use with one after
// the other, in order. It ends at the first error of use, or when ctx does.
func inOrder(ctx context.Context, s Source, use func(*block) error) error {
	workers := min(runtime.GOMAXPROCS(0), mostWorkers)
	blocks := make([]block, workers+1) // one is used while the others are filled
	filled := make([]chan struct{}, len(blocks))
	for i := range filled {
		filled[i] = make(chan struct{}, 1)
	}
	todo := make(chan int, len(blocks)) // numbers of blocks
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for n := range todo {
				i := n % len(blocks)
				blocks[i].fill(s, n*blockFrames)
				filled[i] <- struct{}{}
			}
		})
	}
	defer wg.Wait()
	defer close(todo)

	count := (s.Len() + blockFrames - 1) / blockFrames
	for n := range min(len(blocks), count) {
		todo <- n
	}
	for n := range count {
		i := n % len(blocks)
		<-filled[i]
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := use(&blocks[i]); err != nil {
			return err
		}
		if next := n + len(blocks); next < count {
			todo <- next
		}
	}
	return nil
}

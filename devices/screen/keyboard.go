package screen

import (
	"os"
	"sync"
	"sync/atomic"
	"time"
)

// settle is how long a key waits for the news that the program was stopped when
// it was pressed. That took 0.2 ms at most, and 1.3 ms on a busy machine.
const settle = 5 * time.Millisecond

// keyboard is a terminal that keys are read from.
type keyboard struct {
	*os.File
	take   func() error // makes it give keys
	lost   func()       // says that nothing can be read any more; may be nil
	wentOn atomic.Pointer[time.Time]
}

// keyboards are those that keys are read from now.
var keyboards = struct {
	sync.Mutex
	open map[*keyboard]bool
}{open: map[*keyboard]bool{}}

// WentOn says that the program goes on after it was stopped, as by Ctrl-Z. A
// shell makes the terminal one for lines meanwhile: keys are taken again. What
// was typed before was not typed for the program, and is thrown away.
func WentOn() {
	keyboards.Lock()
	defer keyboards.Unlock()
	for k := range keyboards.open {
		k.take()
		dropTyped(int(k.Fd()))
		now := time.Now()
		k.wentOn.Store(&now)
	}
}

// open has WentOn know of k until close.
func (k *keyboard) open() (close func()) {
	keyboards.Lock()
	defer keyboards.Unlock()
	keyboards.open[k] = true
	return func() {
		keyboards.Lock()
		defer keyboards.Unlock()
		delete(keyboards.open, k)
	}
}

// Read reads keys. It may be faster than the news that the program goes on.
func (k *keyboard) Read(b []byte) (int, error) {
	n, err := k.File.Read(b)
	if err != nil && k.lost != nil {
		k.lost()
	}
	if n > 0 {
		time.Sleep(settle)
		if at := k.wentOn.Load(); at != nil && time.Since(*at) < 2*settle {
			n = 0
		}
	}
	return n, err
}

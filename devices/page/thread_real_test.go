//go:build real

package page

import (
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/heapprofiler"
	cdpruntime "github.com/chromedp/cdproto/runtime"

	"glidepace/sessions/browsertest"
)

// On a processor slowed down four times, nothing holds the page up for more than 50 ms
// while it paces. A machine that does other work makes tasks longer: the best of a few
// sessions counts.
func TestPageHasNoLongTasks(t *testing.T) {
	var long []float64
	for range attempts {
		x := open(t, short, ahead("chrt", "-r", "1"))
		browsertest.Call(x.Browser, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: 4})
		x.begin()
		x.until("repetition 1 of 2")
		browsertest.Eval[bool](x.Browser, `(globalThis.long = [], new PerformanceObserver(list =>
			list.getEntries().forEach(e => long.push(e.duration))).observe({type: "longtask"}), true)`)
		time.Sleep(8 * time.Second) // this session has two repetitions
		long = browsertest.Eval[[]float64](x.Browser, "long")
		t.Logf("tasks over 50 ms: %.0f", long)
		if len(long) == 0 {
			return
		}
	}
	t.Errorf("in each of %d sessions there were tasks over 50 ms; in the last: %.0f", attempts, long)
}

// The memory of the page does not grow while it paces. It is looked at for a minute, or
// for as many as MINUTES in the environment says.
func TestPageMemoryIsFlat(t *testing.T) {
	t.Parallel()
	minutes, _ := strconv.Atoi(os.Getenv("MINUTES"))
	minutes = max(minutes, 1)
	// A session of 40 minutes.
	x := open(t, strings.NewReplacer("reps: 2", "reps: 30, sets: 10", "rate: 15", "rate: 8").Replace(short), ahead("chrt", "-r", "1"))
	x.begin()
	x.until("repetition 1 of 30")
	var used []float64
	for range 2*minutes + 1 {
		time.Sleep(30 * time.Second)
		browsertest.Call(x.Browser, heapprofiler.CollectGarbage, cdp.Empty{})
		u := browsertest.Call(x.Browser, cdpruntime.GetHeapUsage, cdp.Empty{})
		used = append(used, (u.UsedSize+u.BackingStorageSize)/1e6)
		if browsertest.Eval[string](x.Browser, `document.getElementById("word").textContent`) == "PAUSED" { // the machine stood still
			t.Logf("paused after %.1f minutes", float64(len(used))/2)
			x.tap("Go on")
		}
		x.until("repetition ") // it still paces
	}
	t.Logf("MB in use, every half minute: %.1f", used)
	third := len(used) / 3 // it rises and falls by 9 MB as the program in the page collects its garbage
	if first, last := slices.Min(used[:third]), slices.Min(used[len(used)-third:]); last > first+10 {
		t.Errorf("at least %.1f MB became at least %.1f", first, last)
	}
}

package gpio

import (
	"testing"
	"testing/synctest"
	"time"

	periph "periph.io/x/conn/v3/gpio"
	"periph.io/x/conn/v3/gpio/gpiotest"

	"glidepace/devices/buzzer"
)

// libraryPin is the library's own fake pin, with the moments at which its level
// changed.
type libraryPin struct {
	gpiotest.Pin
	began time.Time
	edges []buzzer.Edge
}

func (p *libraryPin) Out(l periph.Level) error {
	before := p.Read()
	err := p.Pin.Out(l)
	if l != before {
		p.edges = append(p.edges, buzzer.Edge{At: time.Since(p.began), On: bool(l)})
	}
	return err
}

func (p *libraryPin) Close() {}

// Every pattern comes through an Output to the library's pin, to the
// millisecond.
func TestPatternsOnTheLibrarysPin(t *testing.T) {
	for _, pattern := range buzzer.Patterns() {
		synctest.Test(t, func(t *testing.T) {
			pin := &libraryPin{Pin: gpiotest.Pin{N: "GPIO17", Num: 17}, began: time.Now()}
			out, err := openOutput("GPIO17", "", pin)
			if err != nil {
				t.Fatal(err)
			}
			b := buzzer.New(buzzer.NewPinMotor(out, buzzer.DefaultLead), buzzer.DefaultLead, func(err error) { t.Error(err) })
			b.Play(pattern)
			time.Sleep(5 * time.Second)
			b.Close()
			want := pattern.Edges(buzzer.DefaultLead)
			if len(pin.edges) != len(want) {
				t.Fatalf("%s: %d edges, want %d", pattern.Name, len(pin.edges), len(want))
			}
			for i, e := range pin.edges {
				if off := e.At - want[i].At; e.On != want[i].On || off.Abs() >= time.Millisecond {
					t.Errorf("%s: edge %d is %+v, want %+v", pattern.Name, i, e, want[i])
				}
			}
			if err := out.Close(); err != nil || pin.Read() != periph.Low {
				t.Errorf("%s: closed, the pin is %v (%v)", pattern.Name, pin.Read(), err)
			}
		})
	}
}

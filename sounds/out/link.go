package out

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/jfreymuth/pulse/proto"

	"glidepace/sounds"
)

const (
	connectTimeout = 2 * time.Second        // for a server to take us, and to make a stream
	answerTimeout  = 750 * time.Millisecond // for anything else
	writeTimeout   = time.Second

	// The queue at the server outlasts the longest stall seen on a busy
	// machine (268 ms); it asks for more in pieces of a quarter.
	queueFrames   = int(sounds.SampleRate) * 300 / 1000
	requestFrames = queueFrames / 4
)

// A link is a connection to a sound server. Package proto speaks the protocol
// but loses most errors of the connection and, on a few of them, never returns;
// so the connection it gets is the link itself, for which any error is the end.
type link struct {
	conn  net.Conn
	pulse proto.Client

	wake chan struct{} // gets a token when news or the end have come
	free func() bool   // lets go of the context

	stepping bool // the server is PipeWire: see stream.step

	mu   sync.Mutex
	err  error            // why it ended
	news map[uint32]*news // by stream
}

// errMute is the error of a request to which no answer came.
var errMute = errors.New("the sound server does not answer")

// news is what a server told of a stream without being asked.
type news struct {
	frames    int  // that it wants to have
	disturbed bool // its position may have jumped
}

// dial connects to the first server that answers. The link ends with ctx. An
// error says where none answers, why, and in brackets the cure.
func dial(ctx context.Context) (*link, error) {
	as, err := serverAddresses(os.Getenv, thisMachine)
	if err != nil {
		return nil, err
	}
	var errs []string
	for _, a := range as {
		l, err := dialOne(ctx, a)
		if err == nil {
			return l, nil
		}
		errs = append(errs, fmt.Sprintf("%v: %v", a, cause(err)))
	}
	return nil, fmt.Errorf("%s (start PulseAudio or PipeWire)", strings.Join(errs, ", nor from "))
}

func dialOne(ctx context.Context, a address) (*link, error) {
	d := net.Dialer{Timeout: connectTimeout}
	conn, err := d.DialContext(ctx, a.network, a.addr)
	if err != nil {
		return nil, err
	}
	l := newLink(ctx, conn)
	l.pulse.Open(l)
	var auth proto.AuthReply
	err = l.request(connectTimeout, &proto.Auth{Version: l.pulse.Version(), Cookie: cookie(os.Getenv)}, &auth)
	if err == nil {
		l.pulse.SetVersion(auth.Version)
		err = l.request(connectTimeout, &proto.SetClientName{Props: proto.PropList{
			"application.name": proto.PropListString("glidepace"),
		}}, &proto.SetClientNameReply{})
	}
	var info proto.GetServerInfoReply
	if err == nil {
		err = l.request(connectTimeout, &proto.GetServerInfo{}, &info)
	}
	if err != nil {
		l.end(err)
		return nil, err
	}
	l.stepping = strings.Contains(info.PackageName, "PipeWire")
	return l, nil
}

// newLink returns a link over conn that ends with ctx.
func newLink(ctx context.Context, conn net.Conn) *link {
	l := &link{
		conn: conn,
		wake: make(chan struct{}, 1),
		news: map[uint32]*news{},
	}
	l.pulse.Callback = l.hear
	l.mu.Lock() // ctx may have ended, and end calls free
	defer l.mu.Unlock()
	l.free = context.AfterFunc(ctx, func() { l.end(ctx.Err()) })
	return l
}

// cause is err without the addresses that package net puts before it.
func cause(err error) error {
	var op *net.OpError
	if errors.As(err, &op) {
		return op.Err
	}
	return err
}

// Read is for package proto.
func (l *link) Read(b []byte) (int, error) {
	n, err := l.conn.Read(b)
	if err != nil {
		l.end(fmt.Errorf("the sound server is gone: %w", cause(err)))
	}
	return n, err
}

// Write is for package proto.
func (l *link) Write(b []byte) (int, error) {
	l.conn.SetWriteDeadline(time.Now().Add(writeTimeout))
	n, err := l.conn.Write(b)
	if err != nil {
		l.end(fmt.Errorf("the sound server takes nothing any more: %w", cause(err)))
	}
	return n, err
}

// end ends the link because of err, and every request that waits with it.
func (l *link) end(err error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.err != nil {
		return
	}
	l.err = err
	l.conn.Close()
	l.free()
	l.poke()
}

// why returns what ended the link, nil if it has not ended.
func (l *link) why() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.err
}

func (l *link) poke() {
	select {
	case l.wake <- struct{}{}:
	default:
	}
}

// hear takes in what the server says by itself. It runs on proto's reading
// goroutine, which must not wait for anything.
func (l *link) hear(message any) {
	var stream uint32
	var frames int
	switch m := message.(type) {
	case *proto.Request:
		stream, frames = m.StreamIndex, int(m.Length)/bytesPerFrame
	case *proto.Underflow:
		stream = m.StreamIndex
	case *proto.PlaybackStreamMoved:
		stream = m.StreamIndex
	case *proto.PlaybackStreamSuspended:
		stream = m.StreamIndex
	case *proto.PlaybackStreamKilled:
		l.end(errors.New("the sound server ended the stream"))
		return
	default:
		return
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	n := l.news[stream]
	if n == nil {
		n = new(news)
		l.news[stream] = n
	}
	n.frames += frames
	n.disturbed = n.disturbed || frames == 0
	l.poke()
}

// take returns the news of a stream since it was last called.
func (l *link) take(stream uint32) news {
	l.mu.Lock()
	defer l.mu.Unlock()
	n := l.news[stream]
	if n == nil {
		return news{}
	}
	delete(l.news, stream)
	return *n
}

// request asks and waits for the answer. It is for one goroutine at a time.
func (l *link) request(timeout time.Duration, args proto.RequestArgs, reply proto.Reply) error {
	l.pulse.SetTimeout(timeout)
	err := l.pulse.Request(args, reply)
	if end := l.why(); end != nil {
		return end
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return errMute
	}
	return err
}

// create makes a stream that does not play yet, and returns its number and how
// many frames it wants to begin with.
func (l *link) create() (stream uint32, frames int, err error) {
	var r proto.CreatePlaybackStreamReply
	err = l.request(connectTimeout, &proto.CreatePlaybackStream{
		SampleSpec:         proto.SampleSpec{Format: proto.FormatInt16LE, Channels: 2, Rate: uint32(sounds.SampleRate)},
		ChannelMap:         proto.ChannelMap{proto.ChannelLeft, proto.ChannelRight},
		SinkIndex:          proto.Undefined, // the default one
		BufferMaxLength:    proto.Undefined,
		BufferTargetLength: uint32(queueFrames * bytesPerFrame),
		// Without a prebuffer the server plays on when we are late, and drops
		// what comes too late, rather than shift every later cue.
		BufferPrebufferLength: 0,
		BufferMinimumRequest:  uint32(requestFrames * bytesPerFrame),
		Corked:                true,
		// Full volume, but VolumeSet is false: a volume that the person has
		// set for this program in the mixer stands.
		ChannelVolumes: proto.ChannelVolumes{uint32(proto.VolumeNorm), uint32(proto.VolumeNorm)},
		Properties:     proto.PropList{"media.name": proto.PropListString("pacing")},
	}, &r)
	return r.StreamIndex, int(r.Missing) / bytesPerFrame, err
}

// uncork lets a stream play.
func (l *link) uncork(stream uint32) error {
	return l.request(connectTimeout, &proto.CorkPlaybackStream{StreamIndex: stream, Corked: false}, nil)
}

// remove silences a stream at once, what the device has taken already
// included, and does away with it.
func (l *link) remove(stream uint32) error {
	err := l.request(answerTimeout, &proto.DeletePlaybackStream{StreamIndex: stream}, nil)
	l.take(stream)
	return err
}

// A position is what a server answers about a stream. It held at some moment
// before at.
type position struct {
	taken   int     // frames that the device has taken
	latency float64 // frames of these that are not heard yet, as the server has it
	at      time.Time
	running bool // else the stream stands still or has run dry
}

func (l *link) position(stream uint32) (position, error) {
	var r proto.GetPlaybackLatencyReply
	err := l.request(answerTimeout, &proto.GetPlaybackLatency{StreamIndex: stream}, &r)
	return position{
		taken:   int(r.ReadIndex / bytesPerFrame),
		latency: float64(r.Latency) * 1e-6 * float64(sounds.SampleRate),
		at:      time.Now(),
		running: r.Running,
	}, err
}

// send appends samples to a stream. Errors end the link.
func (l *link) send(stream uint32, samples []byte) { l.pulse.Send(stream, samples) }

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

	// What is queued at the server outlasts the longest stall seen on a busy machine
	// (268 ms), even just before the server asks for the next third. It asks seldom,
	// since each time wakes this program.
	queueFrames   = int(sounds.SampleRate) * 450 / 1000
	requestFrames = queueFrames / 3
)

// A link is a connection to a sound server. Package proto speaks the protocol,
// but it loses most errors of the connection, and after a few of them it never
// returns. So the link is the connection that proto gets, and ends at the first
// error.
type link struct {
	ctx   context.Context // ends with the link; its cause says why
	end   context.CancelCauseFunc
	conn  net.Conn
	pulse proto.Client
	out   []byte        // the head of a message whose rest is to come
	wake  chan struct{} // gets a token when there is news

	stepping bool // the server is PipeWire: see stream.step

	mu   sync.Mutex
	news map[uint32]*news // by stream
}

var errNoAnswer = errors.New("the sound server does not answer")

// news is what a server says about a stream without being asked.
type news struct {
	frames    int  // how many more it wants
	disturbed bool // its position may have jumped
}

// dial connects to the first server that answers. The link ends with ctx.
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
		errs = append(errs, fmt.Sprintf("%v: %v", a, reason(err)))
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
	l := &link{conn: conn, wake: make(chan struct{}, 1), news: map[uint32]*news{}}
	l.ctx, l.end = context.WithCancelCause(ctx)
	context.AfterFunc(l.ctx, func() { conn.Close() })
	l.pulse.Callback = l.hear
	return l
}

// reason is err without the addresses that package net puts before it.
func reason(err error) error {
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
		l.end(fmt.Errorf("the sound server is gone: %w", reason(err)))
	}
	return n, err
}

// Write is for package proto, which writes first the head of a message and then the
// rest. They go out together, so that the server wakes once.
func (l *link) Write(b []byte) (int, error) {
	head := len(l.out) == 0
	l.out = append(l.out, b...)
	if head {
		return len(b), nil
	}
	l.conn.SetWriteDeadline(time.Now().Add(writeTimeout))
	_, err := l.conn.Write(l.out)
	l.out = l.out[:0]
	if err != nil {
		l.end(fmt.Errorf("the sound server takes no more sound: %w", reason(err)))
	}
	return len(b), err
}

// why returns what ended the link, nil if it has not ended.
func (l *link) why() error { return context.Cause(l.ctx) }

// hear takes in what the server says without being asked. It runs on proto's
// reading goroutine and must not block.
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
	poke(l.wake)
}

// take returns the news of a stream since the last call.
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
	if why := l.why(); why != nil {
		return why
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return errNoAnswer
	}
	return err
}

// create makes a stream that does not play yet. It returns the stream's number
// and how many frames the server wants at first.
func (l *link) create() (stream uint32, frames int, err error) {
	var r proto.CreatePlaybackStreamReply
	err = l.request(connectTimeout, &proto.CreatePlaybackStream{
		SampleSpec:         proto.SampleSpec{Format: proto.FormatInt16LE, Channels: 2, Rate: uint32(sounds.SampleRate)},
		ChannelMap:         proto.ChannelMap{proto.ChannelLeft, proto.ChannelRight},
		SinkIndex:          proto.Undefined, // the default one
		BufferMaxLength:    proto.Undefined,
		BufferTargetLength: uint32(queueFrames * bytesPerFrame),
		// Without a prebuffer the server plays on when we are late and drops
		// what comes too late. Otherwise every later cue would be late too.
		BufferPrebufferLength: 0,
		BufferMinimumRequest:  uint32(requestFrames * bytesPerFrame),
		Corked:                true,
		// VolumeSet is false: this volume counts only until the person has
		// set one for this program in the mixer.
		ChannelVolumes: proto.ChannelVolumes{uint32(proto.VolumeNorm), uint32(proto.VolumeNorm)},
		Properties:     proto.PropList{"media.name": proto.PropListString("pacing")},
	}, &r)
	return r.StreamIndex, int(r.Missing) / bytesPerFrame, err
}

// uncork lets a stream play.
func (l *link) uncork(stream uint32) error {
	return l.request(connectTimeout, &proto.CorkPlaybackStream{StreamIndex: stream, Corked: false}, nil)
}

// remove deletes a stream. It falls silent at once, with what the device has
// already taken.
func (l *link) remove(stream uint32) error {
	err := l.request(answerTimeout, &proto.DeletePlaybackStream{StreamIndex: stream}, nil)
	l.take(stream)
	return err
}

// A position is a server's answer about a stream. It was true at some moment
// before at.
type position struct {
	taken   int     // frames that the device has taken
	latency float64 // how many of them have not been heard yet
	at      time.Time
	running bool // otherwise the stream stands still or has run dry
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

package out

import (
	"context"
	"errors"
	"io"
	"net"
	"testing"
)

// A link whose context has ended before it is made ends, and nothing worse
// happens: the race detector sees what the scheduler seldom shows.
func TestLinkWhoseContextHasEnded(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	conn, server := net.Pipe()
	defer server.Close()
	l := newLink(ctx, conn)
	<-l.ctx.Done()
	if err := l.why(); !errors.Is(err, context.Canceled) {
		t.Errorf("it ended because of %v", err)
	}
	if _, err := conn.Write([]byte{0}); !errors.Is(err, io.ErrClosedPipe) {
		t.Errorf("the connection is left open: writing gives %v", err)
	}
}

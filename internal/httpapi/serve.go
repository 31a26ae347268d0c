package httpapi

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"
)

// Listen opens a port on this machine only. Port 0 takes a free one.
func Listen(port int) (net.Listener, error) {
	l, err := net.Listen("tcp4", fmt.Sprintf("127.0.0.1:%d", port))
	if err != nil {
		return nil, fmt.Errorf("port %d on this machine cannot be opened (is another window of the program open?): %w", port, err)
	}
	return l, nil
}

// Hosts are the values of the Host header that belong to a listener.
func Hosts(l net.Listener) []string {
	port := l.Addr().(*net.TCPAddr).Port
	return []string{fmt.Sprintf("127.0.0.1:%d", port), fmt.Sprintf("localhost:%d", port)}
}

// Serve answers on the listener until ctx ends, then lets running answers
// finish for a moment.
func Serve(ctx context.Context, l net.Listener, handler http.Handler) error {
	server := &http.Server{Handler: handler, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute}
	failed := make(chan error, 1)
	go func() { failed <- server.Serve(l) }()
	select {
	case err := <-failed:
		return err
	case <-ctx.Done():
	}
	grace, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
	defer cancel()
	if err := server.Shutdown(grace); err != nil && !errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	return nil
}

package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"
)

// TestStatus: the exit statuses of the language page, section "Commands".
func TestStatus(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	tests := []struct {
		name  string
		ctx   context.Context
		err   error
		want  int
		lines int
	}{
		{"done", t.Context(), nil, 0, 0},
		{"errors in a manifest", t.Context(), errHasErrors, 1, 0},
		{"wrong usage", t.Context(), usageError{errors.New("no file")}, 2, 1},
		{"not yet built", t.Context(), notYetError{"the command inspect"}, 2, 1},
		{"disk", t.Context(), fmt.Errorf("write: %w", fs.ErrPermission), 3, 1},
		{"interrupted", ended, ended.Err(), 3, 1},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			var buf bytes.Buffer
			c := &console{out: &buf, err: &buf}
			if got := c.status(tt.ctx, tt.err); got != tt.want {
				t.Errorf("status %d, want %d", got, tt.want)
			}
			if n := strings.Count(buf.String(), "\n"); n != tt.lines {
				t.Errorf("%d lines: %q", n, buf.String())
			}
		})
	}
}

// TestGuard: a panic is one line that asks for the input, and status 3.
func TestGuard(t *testing.T) {
	var buf bytes.Buffer
	got := guard([]string{"compile", "a.hcl"}, &buf, func() int { panic("index out of range\n[3]") })
	text := buf.String()
	if got != 3 || strings.Count(text, "\n") != 1 || !strings.HasSuffix(text, "\n") {
		t.Errorf("status %d, %q", got, text)
	}
	for _, want := range []string{"index out of range [3]", "send us the files", "relievo compile a.hcl"} {
		if !strings.Contains(text, want) {
			t.Errorf("%q does not say %q", text, want)
		}
	}
	if got := guard(nil, &buf, func() int { return 1 }); got != 1 {
		t.Errorf("status %d", got)
	}
}

func TestRelease(t *testing.T) {
	for v, want := range map[string]bool{
		"v1.2.0": true, "v1.2.0-rc.1": true, "(devel)": false, "": false,
		"v0.0.0-20240102030405-0123456789ab": false, "v1.2.0+dirty": false,
	} {
		if got := release(v); got != want {
			t.Errorf("%q: %v", v, got)
		}
	}
}

// failingWriter stands for a full disk or a closed pipe behind standard output.
type failingWriter struct{}

func (failingWriter) Write([]byte) (int, error) { return 0, errors.New("no space") }

func TestOutputFails(t *testing.T) {
	var buf bytes.Buffer
	if got := run(t.Context(), []string{"version"}, failingWriter{}, &buf); got != exitMachine || !strings.Contains(buf.String(), "no space") {
		t.Errorf("status %d, %q", got, buf.String())
	}
}

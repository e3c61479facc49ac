package compile

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"relievo/lang/note"
)

// two signs that share a filament without material and a printer with thick layers; %s
// are blocks to fill in: in sign a, in its plate, in its raise, in sign b.
const allowShared = `edition = 1
filament "chalk" {
}
filament "slate" {
  material = "PLA"
}
printer "bench" {
  nozzle       = "0.4mm"
  layer_height = "0.35mm"
}
sign "a" {
  %s
  plate {
    %s
    thickness = "2.1mm"
    filament  = "chalk"
    piece "board" {
      shape = "circle"
      width = "40mm"
    }
    hole "nail" {
      diameter = "4mm"
      at       = ["0mm", "17.5mm"]
    }
  }
  raise "dot" {
    %s
    piece "dot" {
      shape = "circle"
      width = "10mm"
    }
    height   = "1 layer"
    filament = "slate"
  }
}
sign "b" {
  %s
  plate {
    thickness = "2.1mm"
    filament  = "chalk"
    piece "board" {
      shape = "circle"
      width = "30mm"
    }
  }
}
`

// TestAllowReach: how far an `allow` reaches. What is wanted are "sign: code" of all that is
// left.
func TestAllowReach(t *testing.T) {
	all := []string{": worth-knowing", "a: hole-edge", "a: layer-height", "a: low-raise", "a: side-stripes"}
	without := func(gone ...string) (out []string) {
		for _, c := range all {
			if !slices.Contains(gone, c) {
				out = append(out, c)
			}
		}
		return out
	}
	with := func(list []string, more ...string) []string { return append(slices.Clone(list), more...) }
	for _, c := range []struct {
		name                 string
		sign, plate, part, b string
		want                 []string
		says                 string
	}{
		{name: "nothing", want: all},
		{name: "sign", sign: `allow = ["low-raise", "side-stripes"]`, want: without("a: low-raise", "a: side-stripes")},
		{name: "part", part: `allow = ["low-raise"]`, want: without("a: low-raise")},
		{name: "sign and part", sign: `allow = ["low-raise"]`, part: `allow = ["low-raise"]`, want: without("a: low-raise")},
		{name: "plate for its holes", plate: `allow = ["hole-edge"]`, want: without("a: hole-edge")},
		{name: "another part's", part: `allow = ["hole-edge"]`, want: with(all, "a: stale-allow"), says: "found at raise"},
		{name: "a part for the sign as a whole", part: `allow = ["side-stripes"]`, want: with(all, "a: stale-allow"), says: "sign as a whole"},
		{name: "twice the same", sign: `allow = ["swap-count", "swap-count"]`, want: with(all, "a: stale-allow"), says: "swap-count"},
		{name: "stale, and known", sign: `allow = ["swap-count", "stale-allow"]`, want: all},
		{name: "what the printer has, by one sign", sign: `allow = ["layer-height"]`, want: with(without("a: layer-height"), "b: layer-height")},
		{name: "by the other sign, told once", b: `allow = ["layer-height"]`, want: all},
		{name: "by both", sign: `allow = ["layer-height"]`, b: `allow = ["layer-height"]`, want: without("a: layer-height")},
		{name: "what signs share, by one", sign: `allow = ["worth-knowing"]`, want: all},
		{name: "what signs share, by both", sign: `allow = ["worth-knowing"]`, b: `allow = ["worth-knowing"]`, want: without(": worth-knowing")},
	} {
		t.Run(c.name, func(t *testing.T) {
			res := compileText(t, fmt.Sprintf(allowShared, c.sign, c.plate, c.part, c.b), nil)
			var got []string
			text := ""
			for _, n := range res.Notes {
				got = append(got, n.Sign+": "+string(n.Code))
				text += n.Summary + " " + n.Detail
			}
			slices.Sort(got)
			slices.Sort(c.want)
			if !slices.Equal(got, c.want) || !strings.Contains(text, c.says) {
				t.Errorf("got  %q\nwant %q%s", got, c.want, notesText(res.Notes))
			}
		})
	}
}

// TestStaleAllowNeedsAWholeRun: of a sign with errors nobody knows what its `allow` would
// have passed over.
func TestStaleAllowNeedsAWholeRun(t *testing.T) {
	text := fmt.Sprintf(allowShared, `allow = ["swap-count"]`, "", `height = "x"`, "")
	for _, n := range compileText(t, text, nil).Notes {
		if n.Code == note.StaleAllow {
			t.Errorf("told of a sign with errors: %+v", n)
		}
	}
}

// TestAllowStrict: a warning that is passed over is not fatal, one that is left is; a note
// never is.
func TestAllowStrict(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "sign.hcl")
	for allow, made := range map[string]bool{
		`allow = ["hole-edge", "layer-height", "low-raise"]`: true,
		`allow = ["hole-edge", "layer-height"]`:              false,
		`allow = ["hole-edge", "low-raise"]`:                 false,
		``:                                                   false,
	} {
		if err := os.WriteFile(file, fmt.Appendf(nil, allowShared, allow, "", "", `allow = ["layer-height"]`), 0o644); err != nil {
			t.Fatal(err)
		}
		res, err := Run(context.Background(), file, Options{Dir: dir, Strict: true})
		if err != nil {
			t.Fatal(err)
		}
		if got := res.Signs[0].Model != nil; got != made {
			t.Errorf("%s: made %v%s", allow, got, notesText(res.Notes))
		}
		if res.Signs[1].Model == nil {
			t.Errorf("%s: the other sign was not made", allow)
		}
	}
}

// TestAllowKeepsErrors: of a code that may be a note or an error, the error stays.
func TestAllowKeepsErrors(t *testing.T) {
	e, _ := note.Explain(note.Snapped)
	for snap, want := range map[string]int{"nearest": 0, "refuse": 1} {
		files := slices.Clone(e.Files)
		files[0].Text = strings.Replace(files[0].Text, "sign \"gate\" {", "sign \"gate\" {\n  allow = [\"snapped\"]\n  snap = \""+snap+"\"", 1)
		got := 0
		for _, n := range runExample(t, files).Notes {
			if n.Code == note.Snapped {
				got++
			}
		}
		if got != want {
			t.Errorf("snap = %q: %d notes, want %d", snap, got, want)
		}
	}
}

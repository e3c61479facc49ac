package letter

import (
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/font/gofont/goregular"
)

// use does with a font what a compiler does.
func use(data []byte) error {
	faces, err := Load(data)
	if err != nil {
		return err
	}
	for _, f := range faces {
		line, err := f.Set([]rune("AVfi é e\u0301 \u05e9\u05dc\u05d5\u05dd 12 \u0633\u0644\u0627\u0645 \u0915\u094d\u0937 😀"), ByText, Options{})
		if err != nil {
			return err
		}
		for _, g := range line.Glyphs {
			if _, err := f.Outline(g.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

func TestHostile(t *testing.T) {
	t0 := tablesOf(goregular.TTF)
	loca, glyf := slices.Clone(t0["loca"]), t0["glyf"]
	glyphs := int(be.Uint16(t0["maxp"][4:]))
	// pointing makes glyphs of that data, all the same, and one of its own.
	composite := func(parts ...int) []byte {
		out := words(0xffff, 0, 0, 0, 0)
		for i, g := range parts {
			flags := argsAreXY
			if i+1 < len(parts) {
				flags |= moreParts
			}
			out = append(out, words(flags, g, 0)...)
		}
		return out
	}
	laid := func(glyphs ...[]byte) map[string][]byte {
		var data, at []byte
		for _, g := range glyphs {
			at = be.AppendUint32(at, uint32(len(data)))
			data = append(data, g...)
		}
		at = be.AppendUint32(at, uint32(len(data)))
		head := slices.Clone(t0["head"])
		be.PutUint16(head[50:], 1)
		maxp := slices.Clone(t0["maxp"])
		be.PutUint16(maxp[4:], uint16(len(glyphs)))
		return map[string][]byte{"glyf": data, "loca": at, "head": head, "maxp": maxp}
	}
	var tower [][]byte // each made of eight of the one before
	tower = append(tower, glyf[be.Uint16(loca[2*40:])*2:][:200])
	for i := range 9 {
		tower = append(tower, composite(i, i, i, i, i, i, i, i))
	}
	dense := words(1, 0, 0, 0, 0, 0xffff, 0) // 65,536 points in 514 bytes
	for range 256 {
		dense = append(dense, 0x39, 255)
	}
	dense = append(dense, 0)
	var many [][]byte
	for range 1000 {
		many = append(many, dense)
	}
	calls := func(n int, of int) []byte {
		var out []byte
		for range n {
			out = append(out, byte(of-107+139), 29)
		}
		return append(out, 11)
	}
	var subrs [][]byte
	subrs = append(subrs, []byte{139, 139, 5, 11})
	for i := range 9 {
		subrs = append(subrs, calls(100, i))
	}
	// A lookup list of 2,000 offsets to one lookup of 2,000 offsets to one coverage of 60,000.
	bomb := words(1, 0, 10, 12, 14, 0, 0, 2000)
	for range 2000 {
		bomb = append(bomb, words(4004)...)
	}
	bomb = append(bomb, words(1, 0, 2000)...)
	for range 2000 {
		bomb = append(bomb, words(4008)...)
	}
	bomb = append(bomb, words(1, 6, 1, 1, 60000)...)
	bomb = append(bomb, make([]byte, 120_000)...)
	ttc := append([]byte("ttcf\x00\x01\x00\x00"), 0xff, 0xff, 0xff, 0xff)
	upem := slices.Clone(t0["head"])
	be.PutUint16(upem[18:], 0)
	long := slices.Clone(loca)
	be.PutUint16(long[len(long)-2:], 0xffff)
	none := slices.Clone(t0["maxp"])
	be.PutUint16(none[4:], 0)
	huge := slices.Clone(t0["maxp"])
	be.PutUint16(huge[4:], 0xffff)
	back := slices.Clone(loca)
	be.PutUint16(back[2*50:], 0)

	for _, c := range []struct {
		name string
		data []byte
		want string // in the error
	}{
		{"nothing", nil, "too short"},
		{"text", []byte(strings.Repeat("no font ", 100)), "neither"},
		{"woff", []byte("wOFF0000000000000000"), "web font"},
		{"cut short", goregular.TTF[:20_000], "cut short"},
		{"cut in the directory", goregular.TTF[:40], "cut short"},
		{"collection of too many", ttc, "4294967295 faces"},
		{"no cmap", goWith(map[string][]byte{"cmap": nil}), `no table "cmap"`},
		{"no outlines", goWith(map[string][]byte{"glyf": nil}), "no outlines"},
		{"no units", goWith(map[string][]byte{"head": upem}), "0 units"},
		{"no glyphs", goWith(map[string][]byte{"maxp": none}), "no glyphs"},
		{"far too many glyphs", goWith(map[string][]byte{"maxp": huge}), "loca is too short"},
		{"loca beyond glyf", goWith(map[string][]byte{"loca": long}), "outside the table glyf"},
		{"loca out of order", goWith(map[string][]byte{"loca": back}), "outside the table glyf"},
		{"glyph of itself", goWith(laid(composite(0))), "made of itself"},
		{"glyphs of each other", goWith(laid(composite(1), composite(0))), "made of itself"},
		{"tower of components", goWith(laid(tower...)), "more than 50000 points"},
		{"dense glyph", goWith(laid(dense)), "more than 50000 points"},
		{"many dense glyphs", goWith(laid(many...)), "points"},
		{"tower of subroutines", cffFont(append(calls(100, 9)[:200], 14), subrs), "steps to draw"},
		{"offsets to one table", goWith(map[string][]byte{"GSUB": bomb}), "too much work"},
		{"offsets to one table of positions", goWith(map[string][]byte{"GPOS": bomb}), "too much work"},
	} {
		if err := use(c.data); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if glyphs < 100 {
		t.Fatal("the font has changed")
	}
}

// Damaged fonts are errors or fonts, never a panic.
func TestDamaged(t *testing.T) {
	n := 150
	if v, err := strconv.Atoi(os.Getenv("RELIEVO_CASES")); err == nil {
		n = v
	}
	rng := rand.New(rand.NewPCG(1, 2))
	fonts := [][]byte{goregular.TTF, goWith(map[string][]byte{"GSUB": ligature(70, 73, 80), "kern": kernTable([3]int{36, 57, -100})})}
	for range n {
		data := slices.Clone(fonts[rng.IntN(len(fonts))])
		for range 1 + rng.IntN(20) {
			at := rng.IntN(len(data))
			if rng.IntN(2) == 0 {
				at = rng.IntN(600) // the directory and the first tables
			}
			data[at] = byte(rng.Uint32())
		}
		if rng.IntN(4) == 0 {
			data = data[:rng.IntN(len(data))]
		}
		_ = use(data)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add(goregular.TTF[:3000])
	f.Add(fontOf(map[string][]byte{"head": nil}))
	f.Add(cffFont([]byte{139, 139, 21, 14}, nil))
	small := tablesOf(goregular.TTF)
	for _, tag := range []string{"glyf", "loca", "fpgm", "prep", "cvt ", "post", "gasp"} {
		delete(small, tag)
	}
	cff := tablesOf(cffFont([]byte{139, 139, 21, 14}, [][]byte{{11}}))
	cff["GSUB"] = ligature(1, 1, 0)
	cff["kern"] = kernTable([3]int{1, 1, -5})
	f.Add(fontOf(cff))
	f.Add(fontOf(small))
	f.Fuzz(func(_ *testing.T, data []byte) {
		if len(data) < 1<<20 {
			_ = use(data)
		}
	})
}

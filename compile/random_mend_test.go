package compile

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"

	"relievo/geom/region"
	"relievo/geom/solid"
	"relievo/lang"
	"relievo/lang/note"
)

// TestRandomMended puts repairs into random signs of all words. What must hold of each
// repair (rule 3) is asked of the mended ink by operations of its own, and of the whole sign
// that its meshes are closed.
func TestRandomMended(t *testing.T) {
	cases, start := fromEnv("RELIEVO_CASES", 60), fromEnv("RELIEVO_SEED", 1)
	var compiled, mended, changed, held atomic.Int64
	t.Run("signs", func(t *testing.T) {
		for seed := start; seed < start+cases; seed++ {
			t.Run(strconv.Itoa(seed), func(t *testing.T) {
				t.Parallel()
				f := newFullSign(uint64(seed))
				text := withRepairs(f.manifest(), uint64(seed))
				dir := t.TempDir()
				files := map[string]string{}
				for _, a := range f.arts {
					files[a.name+".svg"] = a.drawing()
				}
				for name, data := range files {
					writeText(t, filepath.Join(dir, name), data)
				}
				writeText(t, filepath.Join(dir, "sign.hcl"), text)
				doc, fs, notes, err := lang.Load(filepath.Join(dir, "sign.hcl"), lang.Options{Dir: dir})
				if err != nil {
					t.Fatal(err)
				}
				if notes.HasErrors() { // some of these signs are wrong on purpose
					return
				}
				s := doc.Signs[0]
				drawings, _ := importArtwork(s, fs)
				choices, _ := choose(s, drawings)
				drawn, _, _, err := draw(s, choices, nil)
				if err != nil {
					t.Fatal(err)
				}
				if drawn != nil {
					out, ns := mendParts(s, drawn)
					for i := range s.Parts {
						if out != nil && s.Parts[i].Repair.Any() && !drawn[i].Empty() {
							mended.Add(1)
							if checkMended(t, s, i, drawn, out, ns) {
								changed.Add(1)
							}
						}
					}
					for _, n := range ns {
						if strings.Contains(n.Detail, "were left out") {
							held.Add(1)
						}
					}
				}
				res := compileText(t, text, files)
				if m := res.Signs[0].Model; m != nil {
					compiled.Add(1)
					if err := solid.Check(m.Body); err != nil {
						t.Errorf("the body: %v", err)
					}
					for k := range m.Plan.Bands {
						if mesh, err := m.Band(k); err != nil {
							t.Errorf("band %d: %v", k, err)
						} else if err := solid.Check(mesh); err != nil {
							t.Errorf("band %d: %v", k, err)
						}
					}
				}
			})
		}
	})
	t.Logf("%d of %d signs compiled; of %d mended parts %d were changed, %d held back by neighbours", compiled.Load(), cases, mended.Load(), changed.Load(), held.Load())
	if cases >= 60 && (compiled.Load() < int64(cases)/5 || changed.Load() < int64(cases)/2 || held.Load() == 0) {
		t.Error("too few to prove anything")
	}
}

// withRepairs puts repairs into some raises and recesses of a manifest.
func withRepairs(text string, seed uint64) string {
	rng := rand.New(rand.NewPCG(seed, 77))
	return regexp.MustCompile(`(?m)^  (raise|recess) "[^"]*" \{$`).ReplaceAllStringFunc(text, func(head string) string {
		more := ""
		add := func(odds float64, format string, v float64) {
			if rng.Float64() < odds {
				more += fmt.Sprintf("\n    "+format, v)
			}
		}
		add(0.2, `drop_specks = "%.2fmm"`, 0.5+rng.Float64())
		add(0.2, `grow = "%.2fmm"`, rng.Float64()*0.8-0.3)
		add(0.4, `close_gaps = "%.2fmm"`, 0.3+rng.Float64())
		add(0.6, `thicken = "%.2fmm"`, 0.5+2*rng.Float64())
		add(0.3, `round_tips = "%.2fmm"`, 0.1+0.4*rng.Float64())
		return head + more
	})
}

func writeText(t *testing.T, name, text string) {
	t.Helper()
	if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// checkMended asks of one part what rule 3 says; it reports whether anything changed.
func checkMended(t *testing.T, s *lang.Sign, i int, drawn, out Drawn, ns note.List) bool {
	t.Helper()
	p := s.Parts[i]
	must := func(r region.Region, err error) region.Region {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	// What snap rounding leaves along outlines is nobody's.
	slack := func(rs ...region.Region) float64 {
		sum := 0.0
		for _, r := range rs {
			sum += outlineLength(r)
		}
		return 2*sum/(1024*1024) + 1e-3
	}
	added := must(region.Subtract(out[i], drawn[i]))
	removed := must(region.Subtract(drawn[i], out[i]))
	if p.Repair.RoundTips == nil && p.Repair.DropSpecks == nil && (p.Repair.Grow == nil || p.Repair.Grow.Amount >= 0) && removed.AreaMM2() > slack(drawn[i], out[i]) {
		t.Errorf("%q lost %.4f mm² to repairs that only add", p.Name, removed.AreaMM2())
	}
	gap, _ := steps(s.MinGap)
	for j := range s.Parts {
		if j == i || drawn[j].Empty() {
			continue
		}
		if j > i {
			if a := must(region.Intersect(added, drawn[j])).AreaMM2(); a > slack(added, drawn[j]) {
				t.Errorf("%q takes %.4f mm² from %q, which is written later", p.Name, a, s.Parts[j].Name)
			}
		}
		other := out[j]
		if j > i {
			other = drawn[j] // it was mended after
		}
		for _, c := range other.Components() {
			wide := must(region.Offset(c, 2*touching, region.Round, region.Options{Tolerance: 1}))
			if !must(region.Intersect(wide, drawn[i])).Empty() {
				continue
			}
			near := must(region.Offset(c, gap-4, region.Round, region.Options{Tolerance: 1}))
			if a := must(region.Intersect(near, added)).AreaMM2(); a > slack(added) {
				t.Errorf("%q grew %.4f mm² nearer than min_gap to %q", p.Name, a, s.Parts[j].Name)
			}
		}
	}
	heldBack := false
	for _, n := range ns {
		heldBack = heldBack || n.Part == p.Name && strings.Contains(n.Detail, "were left out")
	}
	if p.Repair.Thicken != nil && p.Repair.RoundTips == nil && !heldBack {
		w, _ := steps(*p.Repair.Thicken)
		places, err := region.Thin(out[i], w, tolerance(s)+2)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range places {
			if !x.Tip {
				t.Errorf("%q is still %.4f mm wide at %v, %s wanted", p.Name, x.WidthMM, x.At, p.Repair.Thicken)
			}
		}
	}
	return added.AreaMM2()+removed.AreaMM2() > slack(drawn[i])
}

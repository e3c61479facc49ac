package write

import (
	"regexp"
	"slices"
	"testing"

	"relievo/lang"
)

var groupTag = regexp.MustCompile(`<g id="([^"]*)" fill="([^"]*)"`)

// groups gives id and colour of the groups of a drawing, in order.
func groups(t *testing.T, m *Model, file string) []string {
	t.Helper()
	var out []string
	for _, g := range groupTag.FindAllStringSubmatch(written(t, m)["otter-weir."+file], -1) {
		out = append(out, g[1]+" "+g[2])
	}
	return out
}

// TestTies: ties come first as they lie lowest, but leave their id to a part that has it
// by name.
func TestTies(t *testing.T) {
	m := plaque()
	m.Views[0] = View{Name: "ties", Kind: "ties", TopLayer: 12, Rings: m.Views[0].Rings}
	want := []string{"part-ties #4f6b3a", "part-reeds #4f6b3a", "part-lettering #b4b4b4", "part-water #f2efe6"}
	if got := groups(t, m, "top.svg"); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	m.Views[1].Name = "ties"
	want[0], want[1] = "part-ties-ties #4f6b3a", "part-ties #4f6b3a"
	if got := groups(t, m, "top.svg"); !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

// TestLoadedColours: where several filaments are loaded, layers have no colour of their
// own. A recess shows what it is cut into, ties the first raise's filament.
func TestLoadedColours(t *testing.T) {
	m := slots()
	chalk, moss, slate := m.Sign.Filaments[0], m.Sign.Filaments[1], m.Sign.Filaments[2]
	reeds := &lang.Part{Kind: lang.Raise, Name: "reeds", Filament: moss}
	lettering := &lang.Part{Kind: lang.Raise, Name: "lettering", Filament: slate}
	water := &lang.Part{Kind: lang.Recess, Name: "water"}
	m.Sign.Plate, m.Sign.Parts = &lang.Plate{Filament: chalk}, []*lang.Part{reeds, lettering, water}
	tests := []struct {
		name string
		over *lang.Part
		top  int
		want string
	}{
		{"into the plate", nil, 8, "#f2efe6"},
		{"into a raise", reeds, 12, "#4f6b3a"},
		{"through a raise into the plate", reeds, 9, "#f2efe6"},
		{"into a raise without a colour", lettering, 12, "#b4b4b4"},
	}
	for _, c := range tests {
		t.Run(c.name, func(t *testing.T) {
			water.Over, m.Views[3].TopLayer = c.over, c.top
			if got := groups(t, m, "top.svg"); got[3] != "part-water "+c.want {
				t.Errorf("%q", got)
			}
		})
	}
	m.Sign.Plate, m.Views[0] = nil, View{Name: "ties", Kind: "ties", TopLayer: 2}
	if got := groups(t, m, "top.svg"); got[0] != "part-ties #4f6b3a" {
		t.Errorf("ties: %q", got)
	}
}

package lang

import "relievo/lang/quantity"

// materials are the densities of solid plastic that a filament gets when its manifest
// gives none. Facts: facts/1-filament.md, "fil.density.*".
var materials = []struct {
	name    string
	density quantity.Density
}{
	{"PLA", 1240},  // [UP-PLA] 1.24 g/cm3, ISO 1183
	{"PETG", 1270}, // [MEM] 1.27, within [AT-PETG] 1.25-1.29
	{"ABS", 1040},  // [CCT-ABS] 1.04, ASTM D792
	{"ASA", 1070},  // [RD-ASA] 1.07
	{"TPU", 1210},  // [TX-TPU] 1.21, ISO 1183
	{"PC", 1200},   // from memory: 1.20, unfilled polycarbonate
	{"PA", 1140},   // from memory: 1.14, unfilled dry polyamide 6
}

func materialNames() []string {
	var out []string
	for _, m := range materials {
		out = append(out, m.name)
	}
	return out
}

func densityOf(material string) (quantity.Density, bool) {
	for _, m := range materials {
		if m.name == material {
			return m.density, true
		}
	}
	return 0, false
}

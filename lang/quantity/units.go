package quantity

// The functions here list the words of units, as they are written, for whoever describes
// the language.

// LengthUnits lists the units of length: absolute ones, and those that a printer gives a
// size, lines and nozzles if printed and layers if stacked.
func LengthUnits(stacked, printed bool) []string {
	var out []string
	for _, u := range lengthUnits {
		if u.symbolic == Layer && !stacked || (u.symbolic == Line || u.symbolic == Nozzle) && !printed {
			continue
		}
		out = append(out, u.name)
	}
	return out
}

// MassUnits lists the units of mass.
func MassUnits() []string { return masses.unitNames() }

// PriceUnits lists the units of price.
func PriceUnits() []string { return prices.unitNames() }

// DensityUnits lists the units of density.
func DensityUnits() []string { return densities.unitNames() }

// AngleUnits lists the units of angle.
func AngleUnits() []string { return angles.unitNames() }

// FlowUnits lists the units of volume flow.
func FlowUnits() []string { return flows.unitNames() }

// TimeUnits lists the units of time.
func TimeUnits() []string { return times.unitNames() }

// ShareUnits lists the signs of shares.
func ShareUnits() []string { return shares.unitNames() }

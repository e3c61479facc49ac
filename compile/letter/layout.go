package letter

import "math/bits"

// checkLayout bounds the work that a GSUB or GPOS table asks of its reader: OpenType 1.9,
// "OpenType Layout common table formats", GSUB and GPOS. Tables in it are named by offsets,
// and nothing keeps a million offsets from naming one large table, each to be read anew; here
// each is counted once and its cost remembered. Cost: linear in the table.
func checkLayout(d []byte, positioning bool) bool {
	if len(d) < 10 {
		return true // the library leaves such a table out
	}
	c := &layoutCheck{d: d, positioning: positioning, known: map[layoutKey]int{}, most: min(16*len(d)+200_000, 30_000_000)}
	c.table()
	return c.spent <= c.most
}

type layoutCheck struct {
	d           []byte
	positioning bool
	known       map[layoutKey]int
	spent, most int
}

type layoutKey struct {
	kind byte
	at   int
	par  int
}

// over says that there is no use in going on.
func (c *layoutCheck) over() bool { return c.spent > c.most }

func (c *layoutCheck) spend(n int) {
	if c.spent <= c.most {
		c.spent += n // n is at most 2³⁰ or so: a product of two counts is capped by mul
	}
}

func mul(a, b int) int { return int(min(int64(a)*int64(b), 1<<30)) }

func (c *layoutCheck) u16(at int) int {
	if at < 0 || at+2 > len(c.d) {
		return 0
	}
	return int(be.Uint16(c.d[at:]))
}

func (c *layoutCheck) u32(at int) int {
	if at < 0 || at+4 > len(c.d) {
		return 0
	}
	return int(be.Uint32(c.d[at:]) & 0x7fffffff)
}

// once walks a table the first time and spends what that took every other time.
func (c *layoutCheck) once(kind byte, at, par int, walk func()) {
	if c.over() {
		return
	}
	k := layoutKey{kind, at, par}
	if cost, ok := c.known[k]; ok {
		c.spend(cost)
		return
	}
	before := c.spent
	c.spend(1)
	walk()
	c.known[k] = c.spent - before
}

// offsets walks the tables that a list of n 16-bit offsets at a place names, relative to base.
func (c *layoutCheck) offsets(list, n, base int, walk func(at int)) {
	for i := 0; i < n && !c.over(); i++ {
		c.spend(1)
		if by := c.u16(list + 2*i); by != 0 {
			walk(base + by)
		}
	}
}

func (c *layoutCheck) table() {
	scripts, features, lookups := c.u16(4), c.u16(6), c.u16(8)
	records := func(list, base int, walk func(at int)) { // of a tag and an offset
		for i := 0; i < c.u16(list) && !c.over(); i++ {
			c.spend(1)
			walk(base + c.u16(list+2+6*i+4))
		}
	}
	langSys := func(at int) { c.once('y', at, 0, func() { c.spend(c.u16(at + 4)) }) }
	feature := func(at int) { c.once('f', at, 0, func() { c.spend(c.u16(at + 2)) }) }
	if scripts != 0 {
		records(scripts, scripts, func(at int) {
			c.once('s', at, 0, func() {
				if by := c.u16(at); by != 0 {
					langSys(at + by)
				}
				records(at+2, at, langSys)
			})
		})
	}
	if features != 0 {
		records(features, features, feature)
	}
	if lookups != 0 {
		c.offsets(lookups+2, c.u16(lookups), lookups, func(at int) {
			c.once('l', at, 0, func() {
				kind := c.u16(at)
				c.offsets(at+6, c.u16(at+4), at, func(sub int) { c.subtable(kind, sub, 0) })
			})
		})
	}
	if c.u16(2) >= 1 { // variations of features; not used, but read
		at := c.u32(10)
		if at == 0 {
			return
		}
		for i := 0; i < c.u32(at+4) && !c.over(); i++ {
			c.spend(1)
			set, subst := at+c.u32(at+8+8*i), at+c.u32(at+8+8*i+4)
			c.spend(c.u16(set))
			for k := 0; k < c.u16(subst+4) && !c.over(); k++ {
				c.spend(1)
				feature(subst + c.u32(subst+6+6*k+2))
			}
		}
	}
}

func (c *layoutCheck) coverage(at int) { c.spend(1 + c.u16(at+2)) }

func (c *layoutCheck) classes(at int) {
	if c.u16(at) == 1 {
		c.spend(1 + c.u16(at+4))
		return
	}
	c.spend(1 + c.u16(at+2))
}

func (c *layoutCheck) subtable(kind, at, depth int) {
	c.once('t', at, kind, func() {
		format := c.u16(at)
		if c.positioning {
			switch kind {
			case 7:
				c.context(at)
			case 8:
				c.chain(at)
			case 9:
				if depth == 0 {
					c.subtable(c.u16(at+2), at+c.u32(at+4), 1)
				}
			default:
				c.position(kind, format, at)
			}
			return
		}
		set := func(kind byte, walk func(at int)) {
			c.coverage(at + c.u16(at+2))
			c.offsets(at+6, c.u16(at+4), at, func(s int) { c.once(kind, s, 0, func() { walk(s) }) })
		}
		switch kind {
		case 1:
			c.coverage(at + c.u16(at+2))
			if format == 2 {
				c.spend(c.u16(at + 4))
			}
		case 2, 3:
			set('m', func(s int) { c.spend(c.u16(s)) })
		case 4:
			set('g', func(s int) {
				c.offsets(s+2, c.u16(s), s, func(l int) { c.spend(1 + c.u16(l+2)) })
			})
		case 5:
			c.context(at)
		case 6:
			c.chain(at)
		case 7:
			if depth == 0 {
				c.subtable(c.u16(at+2), at+c.u32(at+4), 1)
			}
		case 8:
			c.coverage(at + c.u16(at+2))
			p := c.coverages(at+4, at)
			p = c.coverages(p, at)
			c.spend(c.u16(p))
		}
	})
}

// coverages walks a count and that many offsets, and returns where they end.
func (c *layoutCheck) coverages(p, base int) int {
	n := c.u16(p)
	c.offsets(p+2, n, base, c.coverage)
	return p + 2 + 2*n
}

func (c *layoutCheck) context(at int) {
	rules := func(list int) {
		c.offsets(list+2, c.u16(list), at, func(s int) {
			c.once('r', s, 0, func() {
				c.offsets(s+2, c.u16(s), s, func(r int) { c.spend(1 + c.u16(r) + 2*c.u16(r+2)) })
			})
		})
	}
	switch c.u16(at) {
	case 1:
		c.coverage(at + c.u16(at+2))
		rules(at + 4)
	case 2:
		c.coverage(at + c.u16(at+2))
		c.classes(at + c.u16(at+4))
		rules(at + 6)
	case 3:
		c.offsets(at+6, c.u16(at+2), at, c.coverage)
		c.spend(2 * c.u16(at+4))
	}
}

func (c *layoutCheck) chain(at int) {
	rules := func(list int) {
		c.offsets(list+2, c.u16(list), at, func(s int) {
			c.once('c', s, 0, func() {
				c.offsets(s+2, c.u16(s), s, func(r int) {
					for k := range 4 { // backtrack, input, lookahead, lookups
						n := c.u16(r)
						c.spend(1 + n)
						r += 2 + 2*n
						if k == 1 && n > 0 {
							r -= 2
						}
					}
				})
			})
		})
	}
	switch c.u16(at) {
	case 1:
		c.coverage(at + c.u16(at+2))
		rules(at + 4)
	case 2:
		c.coverage(at + c.u16(at+2))
		for k := range 3 {
			c.classes(at + c.u16(at+4+2*k))
		}
		rules(at + 10)
	case 3:
		p := c.coverages(at+2, at)
		p = c.coverages(p, at)
		p = c.coverages(p, at)
		c.spend(2 * c.u16(p))
	}
}

// values counts n value records of a format; device tables are looked at one by one.
func (c *layoutCheck) values(p, base, format, n, stride int) {
	each := bits.OnesCount16(uint16(format & 0xff))
	c.spend(mul(n, 1+each))
	if format&0xf0 == 0 {
		return
	}
	first := bits.OnesCount16(uint16(format & 0x0f))
	for i := 0; i < n && !c.over(); i++ {
		for k := first; k < each; k++ {
			if by := c.u16(p + i*stride + 2*k); by != 0 {
				c.device(base + by)
			}
		}
	}
}

func (c *layoutCheck) device(at int) {
	c.spend(1)
	if f := c.u16(at + 4); f >= 1 && f <= 3 {
		c.spend(max(0, c.u16(at+2)-c.u16(at)+1))
	}
}

func (c *layoutCheck) anchor(at int) {
	c.spend(1)
	if c.u16(at) == 3 {
		for k := range 2 {
			if by := c.u16(at + 6 + 2*k); by != 0 {
				c.device(at + by)
			}
		}
	}
}

func (c *layoutCheck) position(kind, format, at int) {
	size := func(format int) int { return 2 * bits.OnesCount16(uint16(format&0xff)) }
	switch kind {
	case 1:
		c.coverage(at + c.u16(at+2))
		f := c.u16(at + 4)
		if format == 2 {
			c.values(at+8, at, f, c.u16(at+6), size(f))
		} else {
			c.values(at+6, at, f, 1, size(f))
		}
	case 2:
		c.coverage(at + c.u16(at+2))
		f1, f2 := c.u16(at+4), c.u16(at+6)
		stride := size(f1) + size(f2)
		if format == 1 {
			c.offsets(at+10, c.u16(at+8), at, func(s int) {
				c.once('p', s, f1<<16|f2, func() {
					n := c.u16(s)
					c.values(s+4, s, f1, n, stride+2)
					c.values(s+4+size(f1), s, f2, n, stride+2)
				})
			})
			return
		}
		c.classes(at + c.u16(at+8))
		c.classes(at + c.u16(at+10))
		n := mul(c.u16(at+12), c.u16(at+14))
		c.values(at+16, at, f1, n, stride)
		c.values(at+16+size(f1), at, f2, n, stride)
	case 3:
		c.coverage(at + c.u16(at+2))
		c.offsets(at+6, 2*c.u16(at+4), at, c.anchor)
	case 4, 5, 6:
		c.coverage(at + c.u16(at+2))
		c.coverage(at + c.u16(at+4))
		classes := c.u16(at + 6)
		marks := at + c.u16(at+8)
		c.once('k', marks, 0, func() {
			for i := 0; i < c.u16(marks) && !c.over(); i++ {
				c.spend(1)
				c.anchor(marks + c.u16(marks+2+4*i+2))
			}
		})
		bases := at + c.u16(at+10)
		if kind == 5 {
			c.offsets(bases+2, c.u16(bases), bases, func(l int) {
				c.once('a', l, classes, func() { c.offsets(l+2, mul(c.u16(l), classes), l, c.anchor) })
			})
			return
		}
		c.once('b', bases, classes, func() { c.offsets(bases+2, mul(c.u16(bases), classes), bases, c.anchor) })
	}
}

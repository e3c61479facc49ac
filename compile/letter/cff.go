package letter

// checkCFF runs every glyph's charstring of a CFF table without drawing and counts steps, so
// that subroutines that call each other ten deep, a thousand times each, are met before the
// shaping library runs them. The Compact Font Format and the Type 2 charstrings are Technical Notes 5176 and 5177.
func checkCFF(data []byte) error {
	c := cffCheck{data: data}
	if err := c.read(); err != nil {
		return err
	}
	total := 0
	for i, glyph := range c.glyphs {
		local := c.local[0]
		if c.fd != nil {
			k := c.fd(i)
			if k < 0 || k >= len(c.local) {
				return faulty("glyph %d of its CFF table names a dictionary that is not there", i)
			}
			local = c.local[k]
		}
		run := charstring{global: c.global, local: local}
		run.run(glyph, 0)
		if run.steps > maxCharstringSteps {
			return faulty("glyph %d of its CFF table takes more than %d steps to draw", i, maxCharstringSteps)
		}
		if total += run.steps; total > maxFontPoints*4 {
			return faulty("the glyphs of its CFF table take more than %d steps to draw together", maxFontPoints*4)
		}
	}
	return nil
}

type cffCheck struct {
	data   []byte
	glyphs [][]byte
	global [][]byte
	local  [][][]byte
	fd     func(glyph int) int
}

func (c *cffCheck) read() error {
	bad := faulty("its CFF table is broken")
	if len(c.data) < 4 {
		return bad
	}
	at := int(c.data[2])
	_, at, ok := c.index(at) // names
	if !ok {
		return bad
	}
	tops, at, ok := c.index(at)
	if !ok || len(tops) != 1 {
		return bad
	}
	_, at, ok = c.index(at) // strings
	if !ok {
		return bad
	}
	if c.global, _, ok = c.index(at); !ok {
		return bad
	}
	top := dict(tops[0])
	one := func(d map[int][]int, op int) int {
		if v := d[op]; len(v) > 0 {
			return v[0]
		}
		return 0
	}
	if c.glyphs, _, ok = c.index(one(top, 17)); !ok {
		return bad
	}
	subrs := func(d map[int][]int) ([][]byte, bool) {
		p := d[18] // size and offset of the private dictionary
		if len(p) < 2 {
			return nil, true
		}
		size, from := p[0], p[1]
		if size < 0 || from < 0 || from+size > len(c.data) {
			return nil, false
		}
		by := one(dict(c.data[from:from+size]), 19)
		if by == 0 {
			return nil, true
		}
		list, _, ok := c.index(from + by)
		return list, ok
	}
	if _, cid := top[0x0c1e]; !cid {
		list, ok := subrs(top)
		c.local = [][][]byte{list}
		if !ok {
			return bad
		}
		return nil
	}
	fonts, _, ok := c.index(one(top, 0x0c24))
	if !ok || len(fonts) == 0 || len(fonts) > 256 {
		return bad
	}
	for _, f := range fonts {
		list, ok := subrs(dict(f))
		if !ok {
			return bad
		}
		c.local = append(c.local, list)
	}
	sel := one(top, 0x0c25)
	if sel <= 0 || sel >= len(c.data) {
		return bad
	}
	d := c.data[sel:]
	switch d[0] {
	case 0:
		if len(d) < 1+len(c.glyphs) {
			return bad
		}
		c.fd = func(i int) int { return int(d[1+i]) }
	case 3:
		if len(d) < 5 {
			return bad
		}
		n := int(be.Uint16(d[1:]))
		if n == 0 || len(d) < 3+3*n+2 {
			return bad
		}
		k := 0 // glyphs are asked for in order
		c.fd = func(i int) int {
			for k < n-1 && int(be.Uint16(d[3+3*(k+1):])) <= i {
				k++
			}
			return int(d[3+3*k+2])
		}
	default:
		return bad
	}
	return nil
}

// index reads an INDEX and returns where it ends.
func (c *cffCheck) index(at int) (list [][]byte, end int, ok bool) {
	if at <= 0 || at+2 > len(c.data) {
		return nil, 0, false
	}
	n := int(be.Uint16(c.data[at:]))
	if n == 0 {
		return nil, at + 2, true
	}
	if at+3 > len(c.data) {
		return nil, 0, false
	}
	each := int(c.data[at+2])
	base := at + 3 + each*(n+1)
	if each < 1 || each > 4 || base > len(c.data) {
		return nil, 0, false
	}
	offset := func(i int) int {
		v := 0
		for _, b := range c.data[at+3+each*i : at+3+each*(i+1)] {
			v = v<<8 | int(b)
		}
		return base - 1 + v
	}
	list = make([][]byte, n)
	for i := range list {
		from, to := offset(i), offset(i+1)
		if from < base || to < from || to > len(c.data) {
			return nil, 0, false
		}
		list[i] = c.data[from:to]
	}
	return list, offset(n), true
}

// dict reads the whole numbers of a DICT; two-byte operators are 0x0c00 and the second byte.
func dict(d []byte) map[int][]int {
	out := map[int][]int{}
	var args []int
	for len(d) > 0 {
		b := d[0]
		switch {
		case b == 28 && len(d) >= 3:
			args = append(args, int(int16(be.Uint16(d[1:]))))
			d = d[3:]
		case b == 29 && len(d) >= 5:
			args = append(args, int(int32(be.Uint32(d[1:]))))
			d = d[5:]
		case b == 30: // a real number; none is needed
			d = d[1:]
			for len(d) > 0 && d[0]&15 != 15 && d[0]>>4 != 15 {
				d = d[1:]
			}
			d = d[min(1, len(d)):]
			args = append(args, 0)
		case b >= 32 && b <= 246:
			args = append(args, int(b)-139)
			d = d[1:]
		case b >= 247 && b <= 250 && len(d) >= 2:
			args = append(args, (int(b)-247)*256+int(d[1])+108)
			d = d[2:]
		case b >= 251 && b <= 254 && len(d) >= 2:
			args = append(args, -(int(b)-251)*256-int(d[1])-108)
			d = d[2:]
		default:
			op := int(b)
			d = d[1:]
			if b == 12 && len(d) > 0 {
				op = 0x0c00 | int(d[0])
				d = d[1:]
			}
			out[op], args = args, nil
		}
	}
	return out
}

// charstring walks a Type 2 charstring. Numbers matter only as numbers of subroutines and as
// counts of hints, whose masks follow their operator.
type charstring struct {
	global, local [][]byte
	stack         [48]int
	top, stems    int
	steps         int
}

// run reports whether the caller goes on.
func (c *charstring) run(d []byte, depth int) bool {
	push := func(v int) {
		if c.top < len(c.stack) {
			c.stack[c.top] = v
			c.top++
		}
	}
	for len(d) > 0 {
		if c.steps++; c.steps > maxCharstringSteps {
			return false
		}
		b := d[0]
		d = d[1:]
		need := 0
		switch {
		case b == 28:
			need = 2
		case b == 255:
			need = 4
		case b >= 247:
			need = 1
		}
		if len(d) < need {
			return false
		}
		switch {
		case b == 28:
			push(int(int16(be.Uint16(d))))
		case b == 255:
			push(int(int16(be.Uint16(d))))
		case b >= 251:
			push(-(int(b)-251)*256 - int(d[0]) - 108)
		case b >= 247:
			push((int(b)-247)*256 + int(d[0]) + 108)
		case b >= 32:
			push(int(b) - 139)
		case b == 10 || b == 29:
			list := c.local
			if b == 29 {
				list = c.global
			}
			if c.top == 0 || depth >= maxNesting {
				return false
			}
			c.top--
			k := c.stack[c.top]
			switch n := len(list); {
			case n < 1240:
				k += 107
			case n < 33900:
				k += 1131
			default:
				k += 32768
			}
			if k < 0 || k >= len(list) || !c.run(list[k], depth+1) {
				return false
			}
		case b == 11:
			return true
		case b == 14:
			return false
		case b == 1 || b == 3 || b == 18 || b == 23:
			c.stems += c.top / 2
			c.top = 0
		case b == 19 || b == 20:
			c.stems += c.top / 2
			c.top = 0
			d = d[min((c.stems+7)/8, len(d)):]
		case b == 12:
			d = d[min(1, len(d)):]
			c.top = 0
		default:
			c.top = 0
		}
		d = d[need:]
	}
	return true
}
